#!/usr/bin/env bash
# A workshop's settings: what they give to commands, what goes before them, what is said of a bad one; a gauge from its
# serial alone, from the register to the draft. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
. "$2/tests/support/expect.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
unset TIPWRIGHT_REGISTER TIPWRIGHT_PERSON TIPWRIGHT_KEYS TIPWRIGHT_WORK
export TIPWRIGHT_SETTINGS=$work/settings.toml TIPWRIGHT_TRIAL_NOW=2031-05-04T10:11:12Z HOME=$work
fail() { echo "FAILED: $*" >&2; exit 1; }

cat >settings.toml <<'TOML'
version = "1.0"
bench = "virtual-bench"
plan_as_found = "three-point-check"
work = "runs"
register = "~/register"
person = "A. Signatory"
TOML
"$tipwright" settings | grep -q "^person  *A. Signatory  *$work/settings.toml:6" || fail "settings does not say where a value comes from"
TIPWRIGHT_PERSON="B. Other" "$tipwright" settings | grep -q "^person  *B. Other  *TIPWRIGHT_PERSON" || fail "the environment does not go first"
"$tipwright" settings --json | python3 -c '
import json, re, sys
keys = {row["setting"] for row in json.load(sys.stdin)}
told = set(re.findall(r"^\| `(\w+)`", open(sys.argv[1]).read(), re.M))
kept = set(re.findall(r"^(\w+) = ", open(sys.argv[2]).read(), re.M)) - {"version"}
assert keys == told, keys ^ told
assert keys == kept, keys ^ kept' "$2/templates/settings.md" "$2/fixtures/ages/1.0/settings.toml" || fail "the page on the settings or the fixture lacks a key"
"$tipwright" register create >/dev/null
[ -d "$work/register" ] || fail "~ is not the home folder"
"$tipwright" next INV-200-0003 | grep -q "register gauge add INV-200-0003 --from demo-siphon-200$" || fail "next does not send an unknown gauge to the register"
"$tipwright" register gauge add INV-200-0003 --from demo-siphon-200 >/dev/null
"$tipwright" register service open INV-200-0003 >/dev/null
"$tipwright" next INV-200-0003 | grep -q "calibrate INV-200-0003" || fail "next does not send to the bench"
"$tipwright" calibrate INV-200-0003 >/dev/null
found=runs/INV-200-0003/2026-11-02-found
[ -f "$found/record.json" ] || fail "no record in $found"
grep -q '"serial": "INV-200-0003"' "$found/record.json" || fail "the record has another serial"
"$tipwright" next INV-200-0003 | grep -q "certificate draft INV-200-0003\|adjust INV-200-0003" || fail "next does not go on after the run"
"$tipwright" next INV-200-0003 | grep -q "$work\|record.json" && fail "next names a path where the settings give the folder"
"$tipwright" verify "$found" >/dev/null || fail "verify takes the workshop's register for one to be checked"
"$tipwright" complete life INV | grep -qx "INV-200-0003" || fail "completion does not know the settings' register"
"$tipwright" calibrate INV-200-0003 2>again.txt >/dev/null && [ -d "$found-2" ] || fail "a second run of the day has no folder of its own"
# How times and intensities are shown; files stay in UTC and mm/h.
"$tipwright" register log --last 1 | grep -q "2031-05-04T10:11:12Z" || fail "without a zone moments are not in UTC"
printf 'display_zone = "Europe/Vienna"\ndisplay_units = "in/h"\n' >>settings.toml
"$tipwright" settings | grep -q "^display_zone  *Europe/Vienna  *$work/settings.toml:7" || fail "settings does not show the zone"
"$tipwright" register log --last 1 --json | grep -q "2031-05-04T10:11:12Z" || fail "JSON is not in UTC"
"$tipwright" register log --last 1 | grep -q "2031-05-04 12:11:12 CEST" || fail "the settings' zone is not shown: $("$tipwright" register log --last 1)"
TIPWRIGHT_DISPLAY_ZONE=+05:30 "$tipwright" register log --last 1 | grep -q "15:41:12 UTC+05:30" || fail "the environment's zone does not go first"
"$tipwright" register log --last 1 --display-zone America/New_York | grep -q "06:11:12 EDT" || fail "the option's zone does not go first"
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 100 --poured-mL 640 --duration-s 1800 | grep -q "Mean intensity  *40.7 mm/h (1.60[0-9] in/h)" || fail "no in/h beside mm/h"
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 100 --poured-mL 640 --duration-s 1800 --display-units mm/h | grep -q "in/h" && fail "in/h though mm/h alone was asked for"
sed -i '/display_/d' settings.toml
"$tipwright" certificate draft INV-200-0003 | grep -q "$found-2" || fail "draft does not take the newest run"
"$tipwright" next INV-200-0003 | grep -q "know.* nobody else who may" || fail "next does not say that nobody may check"
"$tipwright" next INV-200-0003 | grep -q "^Next: tipwright register person add NAME --may-check true$" || fail "next does not ask for a second person"
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" next INV-200-0003 | grep -q "^Next: tipwright certificate check 1 --person 'C. Checker'$" || fail "next does not name who may check: $("$tipwright" next INV-200-0003)"
TIPWRIGHT_PERSON="C. Checker" "$tipwright" next INV-200-0003 | grep -q "^Next: tipwright certificate check 1$" || fail "next names who works anyway"
"$tipwright" certificate check 1 --person "C. Checker" >/dev/null
"$tipwright" next INV-200-0003 | grep -q "^Next: tipwright keys make$" || fail "next does not say that keys come before an issue"
code=0
"$tipwright" certificate issue 1 >/dev/null 2>err.txt </dev/null || code=$?
[ "$code" = 2 ] && grep -q "make them with 'tipwright keys make'" err.txt || fail "issue without keys: $(cat err.txt)"
TIPWRIGHT_PERSON="C. Checker" "$tipwright" next 4712 | grep -q "^Next: tipwright register gauge add 4712 --from FILE$" || fail "next does not say what is to be given: $("$tipwright" next 4712)"
sed 's/INV-200-0003/4712/' "$2/templates/gauges/demo-siphon-200.toml" >4712.toml
"$tipwright" next 4712 | grep -q "^Next: tipwright register gauge add 4712 --from 4712.toml$" || fail "next does not find the gauge's file"
rm 4712.toml
cp settings.toml whole.toml
sed -i '/^bench\|^plan/d' settings.toml
sed 's/INV-200-0003/4713/' "$2/templates/gauges/demo-siphon-200.toml" >other.toml
"$tipwright" register gauge add 4713 --from other.toml >/dev/null
"$tipwright" next 4713 | grep -q "^Next: tipwright calibrate 4713 --bench FILE --plan FILE$" || fail "next does not say what calibrate needs"
mv whole.toml settings.toml

