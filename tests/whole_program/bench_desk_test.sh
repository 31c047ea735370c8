#!/usr/bin/env bash
# Commands of the desk: compare, adjust, field-check. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() {
  echo "FAILED: $*" >&2
  exit 1
}

for year in 2021 2024; do
  "$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan five-point-as-found \
    --out "$work/$year" --seed "$year" --started-at "$year-03-02T08:00:00Z" >/dev/null
done
"$tipwright" compare "$work/2021/record.json" "$work/2024/certificate.pdf" --out "$work/compared" >"$work/text"
grep -q "E_n" "$work/text" || fail "compare shows no E_n"
grep -q "% per year" "$work/text" || fail "compare shows no drift"
qpdf --check "$work/compared/comparison.pdf" >/dev/null || fail "comparison.pdf is not sound"
[ -s "$work/compared/comparison.csv" ] || fail "no comparison.csv"

"$tipwright" adjust "$work/2021/record.json" --per-turn 0.3 --per-turn-u 0.03 >"$work/text"
# What is advised lowers the largest |e| + U.
now=$(sed -n 's/Largest |e| + U: \([0-9.]*\) % now.*/\1/p' "$work/text")
after=$(sed -n 's/.* now, \([0-9.]*\) % expected.*/\1/p' "$work/text")
awk -v a="$after" -v n="$now" 'BEGIN { exit !(a < n) }' || fail "adjust: $after is not below $now"
# A gauge that was not touched is not as an adjustment would have left it.
"$tipwright" adjust "$work/2021/record.json" --left "$work/2024/record.json" | grep -q "not as expected" ||
  fail "adjust --left does not notice"

# 640 mL over a 200.03 mm rim are 20.37 mm; 100 tips of 0.2 mm are 20.00 mm.
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 100 --poured-mL 640 --limit 5 >"$work/text"
grep -q "20.3[67] mm / 20.00 mm" "$work/text" || fail "field-check: $(cat "$work/text")"
grep -q "within" "$work/text" || fail "field-check has no verdict"
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 700 --collected-g 5060 --limit 3 | grep -q "outside" ||
  fail "discharge check: 700 tips for 5060 g is within 3 %"
! "$tipwright" field-check --gauge demo-bucket-200-twin --tips 800 2>"$work/err" || fail "field-check without water"
[ "$(wc -l <"$work/err")" = 1 ] || fail "field-check: not one line of error"
echo "all checks passed"
