#!/usr/bin/env bash
# What a released version wrote, given to the program of today: evaluated, certified, verified, compared, issued again,
# replaced ten years later. One line for each: "ok WHAT" or "failed WHAT: why". The last line counts them.
# Usage: tests/ages/check.sh PROGRAM FOLDER
set -uo pipefail
program=$(realpath "$1")
age=$(mktemp -d)
log=$(mktemp)
trap 'rm -rf "$age" "$log"' EXIT
umask 077
cp -r "$2/." "$age"
chmod -R go-rwx "$age"
cd "$age" || exit 1
export HOME=$age TIPWRIGHT_REGISTER=$age/register TIPWRIGHT_KEYS=$age/keys TIPWRIGHT_PERSON="A. Signatory"
unset TIPWRIGHT_TEMPLATES
# Ten years after the first release.
export TIPWRIGHT_TRIAL_NOW=2036-11-28T12:00:00Z
secret=(--passphrase-file passphrase)
number=$(cat number) serial=$(cat serial)
good=0 all=0
# does WHAT COMMAND...: it must succeed.
does() {
  local what=$1
  shift
  all=$((all + 1))
  if "$@" >"$log" 2>&1; then
    good=$((good + 1))
    echo "ok $what"
  else
    echo "failed $what: $(grep -m1 -E 'tipwright:|WRONG' "$log" || tail -n1 "$log")"
  fi
}
# refused WHAT VERSION COMMAND...: refused in one line that names the program it needs.
refused() {
  local what=$1 needs=$2
  shift 2
  all=$((all + 1))
  if "$@" >/dev/null 2>"$log"; then
    echo "failed $what of a later version: was read"
  elif [ "$(wc -l <"$log")" = 1 ] && grep -q "it needs tipwright $needs or later" "$log"; then
    good=$((good + 1))
    echo "ok $what of a later version is refused"
  else
    echo "failed $what of a later version: $(head -n1 "$log")"
  fi
}
for state in found left; do
  does "evaluate $state/journal.twj" "$program" evaluate "$state/journal.twj" --out "again-$state"
  does "certify $state/record.json" "$program" certify "$state/record.json" --out "again-$state.pdf"
  does "verify $state" "$program" verify "$state"
