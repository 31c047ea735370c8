#!/usr/bin/env bash
# bench-check, pump-calibration and balance-check of the shipped program: in lockstep and on a bench that another
# process serves; what they find is kept, used, and refused. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
does() {
  timeout 120 "$tipwright" "$@" >"$work/log" 2>&1 || failed "$*"
}
gauge=(--gauge demo-bucket-200-twin)
cp "$source/templates/benches/virtual-bench.toml" "$work/bench.toml"
bench=(--bench "$work/bench.toml")

# Lockstep. Every row of the check is good; the last two are only told.
does bench-check "${bench[@]}" "${gauge[@]}" --json
python3 - "$work/log" <<'PY'
import json, sys
text = open(sys.argv[1]).read()
rows = json.loads(text[text.index('{'):])['checks']
def row(instrument, check):
    return [r for r in rows if r['instrument'] == instrument and r['check'] == check][0]
assert row('balance', 'noise')['verdict'] == 'ok'
assert row('pump', 'delivers')['verdict'] == 'ok'
assert row('contact 1', 'moved by water')['verdict'] == 'ok'
assert row('contact 2', 'moved by water')['verdict'] == 'ok'
assert row('counter', 'says it is')['found'] == 'virtual-counter 1'
assert row('pump', 'last calibration')['found'] == 'none'
PY
# Its page says what remains to the person, in each language; one that is there is not written over.
for pair in "en=IT RUNS ON" "de=LÄUFT SIE WEITER" "fr=ELLE CONTINUE" "es=SIGUE BOMBEANDO"; do
  does bench-check "${bench[@]}" "${gauge[@]}" --watch 5 --out "$work/${pair%%=*}.pdf" --language "${pair%%=*}" --by "C. Checker"
  pdftotext "$work/${pair%%=*}.pdf" - | tr '\n' ' ' >"$work/page"
  grep -q "${pair#*=}" "$work/page" || failed "the page does not say that the pump runs on: ${pair%%=*}"
  grep -q 'C\. Checker' "$work/page" || failed "the page does not say who checked"
done
pdftotext "$work/en.pdf" - | tr '\n' ' ' | grep -q 'All that was checked is as it should be.*float switch.*Local codes' ||
  failed "the page: $(pdftotext "$work/en.pdf" -)"
refuses 2 'something already' bench-check "${bench[@]}" "${gauge[@]}" --watch 5 --out "$work/en.pdf"
refuses 2 'letter' bench-check "${bench[@]}" "${gauge[@]}" --watch 5 --out "$work/bad.pdf" --by "ᚠ"
[ ! -e "$work/bad.pdf" ] || failed "a page with a letter that the font lacks"
# Nobody is there in lockstep to tip the bucket; the page of a check that failed says so.
refuses 3 'contact 1: moved by hand' bench-check "${bench[@]}" "${gauge[@]}" --without-water --watch 5 --out "$work/en.pdf" --force
pdftotext "$work/en.pdf" - | tr '\n' ' ' | grep -q 'NOT ALL IS WELL: contact 1: moved by hand' || failed "the page hides what failed"
does bench-check "${bench[@]}" "${gauge[@]}" --without-water --without-contacts --watch 5
grep -q 'contact 2 .*skipped' "$work/log" || failed "contact 2 was not skipped"

does pump-calibration "${bench[@]}" "${gauge[@]}" --flows 30 120 --tube-h 12.5
does balance-check "${bench[@]}" "${gauge[@]}" --mass-g 1000 --mass-u-g 0.002
# Two points, the calibration, its own hours, the check.
[ "$(grep -c '^\[\[' "$work/bench.checks.toml")" = 5 ] || failed "the checks were not kept"
does bench-check "${bench[@]}" "${gauge[@]}" --watch 5
grep -q 'last calibration .*2026-11-02, scale' "$work/log" || failed "the pump's calibration is not told"

