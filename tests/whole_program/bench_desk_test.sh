#!/usr/bin/env bash
# Commands of the desk: compare, adjust, field-check. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
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
again=0
"$tipwright" compare "$work/2021/record.json" "$work/2024/certificate.pdf" --out "$work/compared" >/dev/null 2>"$work/err" || again=$?
[ "$again" = 2 ] && grep -q 'comparison.csv: there is something already' "$work/err" || { echo "FAILED: a comparison was written over"; exit 1; }
grep -q "E_n" "$work/text" || fail "compare shows no E_n"
grep -q "% per year" "$work/text" || fail "compare shows no drift"
qpdf --check "$work/compared/comparison.pdf" >/dev/null || fail "comparison.pdf is not sound"
[ -s "$work/compared/comparison.csv" ] || fail "no comparison.csv"
"$tipwright" compare "$work/2021/record.json" "$work/2024/record.json" --out "$work/verglichen" --language de --svg >"$work/text"
pdftotext "$work/verglichen/comparison.pdf" - | grep -q "Vergleich" || fail "comparison.pdf is not in the language asked for"
grep -q "mm/h" "$work/verglichen/comparison.svg" || fail "no comparison.svg"

"$tipwright" adjust "$work/2021/record.json" --per-turn 0.3 --per-turn-u 0.03 >"$work/text"
# No setting passes at every rate here: that is said, and no step that passes is given up for another.
grep -q "no setting of the stop screws" "$work/text" || fail "adjust does not say that no setting passes: $(cat "$work/text")"
grep -q "pass, pass" "$work/text" || fail "adjust: no step passes: $(cat "$work/text")"
! grep -q "pass, fail" "$work/text" || fail "adjust gives up a step: $(cat "$work/text")"
# A gauge that somebody turned the other way is not as the adjustment would have left it.
cp "$source/templates/gauges/demo-bucket-200-twin.toml" "$work/turned.toml"
printf '\n[virtual]\nvolume_excess_percent = 0.5\n' >>"$work/turned.toml"
"$tipwright" calibrate --bench virtual-bench --gauge "$work/turned.toml" --plan five-point-as-found --as-left \
  --out "$work/turned" --seed 2021 --started-at 2021-03-03T08:00:00Z >/dev/null
"$tipwright" adjust "$work/2021/record.json" --left "$work/turned/record.json" >"$work/text"
grep -q "not as expected" "$work/text" || fail "adjust --left does not notice: $(cat "$work/text")"

# 640 mL over a 200.03 mm rim are 20.37 mm; 100 tips of 0.2 mm are 20.00 mm.
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 100 --poured-mL 640 --limit 5 >"$work/text"
grep -q "20.3[67] mm / 20.00 mm" "$work/text" || fail "field-check: $(cat "$work/text")"
grep -q "within" "$work/text" || fail "field-check has no verdict"
"$tipwright" field-check --gauge demo-bucket-200-twin --tips 700 --collected-g 5060 --limit 3 | grep -q "outside" ||
  fail "discharge check: 700 tips for 5060 g is within 3 %"
! "$tipwright" field-check --gauge demo-bucket-200-twin --tips 800 2>"$work/err" || fail "field-check without water"
[ "$(wc -l <"$work/err")" = 1 ] || fail "field-check: not one line of error"
echo "all checks passed"
