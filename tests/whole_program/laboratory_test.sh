#!/usr/bin/env bash
# A laboratory's check gauge, run after run on the virtual bench: in control, then a bench that has moved; the
# table of capabilities; an intercomparison. Usage: laboratory_test.sh TIPWRIGHT SOURCE_DIR
set -euo pipefail
program=$1
source_dir=$2
export TIPWRIGHT_TEMPLATES=$source_dir/templates
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source_dir/tests/support/expect.sh"

for run in 1 2 3 4 5 6; do
  "$program" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check --seed "$run" \
    --out "$work/run$run" >/dev/null 2>"$work/err" || { cat "$work/err"; fail "run $run"; }
done
records=("$work"/run*/record.json)
"$program" laboratory control "${records[@]}" --baseline 5 --out "$work/lab" >"$work/said" || fail "in control: $(cat "$work/said")"
grep -q 'in control' "$work/said" || fail "says: $(cat "$work/said")"
for file in laboratory.json control.csv cmc.csv laboratory.pdf control.svg; do
  [ -s "$work/lab/$file" ] || fail "no $file"
done
qpdf --check "$work/lab/laboratory.pdf" >/dev/null || fail "damaged PDF"
grep -q 'intensity_mm_h,U_percent' "$work/lab/cmc.csv" || fail "no table of capabilities"
expect 2 'set no limits.*at least 5' "$program" laboratory control "${records[@]:0:3}"
expect 2 'neither a file nor a serial number' "$program" laboratory control nothing-like-it --register "$work/none"

# A bench that has moved: its alarm stands however good the run after it, until somebody states what was done.
export TIPWRIGHT_TRIAL_NOW=2026-12-20T08:00:00Z HOME=$work TIPWRIGHT_SETTINGS=
sed -e '/^station = /d' "$source_dir/templates/gauges/demo-bucket-200-twin.toml" >"$work/moved.toml"
printf '\n[virtual]\nvolume_excess_percent = -9\n' >>"$work/moved.toml"
measure() { # measure NAME DAY GAUGE SEED
  "$program" calibrate --bench virtual-bench --gauge "$3" --plan three-point-check --seed "$4" --started-at "$2T08:00:00Z" \
    --out "$work/$1" >/dev/null 2>"$work/err" || { cat "$work/err"; fail "$1"; }
}
for day in 01 02 03 04 05 06 07 08 09 10; do measure "day$day" "2026-12-$day" demo-bucket-200-twin "${day#0}"; done
measure day11 2026-12-11 "$work/moved.toml" 11
measure day12 2026-12-12 demo-bucket-200-twin 12
measure day13 2026-12-14 demo-bucket-200-twin 13
days=("$work"/day??/record.json)
standing='since run 11 of .*until a person states what was done'
for last in 11 12; do
  got=0
  "$program" laboratory control "${days[@]:0:$last}" --out "$work/alarm$last" >"$work/said" || got=$?
  [ "$got" = 5 ] || fail "$last runs, the eleventh of a moved bench: exit code $got: $(cat "$work/said")"
  grep -q "$standing" "$work/said" || fail "$last runs: says $(cat "$work/said")"
done
python3 -c 'import json, sys
a = json.load(open(sys.argv[1]))
assert a["alarm"] == {"run": 11, "ended_at": a["runs"][10]["ended_at"], "answered": False} and not a["in_control"]' \
  "$work/alarm12/laboratory.json" || fail "the alarm in laboratory.json"
pdftotext "$work/alarm12/laboratory.pdf" - | tr '\n' ' ' >"$work/paper"
grep -q 'It stands since run 11 of' "$work/paper" || fail "laboratory.pdf does not tell that the alarm stands"
got=0
"$program" laboratory control "${days[@]:0:11}" --done "2026-12-11 balance levelled again" >"$work/said" || got=$?
{ [ "$got" = 5 ] && grep -q 'No run has shown yet' "$work/said"; } || fail "stated, and no run since: $got: $(cat "$work/said")"
"$program" laboratory control --done "2026-12-11 balance levelled again" "${days[@]:0:12}" --language de --out "$work/well" >"$work/said" ||
  fail "stated, and a good run: $(cat "$work/said")"
grep -q 'done 2026-12-11  balance levelled again' "$work/said" || fail "what was done is not told: $(cat "$work/said")"
pdftotext "$work/well/laboratory.pdf" "$work/paper"
grep -q 'balance levelled again' "$work/paper" || fail "laboratory.pdf does not tell what was done"
expect 2 'not a date up to today' "$program" laboratory control "${days[@]:0:12}" --done "2027-01-01 levelled"
expect 2 'not a date up to today' "$program" laboratory control "${days[@]:0:12}" --done "levelled"