write_quick_plan "$work/quick.toml"
# The first flow of a run is that of the calibrated scale.
sed -i '0,/^scale = .*/s//scale = 0.8/' "$work/bench.checks.toml"
does calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/scaled"
python3 - "$work/scaled/journal.twj" <<'PY'
import re, sys
flows = [float(m) for m in re.findall(r' pump flow_mL_min=(\S+)', open(sys.argv[1]).read())]
first = [f for f in flows if f > 0][0]
plain = 250 / 600 * 314.159  # 250 mm/h on 314.16 cm2, in mL/min
assert abs(first * 0.8 / plain - 1) < 0.01, (first, plain)
PY

# What runs pump is added to the tube's age, once however often a run is resumed; an old tube is told.
age() {
  "$tipwright" bench-check "${bench[@]}" "${gauge[@]}" --watch 5 --json 2>/dev/null | python3 -c 'import json, sys
rows = json.load(sys.stdin)["checks"]
print([r["found"] + " " + r["verdict"] for r in rows if r["check"] == "tube has run"][0])'
}
before=$(age)
later=(--started-at 2026-11-03T08:00:00Z)
does calibrate "${bench[@]}" "${gauge[@]}" --plan three-point-check --out "$work/hours" "${later[@]}"
run_h=$(awk '$1 == "hours" { hours = $3 } END { print hours }' "$work/bench.checks.toml")
python3 - "$before" "$(age)" "$run_h" "$work/hours/journal.twj" <<'PY' || failed "the tube's age"
import re, sys
before, after = (float(text.split()[0]) for text in sys.argv[1:3])
assert sys.argv[1].endswith(" ok") and 12.4 < before < 13.5, sys.argv
assert abs(after - before - float(sys.argv[3])) < 0.11 and 0.3 < float(sys.argv[3]) < 1, sys.argv
# As the journal tells when the pump ran.
total, since = 0, None
for at, flow in re.findall(r"^\d+ (\S+) pump flow_mL_min=(\S+)", open(sys.argv[4]).read(), re.M):
    if since is not None and float(flow) == 0:
        total, since = total + float(at) - since, None
    elif since is None and float(flow) > 0:
        since = float(at)
assert since is None and abs(total / 3600 - float(sys.argv[3])) < 1e-9, (total, sys.argv)
PY
cp "$work/bench.checks.toml" "$work/kept.toml"
sed -i 's/^tube_life_h = 600 /tube_life_h = 12 /' "$work/bench.toml"
does calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/old" "${later[@]}"
grep -q '!! The tube of the pump (INV-PUM-12) has run 13\.[0-9] h, longer than the 12 h' "$work/log" || failed "an old tube is not told"
refuses 3 'tube has run' bench-check "${bench[@]}" "${gauge[@]}" --watch 5
cp "$work/kept.toml" "$work/bench.checks.toml"
sed -i 's/^tube_life_h = 12 /tube_life_h = 600 /' "$work/bench.toml"

# A balance that failed is not used; nor is one past due; both can be accepted, and the record tells.
refuses 3 'FAILED' balance-check "${bench[@]}" "${gauge[@]}" --mass-g 500 --limit-g 0.000001
refuses 3 'failed its check' calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/failing"
[ ! -e "$work/failing/journal.twj" ] || failed "a refused run has left a journal"
does calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/failing" --reason "known and small"
python3 - "$work/failing/record.json" <<'PY' || failed "the record does not tell that a check had failed"
import json, sys
(one,) = json.load(open(sys.argv[1]))["concessions"]
assert one["nonconformity"] == "check_failed" and one["mass_g"] == 500 and 0 < abs(one["error_g"]) < 0.1, one
assert one["reason"] == "known and small", one
PY
does balance-check "${bench[@]}" "${gauge[@]}" --mass-g 500
sed -i 's/^due_on = 2027-02-10/due_on = 2026-10-31/' "$work/bench.toml"
refuses 3 'was due on 2026-10-31' calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/overdue"
refuses 3 'was due on 2026-10-31' bench-check "${bench[@]}" "${gauge[@]}"
does bench-check "${bench[@]}" "${gauge[@]}" --watch 5 --reason "new date is agreed"
grep -q 'calibration due .*accepted' "$work/log" || failed "the overdue calibration is not told"
does calibrate "${bench[@]}" "${gauge[@]}" --plan "$work/quick.toml" --out "$work/overdue" --reason "date is agreed"
grep -q 'Note: the balance (INV-BAL-11), whose calibration was due on 2026-10-31, was used despite that: date is agreed' "$work/log" ||
  failed "the results do not tell that a calibration was overdue"