refused() { # WORDS COMMAND...
  local words=$1 code=0
  shift
  "$@" >out.txt 2>err.txt || code=$?
  [ "$code" = 2 ] || fail "$* ended with $code"
  [ "$(wc -l <err.txt)" = 1 ] && grep -qF -- "$words" err.txt || fail "$* said: $(cat err.txt)"
}
refused "plan_as_left" "$tipwright" calibrate INV-200-0003 --as-left
refused "--gauge" "$tipwright" calibrate
printf 'benhc = "virtual-bench"\n' >settings.toml
refused "did you mean bench?" "$tipwright" list
printf 'bench = "virtual-bench"\nletter_head = "ours.toml"\n' >settings.toml
refused "did you mean letterhead?" "$tipwright" list
printf 'colour = "blue"\n' >settings.toml
refused "'tipwright settings' shows every key" "$tipwright" list
printf 'version = "2.0"\n' >settings.toml
refused "2.0" "$tipwright" list
printf 'paper = "A5"\n' >settings.toml
refused "settings.toml:1" "$tipwright" list
printf 'display_zone = "Middle/Earth"\n' >settings.toml
refused "no time zone \"Middle/Earth\"" "$tipwright" list
printf 'display_units = "furlongs"\n' >settings.toml
refused "settings.toml:1" "$tipwright" list
TIPWRIGHT_SETTINGS=$work/none.toml refused "none.toml" "$tipwright" list
TIPWRIGHT_SETTINGS= "$tipwright" list >/dev/null || fail "without settings nothing works"
echo "settings hold"
