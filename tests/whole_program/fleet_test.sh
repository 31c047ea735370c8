#!/usr/bin/env bash
# A fleet that others calibrated, and checks in the field: imported from lists, due, in the life of each gauge and marked
# there; a page for a check; a recount where a result cannot well be. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source/tests/support/expect.sh"
cd "$work"
unset TIPWRIGHT_KEYS TIPWRIGHT_WORK
export TIPWRIGHT_SETTINGS= TIPWRIGHT_TRIAL_NOW=2026-11-28T10:00:00Z HOME=$work
export TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_PERSON="A. Signatory"
holds() { # WORDS FILE
  grep -qE -- "$1" "$2" || fail "no /$1/ in $2: $(head -c 1500 "$2")"
}
flat() { tr -s '\n ' '  ' | tr -s ' '; } # what a narrow page wraps, in one line
lacks() { ! grep -qE -- "$1" "$2" || fail "/$1/ in $2: $(grep -E -- "$1" "$2" | head -n 3)"; }

"$tipwright" register create >/dev/null
cat >gauges.csv <<'CSV'
serial,model,kind,customer,interval_months,interval_agreed
4711,Example TB-200,bucket-200-twin,Imaginary Weather Network,24,contract 7
4712,Example TB-200,bucket-200-twin,Imaginary Weather Network,24,contract 7
CSV
cat >elsewhere.csv <<'CSV'
serial;calibrated_on;certificate;laboratory;intensity_mm_h;error_percent;U_percent
4711;2025-02-03;INV-77;Invented Laboratory East;20;+0,80;0,60
4711;2025-02-03;INV-77;Invented Laboratory East;100;-2,40;0,50
4711;2023-02-01;INV-33;Invented Laboratory East;20;0,3;0,6
4711;2023-02-01;INV-33;Invented Laboratory East;100;-1,9;0,5
CSV
"$tipwright" register gauge import gauges.csv >/dev/null
"$tipwright" register log --last 1 >before
# One bad line: each is named with file and line, nothing enters, nothing is logged.
sed 's/INV-33;Invented Laboratory East;100;-1,9;0,5/INV-33;Invented Laboratory East;100;-1,9;none/' elsewhere.csv >bad.csv
printf '4799;2025-01-01;INV-1;;;;\n' >>bad.csv
code=0
"$tipwright" register gauge import-calibrations bad.csv >out 2>err || code=$?
[ "$code" = 2 ] || fail "a bad list ends with $code"
[ "$(wc -l <err)" = 2 ] || fail "not a line for each bad line: $(cat err)"
holds '^tipwright: bad.csv:5:.*"none" is not a number' err
holds '^tipwright: bad.csv:6:.*no gauge "4799"' err
"$tipwright" register log --last 1 >after
cmp -s before after || fail "a refused list left a trace: $(cat after)"
"$tipwright" life 4711 >life
lacks 'INV-' life

"$tipwright" register gauge import-calibrations elsewhere.csv >said
holds '2 calibrations made elsewhere entered, 0 changed, 0 as they were' said
"$tipwright" register gauge import-calibrations elsewhere.csv >said
holds '0 calibrations made elsewhere entered, 0 changed, 2 as they were' said
"$tipwright" ask due --from 2027-02 --to 2027-02 >due
holds '2027-02-03 +4711 .*2025-02-03 +elsewhere' due
holds 'never calibrated +4712' due
"$tipwright" register gauge list >listed
holds '4711.*2027-02-03 +elsewhere' listed
"$tipwright" register log >log
holds 'enter +calibration elsewhere' log
"$tipwright" ask drift --percent 0 >drift
lacks '4711' drift
"$tipwright" life 4711 --svg curves >life
expect 2 'curves.svg: there is something already' "$tipwright" life 4711 --svg curves
flat <life >line
holds '2025-02-03 calibrated elsewhere: certificate INV-77 by Invented Laboratory East; 20.0 mm/h: \+0.80 % ± 0.60 %, 100.0 mm/h: -2.40 % ± 0.50 %' line
[ "$(grep -n 'INV-33' life | cut -d: -f1 | head -1)" -lt "$(grep -n 'INV-77' life | cut -d: -f1 | head -1)" ] || fail "not in order of time: $(cat life)"
holds 'elsewhere, INV-77' curves/curves.svg
"$tipwright" life 4711 --json | python3 -c '
import json, sys
[gauge] = json.load(sys.stdin)
newest = gauge["calibrated_elsewhere"][-1]
assert newest["certificate"] == "INV-77" and newest["laboratory"] == "Invented Laboratory East"
assert [p["intensity_mm_h"] for p in newest["results"]] == [20, 100] and newest["results"][1]["error_percent"] == -2.4
assert all(e["certificate"] is None for e in gauge["events"])' || fail "life for machines"
expect 2 'no valid certificate' "$tipwright" label 4711 --out label.pdf

