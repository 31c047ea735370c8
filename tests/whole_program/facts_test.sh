#!/usr/bin/env bash
# A bench that states facts of its laboratory: CMC of 0.9 % beside runs of less, procedure, water, environment,
# function of who signs, agreed rule; followed to terminal, record, tables, PDF and verify. The CMC comes from
# the check gauge as well. Usage: facts_test.sh TIPWRIGHT SOURCE_DIR
set -euo pipefail
program=$1
source_dir=$2
export TIPWRIGHT_TEMPLATES=$source_dir/templates
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source_dir/tests/support/expect.sh"

{
  echo 'capability = "cmc.toml"'
  sed -e 's/^# \[decision\].*/[decision]/' -e 's/^# rule = .*/rule = "simple acceptance"/' -e 's/^# agreed = /agreed = /' \
    -e 's/^operator = .*/operator = "A. Signatory"/' "$source_dir/templates/benches/virtual-bench.toml"
} >"$work/bench.toml"
printf '[[capability]]\nintensity_mm_h = 20\nU_percent = 0.9\n[[capability]]\nintensity_mm_h = 200\nU_percent = 0.9\n' \
  >"$work/cmc.toml"
run() { "$program" calibrate --bench "$1" --gauge demo-bucket-200-twin --plan five-point-as-found --seed 3 --out "$2"; }
run virtual-bench "$work/plain" >"$work/said" 2>&1 || fail "plain: $(cat "$work/said")"
run "$work/bench.toml" "$work/claimed" >"$work/said" 2>&1 || fail "claimed: $(cat "$work/said")"
grep -q 'U(e) was raised to the laboratory' "$work/said" || fail "says nothing: $(cat "$work/said")"

python3 - "$work/plain/record.json" "$work/claimed/record.json" <<'P' || fail "records"
import json, sys
plain, claimed = (json.load(open(name)) for name in sys.argv[1:])
raised = 0
for a, b in zip(plain["evaluation"]["steps"], claimed["evaluation"]["steps"]):
    # The water, so the tips, are the same: only what is claimed differs.
    assert a["error_percent"]["value"] == b["error_percent"]["value"], (a, b)
    assert b["least_U_percent"] == 0.9 and a["least_U_percent"] is None
    assert b["error_expanded"]["U"] >= 0.9
    raised += a["error_expanded"]["U"] < 0.9 and b["error_expanded"]["U"] == 0.9
assert raised >= 3, raised
for row in claimed["evaluation"]["correction"]["rows"]:
    assert row["factor_U"] / row["factor"] >= 0.009 * (1 - 1e-9), row
for a, b in zip(plain["evaluation"]["correction"]["rows"], claimed["evaluation"]["correction"]["rows"]):
    assert a["depth_mm"]["value"] == b["depth_mm"]["value"], (a, b)
P
grep -q "^# U: At step" "$work/claimed/results.csv" || fail "results.csv says nothing"
pdftotext "$work/claimed/certificate.pdf" "$work/text"
for part in 'LRG-P-07' 'demineralised' 'head of the laboratory' 'Permitted' 'Fernlow Calibration' 'agreed with the customer' \
  '0.90 % at 20 mm/h' 'was raised to the laboratory'; do
  tr -s ' \n' ' ' <"$work/text" | grep -qF "$part" || fail "the page does not say: $part"
done
pdftotext -layout "$work/plain/certificate.pdf" - | grep -q 'CMC' && fail "a CMC that nobody stated"
cd "$work/claimed"
"$program" verify journal.twj record.json results.csv correction.csv certificate.pdf >"$work/said" 2>&1 ||
  fail "verify: $(cat "$work/said")"
cd - >/dev/null
# U lowered below the capability by hand is no longer what the record follows from.
sed 's/"U": 0.9,/"U": 0.4,/' "$work/claimed/record.json" >"$work/lowered.json"
"$program" verify "$work/lowered.json" >"$work/said" 2>&1 && fail "verify took a lowered U"

# Outside the permitted conditions: said on page 1, and not issued without a reason.
sed 's/^air_temperature_max_C = .*/air_temperature_max_C = 20/' "$work/bench.toml" >"$work/cold.toml"
run "$work/cold.toml" "$work/outside" >"$work/said" 2>&1 || fail "outside: $(cat "$work/said")"
grep -q 'the air was at .* permits 16.0 °C to 20.0 °C' "$work/said" || fail "finding: $(cat "$work/said")"
pdftotext -l 1 -layout "$work/outside/certificate.pdf" - | tr -s ' \n' ' ' | grep -q "limits of the environment" ||
  fail "page 1 says nothing of the environment"

# Refused before water flows, each in one line with its place.
sed 's/^rule = .*/rule = "guard band"/' "$work/bench.toml" >"$work/rule.toml"
expect 2 'another decision rule than the one agreed' run "$work/rule.toml" "$work/none"
printf '[[capability]]\nintensity_mm_h = 20\nU_percent = 0\n' >"$work/cmc.toml"
expect 2 'cmc.toml:3:13: .*capability.U_percent is 0' run "$work/bench.toml" "$work/none"

# The check gauge's own table, as a bench reads it.
for seed in 1 2 3 4 5; do
  "$program" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check --seed "$seed" \
    --out "$work/check$seed" >/dev/null 2>&1 || fail "check run $seed"
done
"$program" laboratory control "$work"/check*/record.json --baseline 5 --out "$work/lab" >/dev/null || true
cp "$work/lab/cmc.toml" "$work/cmc.toml"
run "$work/bench.toml" "$work/from_check" >"$work/said" 2>&1 || fail "from the check gauge: $(cat "$work/said")"
python3 - "$work/from_check/record.json" "$work/lab/laboratory.json" <<'P' || fail "the check gauge's table"
import json, sys
record, laboratory = (json.load(open(name)) for name in sys.argv[1:])
assert [(p["intensity_mm_h"], p["U_percent"]) for p in record["bench"]["capability"]] == \
       [(p["intensity_mm_h"], p["U_percent"]) for p in laboratory["cmc"]]
P
exit "$((failures > 0))"