python3 - "$work/overdue/record.json" <<'PY' || failed "the record does not tell that a calibration was overdue"
import json, sys
assert json.load(open(sys.argv[1]))["concessions"] == [
    {"role": "balance", "serial": "INV-BAL-11", "nonconformity": "calibration_overdue", "since": "2026-10-31", "error_g": None,
     "mass_g": None, "reason": "date is agreed"}]
PY
pdftotext "$work/overdue/certificate.pdf" - | tr '\n' ' ' | grep -q 'due on 31 October 2026; it was used despite that. Reason given: date is agreed\.' ||
  failed "the certificate does not tell that a calibration was overdue"
does verify "$work/overdue/journal.twj" "$work/overdue/record.json" "$work/overdue/certificate.pdf"

# A bench that another process serves; its hand follows lines on standard input.
mkfifo "$work/hand"
"$tipwright" serve "${gauge[@]}" --out "$work/served.toml" --speed 20 --hand <"$work/hand" >"$work/served" &
server=$!
exec 7>"$work/hand"
for _ in $(seq 100); do
  [ -s "$work/served.toml" ] && break
  sleep 0.1
done
balance=$(awk '$1 == "balance" { print $2 " " $3 }' "$work/served")
sed -e 's/generic-balance-print/generic-balance-modbus/' "$work/served.toml" >"$work/modbus.toml"
patient "$work/served.toml"
patient "$work/modbus.toml"
served=(--bench "$work/served.toml" --speed 20)
does bench-check "${served[@]}" "${gauge[@]}" --watch 20
does pump-calibration "${served[@]}" "${gauge[@]}" --flows 120 --target 2
timeout 60 "$tipwright" balance-check "${served[@]}" --mass-g 500 >"$work/log" 2>&1 &
checker=$!
for words in 'Put the:500' 'Take it:0'; do
  for _ in $(seq 200); do
    grep -q "${words%:*}" "$work/log" && break
    sleep 0.05
  done
  echo "load ${words#*:}" >&7
done
wait "$checker" || failed "balance-check on a served bench"
grep -q passed "$work/log" || failed "the served balance did not pass"
exec 7>&-

# The same bench with a balance on Modbus RTU, which says who it is by its registers.
python3 "$source/tests/support/modbus_balance.py" >"$work/port" &
modbus=$!
trap 'kill "$modbus" 2>/dev/null || true; cleanup' EXIT
for _ in $(seq 100); do
  [ -s "$work/port" ] && break
  sleep 0.05
done
sed -i "s|\"$balance\"|\"tcp 127.0.0.1:$(cat "$work/port")\"|" "$work/modbus.toml"
does bench-check --bench "$work/modbus.toml" --speed 20 "${gauge[@]}" --without-water --without-contacts --watch 20
grep -q 'balance .*calibration due' "$work/log" && grep -q 'says it is .*ok .*Trial balance 7' "$work/log" ||
  failed "a Modbus balance does not say who it is"

refuses 2 'needs a gauge' bench-check --bench virtual-bench
refuses 2 'above the bench' pump-calibration "${bench[@]}" "${gauge[@]}" --flows 900 --reason x
refuses 2 'above the balance' balance-check "${bench[@]}" "${gauge[@]}" --mass-g 9000
echo 'speed = 1' >"$work/bad.checks"
refuses 2 'bad.checks:1:1' bench-check "${bench[@]}" "${gauge[@]}" --checks "$work/bad.checks" --reason x
echo "all checks passed"