done
# Numbers, to the last figure; heads say more from 1.1 on.
does "compare journal's results" sh -c 'grep -v "^#" found/correction.csv >numbers && grep -v "^#" again-found/correction.csv | cmp - numbers'
does "evaluate supplied.csv" "$program" evaluate supplied.csv --out again-supplied
does "verify supplied" "$program" verify supplied
does "compare" "$program" compare found/record.json left/certificate.pdf
does "adjust" "$program" adjust found/record.json --per-turn 0.3 --per-turn-u 0.03
does "verify issued" "$program" verify --public-keys public-keys.txt issued
does "verify station.zip" "$program" verify --public-keys public-keys.txt station.zip
does "verify square code" sh -c '"$1" verify --public-keys public-keys.txt - <square-code.txt' sh "$program"
does "descriptions" sh -c '"$1" --templates templates list >list && ! grep "cannot be used" list' sh "$program"
for file in templates/gauges/*.toml templates/gauge_kinds/*.toml; do
  does "description ${file#templates/}" "$program" calibrate --bench templates/benches/virtual-bench.toml --gauge "$file" \
    --plan templates/plans/three-point-check.toml --out "run-$(basename "$file" .toml)"
done
does "traffic and profile" "$program" listen --link "replay virtual-balance-print.traffic" \
  --profile templates/instruments/generic-balance-print.toml --ask identify --ask tare --for 30
# Every line of it is a setting still, and means what it says.
settings_hold() {
  local key value
  while IFS='=' read -r key value; do
    key=${key// /} value=${value# } value=${value//\"/}
    [ "$key" = version ] && continue
    [ "$key" = bench ] && value=$age/$value
    TIPWRIGHT_SETTINGS=$age/settings.toml env -u TIPWRIGHT_REGISTER -u TIPWRIGHT_KEYS -u TIPWRIGHT_PERSON "$program" settings |
      grep -qE "^$key +${value/#\~/$age} +$age/settings.toml:" || { echo "tipwright: $key is not ${value/#\~/$age}"; return 1; }
  done <settings.toml
}
does "settings" settings_hold

does "register" "$program" certificate list
does "life" "$program" life "$serial"
does "register check" "$program" register check
does "keys" "$program" keys list
does "restore" env TIPWRIGHT_REGISTER="$age/restored" "$program" register restore backup
does "restored" env TIPWRIGHT_REGISTER="$age/restored" "$program" life "$serial"
does "export" "$program" certificate export "$number" --out exported
does "the same document again" cmp "exported/$number/certificate.pdf" "issued/$number/certificate.pdf"
does "gauge of another old record" "$program" register gauge add INV-200-0031 --model "Demo bucket 200" --kind bucket-200-twin --nominal-tip-mm 0.2 --catch-diameter-mm 200.05
does "draft of another old record" "$program" certificate draft supplied/record.json --source supplied.csv --reason "of another laboratory"
does "replace after ten years" "$program" certificate replace "$number" --reason "station was named wrongly" --correct "station=Lower Field"
# From 1.1 on an evaluation of supplied data names who issues it: 1.0 took who had measured.
printf 'laboratory = "Issuing House (invented)"\n' >head.toml
for draft in 2 3; do
  does "check $draft" "$program" certificate check "$draft" --person "C. Checker"
  does "issue $draft" "$program" certificate issue "$draft" "${secret[@]}" --letterhead head.toml
done
new=$("$program" certificate list | grep -o 'B1-2036-[0-9]*' | sort | tail -n1)
does "pack" "$program" pack "$new" --out new.zip
does "verify what was issued anew" "$program" verify new.zip
does "verify the old pack still" "$program" verify --public-keys public-keys.txt station.zip

later=7.3
sed "1s/ [0-9.]*$/ $later/" found/journal.twj >later.twj
refused journal $later "$program" evaluate later.twj --out later-journal
sed "s/\"version\": \"[0-9.]*\"/\"version\": \"$later\"/" found/record.json >later.json
refused record $later "$program" certify later.json --out later.pdf
sed "1s/ [0-9.]*$/ $later/" public-keys.txt >later-keys.txt
refused "list of public keys" $later "$program" verify --public-keys later-keys.txt station.zip
cp -r keys later-keys
for key in $(grep -lr "tipwright secret key" later-keys); do sed -i "1s/ [0-9.]*$/ $later/" "$key"; done
refused "secret key" $later "$program" keys passphrase --keys later-keys "${secret[@]}" --new-passphrase-file passphrase
# As a later program leaves it: a further schema, and which program brought it.
cp -r register later-register
python3 - later-register/register.sqlite $later <<'PY'
import sqlite3, sys
with sqlite3.connect(sys.argv[1]) as base:
    if "needs" not in [column[1] for column in base.execute("PRAGMA table_info(schema_versions)")]:
        base.execute("ALTER TABLE schema_versions ADD COLUMN needs TEXT")
    base.execute("INSERT INTO schema_versions (version, checksum, needs) VALUES (99, 'later', ?)", [sys.argv[2]])
PY
refused "register" $later env TIPWRIGHT_REGISTER="$age/later-register" "$program" certificate list
cp -r backup later-backup
python3 - later-backup/*/backup.txt $later <<'PY'
import hashlib, re, sys
text = open(sys.argv[1]).read()
text = re.sub(r"^(tipwright register backup ).*", r"\g<1>" + sys.argv[2], text[:text.rfind("end ")])
open(sys.argv[1], "w").write(text + "end " + hashlib.sha256(text.encode()).hexdigest() + "\n")
PY
refused "backup of a register" $later env TIPWRIGHT_REGISTER="$age/not-there" "$program" register restore later-backup
sed "s/SEAL [0-9.]* /SEAL $later /" square-code.txt >later-code.txt
# verify says it among its findings.
refused "seal" $later sh -c '! "$1" verify --public-keys public-keys.txt - <later-code.txt | grep -m1 WRONG >&2' sh "$program"
sed "1i version = \"$later\"" templates/plans/three-point-check.toml >later-plan.toml
refused "plan" $later "$program" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan later-plan.toml --out later-run
sed "1i version = \"$later\"" templates/instruments/generic-balance-print.toml >later-profile.toml
refused "profile" $later "$program" listen --link "replay virtual-balance-print.traffic" --profile later-profile.toml
echo "$good of $all"
[ "$good" = "$all" ]