# The same of a register: no certificate goes out before a finding of the check gauge says so and a run follows.
export TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys
umask 077
printf 'a long passphrase\n' >"$work/passphrase"
alice=(--person "A. Signatory")
{
  "$program" register create "${alice[@]}"
  "$program" register person add "C. Checker" --may-check true "${alice[@]}"
  "$program" keys make --passphrase-file "$work/passphrase"
  for day in 01 02 03 04 05 06 07 08 09 10 11 12; do "$program" certificate draft "$work/day$day/record.json" "${alice[@]}"; done
  "$program" certificate check 1 --person "C. Checker"
} >"$work/said" 2>&1 || fail "a register: $(cat "$work/said")"
issue=("$program" certificate issue 1 --check-gauge INV-200-0002 --passphrase-file "$work/passphrase" "${alice[@]}")
expect 6 'out of control since its run of 2026-12-11, and nobody has stated what was done' "${issue[@]}"
# The page tells it where certificates and runs begin, in each language, and offers no issue; all the time as it stands.
mkdir "$work/no-runs"
"$program" --json page "$work/no-runs" --port 0 --check-gauge INV-200-0002 >"$work/page.json" &
page=$!
trap 'kill "$page" 2>/dev/null || true; rm -rf "$work"' EXIT
until [ -s "$work/page.json" ]; do kill -0 "$page" || fail "no page"; done
url=$(python3 -c 'import json, sys; print(json.loads(open(sys.argv[1]).readline())["url"])' "$work/page.json")
tells() { # tells PATH LANGUAGE: the sentence about the check gauge
  python3 -c 'import sys, urllib.request as u
print(u.urlopen(u.Request(sys.argv[1] + sys.argv[2], headers={"Accept-Language": sys.argv[3]})).read().decode())' \
    "$url" "$1" "$2" | grep -A1 'class="control"'
}
for screen in gauge-on certificates certificates/draft/1; do
  tells "$screen" en | grep -q 'CHECK GAUGE OUT OF CONTROL: INV-200-0002, since its run of 2026-12-11' || fail "$screen: no alarm"
done
tells certificates de | grep -q 'PRÜFGERÄT NICHT BEHERRSCHT: INV-200-0002, seit seinem Lauf vom 2026-12-11' || fail "de: no alarm"
tells certificates fr | grep -q 'HORS CONTRÔLE : INV-200-0002, depuis son essai du 2026-12-11' || fail "fr: no alarm"
tells certificates es | grep -q 'FUERA DE CONTROL: INV-200-0002, desde su prueba del 2026-12-11' || fail "es: no alarm"
"$program" register service open INV-200-0002 --on 2026-12-13 "${alice[@]}" >/dev/null
"$program" register service finding INV-200-0002 --on 2026-12-13 --found "balance tilted" --done "levelled again" "${alice[@]}" >/dev/null
"$program" laboratory control INV-200-0002 >"$work/said" || true
grep -q 'done 2026-12-13  balance tilted; levelled again' "$work/said" || fail "the finding is not told: $(cat "$work/said")"
tells certificates en | grep -q 'no run has shown yet that it helped' || fail "the page does not tell what is still missing"
"$program" certificate draft "$work/day13/record.json" "${alice[@]}" >/dev/null
! tells certificates en || fail "the page tells of an alarm that is over"
kill "$page"
"${issue[@]}" >"$work/said" 2>&1 || fail "in control again: $(cat "$work/said")"

# A record that was changed in the register itself is computed from by nobody.
python3 - "$work/register" <<'P' || fail "changing the register"
import base64, hashlib, json, os, sqlite3, sys
base = sqlite3.connect(sys.argv[1] + "/register.sqlite")
guards = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'records'").fetchall()
for name, _ in guards:
    base.execute("DROP TRIGGER " + name)
old = base64.b64decode(base.execute("SELECT sha256 FROM records WHERE id = 1").fetchone()[0]).hex()
record = json.load(open("%s/documents/%s/%s" % (sys.argv[1], old[:2], old)))
record["evaluation"]["model"]["candidates"][0]["parameters"][0]["value"] *= 1.1
text = json.dumps(record).encode()
new = hashlib.sha256(text)
folder = "%s/documents/%s" % (sys.argv[1], new.hexdigest()[:2])
os.makedirs(folder, exist_ok=True)
open(folder + "/" + new.hexdigest(), "wb").write(text)
base.execute("UPDATE records SET sha256 = ? WHERE id = 1", (base64.b64encode(new.digest()).decode(),))
for _, sql in guards:
    base.execute(sql)
base.commit()
P
changed='record 1 of the register, .*: its results do not follow from its own observations: \$\.evaluation\.model'
"$program" virtual-rain --gauge demo-bucket-200-twin --seed 3 --days 5 --out "$work/tips.csv" >/dev/null
expect 2 "$changed" "$program" laboratory control INV-200-0002
expect 2 "$changed" "$program" rain "$work/tips.csv" --certificate INV-200-0002 --out "$work/x"
expect 2 "$changed" "$program" trial --from-register --out "$work/x"
[ ! -e "$work/x" ] || fail "a changed record left something"
unset TIPWRIGHT_REGISTER TIPWRIGHT_KEYS

cat >"$work/table.csv" <<'T'
# invented
at,participant,value,U,k
50 mm/h,reference,-2.00,0.30,2
50 mm/h,A,-2.20,0.40,2
50 mm/h,B,-3.10,0.50,2
100 mm/h,A,-4.10,0.40,2
100 mm/h,B,-4.30,0.50,2
100 mm/h,C,-4.20,,
T
"$program" laboratory intercomparison "$work/table.csv" --out "$work/ilc" >"$work/said" || fail "intercomparison"
# (-3.10 + 2.00)/sqrt(0.5^2 + 0.3^2) = -1.886, (-2.20 + 2.00)/0.5 = -0.4.
grep -q 'B .*E_n  -1\.89.*does not agree' "$work/said" || fail "says: $(cat "$work/said")"
grep -q 'A .*E_n  -0\.40.*agrees' "$work/said" || fail "says: $(cat "$work/said")"
grep -q 'consensus -4\.20 ± 0\.16' "$work/said" || fail "says: $(cat "$work/said")"
qpdf --check "$work/ilc/intercomparison.pdf" >/dev/null || fail "damaged PDF"
printf 'participant,value\nA,1\nA,2\n' >"$work/twice.csv"
expect 2 'twice.csv:3.*stands there twice' "$program" laboratory intercomparison "$work/twice.csv"
printf 'participant,value\nA,1\nB,x\n' >"$work/word.csv"
expect 2 'word.csv:3.*is no number' "$program" laboratory intercomparison "$work/word.csv"
exit "$((failures > 0))"