# A check in the field.
"$tipwright" field-check 4711 --tips 100 --poured-mL 640 --duration-s 1800 --limit 5 --on 2026-11-20 --out check.pdf >said
holds 'Entered into the history of gauge 4711' said
holds 'within ±5' said
"$tipwright" life 4711 >life
flat <life >line
holds '2026-11-20 field check: poured, 100 tips, error -1.3 % ± 0.7 %, pass against ±5.0 %; by A. Signatory' line
[ "$(grep -n 'INV-77' life | cut -d: -f1 | head -1)" -lt "$(grep -n 'field check' life | cut -d: -f1)" ] || fail "the check is not in order of time: $(cat life)"
"$tipwright" ask due >due
holds '2027-02-03 +4711' due
pdftotext -layout check.pdf check.txt
holds 'Field check of a rain gauge' check.txt
holds 'no calibration certificate' check.txt
holds '4711' check.txt
holds 'Within ±5 %' check.txt
holds 'DEMONSTRATION' check.txt
# At the real time it is the gauge that is invented, or not.
(
  unset TIPWRIGHT_TRIAL_NOW
  export TIPWRIGHT_REGISTER=$work/today
  "$tipwright" register create >/dev/null
  "$tipwright" register gauge add INV-200-0003 --from demo-siphon-200 >/dev/null
  "$tipwright" register gauge add 4711 --kind bucket-200-twin --model "Example TB-200" >/dev/null
  for serial in INV-200-0003 4711; do
    "$tipwright" field-check $serial --tips 100 --poured-mL 640 --out today-$serial.pdf >/dev/null
    pdftotext today-$serial.pdf today-$serial.txt
  done
)
holds 'DEMONSTRATION' today-INV-200-0003.txt
lacks 'DEMONSTRATION' today-4711.txt
# A check whose page cannot be written is not entered.
"$tipwright" life 4711 >before
expect 2 'said/check.pdf' "$tipwright" field-check 4711 --tips 100 --poured-mL 640 --out said/check.pdf
"$tipwright" life 4711 | cmp - before || fail "entered without its page"
expect 2 'something already' "$tipwright" field-check 4711 --tips 100 --poured-mL 640 --out check.pdf
# Nor does one that is not entered touch the page that is there.
cp check.pdf kept.pdf
"$tipwright" field-check 4711 --tips 100 --poured-mL 640 --on 2029-01-01 --out check.pdf --force 2>/dev/null && fail "a check of a day to come"
cmp check.pdf kept.pdf || fail "a refused check took the page of another with it"
[ ! -e check.pdf.part ] || fail "a refused check left half a page"
! compgen -G 'check.pdf.*' >/dev/null || fail "a refused check left something beside the page"
# Half a tip that the count does not hold is told, and what belongs to another way of checking is not ignored.
holds 'Note: the count did not end on a tip: 0.5 tips were added' said
flat <check.txt >line
holds 'did not end on a tip: 0.5 tips were added' line
expect 2 '--logged-mm.*--poured-mL|--poured-mL.*--logged-mm' "$tipwright" field-check 4711 --tips 100 --poured-mL 640 --logged-mm 20 --out logged.pdf
for language in de fr es; do
  "$tipwright" field-check 4712 --tips 99 --poured-mL 640 --limit 0.5 --language $language --out $language.pdf >/dev/null
  pdftotext $language.pdf $language.txt
done
holds 'Feldprüfung eines Regenmessers' de.txt
holds 'Contrôle sur site' fr.txt
holds 'Control en campo' es.txt
flat <de.txt >line
holds 'zu grob für ihre Grenzen' line
qpdf --check check.pdf >/dev/null || fail "the page is no good PDF"

# What cannot well be is counted again, or kept for a reason.
expect 2 'field-check|--tips: 10 tips make an error of -90 %, where about 101 would fit the water; count again, or keep it with --reason' \
  "$tipwright" field-check 4711 --tips 10 --poured-mL 640 </dev/null
expect 2 'as if every second one was missed' "$tipwright" field-check 4711 --tips 50 --poured-mL 640 </dev/null
"$tipwright" life 4711 >life
[ "$(grep -c 'field check' life)" = 1 ] || fail "a refused check entered: $(cat life)"
"$tipwright" field-check 4711 --tips 10 --poured-mL 640 --reason "funnel was blocked; seen" --out blocked.pdf >said
holds 'kept because: funnel was blocked; seen' said
"$tipwright" life 4711 >life
flat <life >line
holds 'kept because: funnel was blocked; seen' line
pdftotext blocked.pdf blocked.txt
holds 'kept because' blocked.txt
# At a terminal it asks; the recount is what counts.
python3 - "$tipwright" >asked <<'PY' || fail "at a terminal: $(cat asked)"
import os, pty, sys
pid, fd = pty.fork()
if pid == 0:
    os.execv(sys.argv[1], [sys.argv[1], "field-check", "4712", "--tips", "10", "--poured-mL", "640"])
said = b""
answered = False
while True:
    try:
        piece = os.read(fd, 4096)
    except OSError:
        break
    if not piece:
        break
    said += piece
    if b"Number of tips, or Enter alone" in said and not answered:
        os.write(fd, b"101\n")
        answered = True
print(said.decode())
_, status = os.waitpid(pid, 0)
assert answered and os.waitstatus_to_exitcode(status) == 0, said
assert b"101 tips" in said and b"Entered into the history" in said, said
PY
"$tipwright" register check >/dev/null || fail "the register does not hold together"

[ "$failures" = 0 ] || exit 1
echo "the fleet holds"
