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
expect 2 'no file, and no serial number' "$program" laboratory control nothing-like-it --register "$work/none"

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
