#!/usr/bin/env bash
# The README's scenario, and its numbers computed once more by another way: scenario_numbers.py.
# Usage: scenario_test.sh PROGRAM SOURCE_DIR
set -euo pipefail
program=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
source "$source/tests/support/expect.sh"

TIPWRIGHT=$program bash "$source/bench/scenario.sh" "$work/out" >"$work/said" || fail "the scenario: $(tail -3 "$work/said")"
grep -q 'The data support bucket-200-twin: .* yearly amount, corrected by each gauge' "$work/said" ||
  fail "no choice for Upper Drizzle"
grep -q 'The data support siphon-200: .* largest 60-minute amount, as indicated' "$work/said" ||
  fail "no choice for Monsoon Quay"
for document in upper-drizzle/trial.pdf monsoon-quay/trial.pdf season/monsoon-quay-siphon-200/rain.pdf; do
  pdftotext -layout "$work/out/$document" "$work/paper"
  grep -q DEMONSTRATION "$work/paper" || fail "$document does not say that it is invented"
done
/usr/bin/python3 "$source/tests/whole_program/scenario_numbers.py" "$work/out" "$source/templates/sites/itu-r-pn837-1.csv" \
  "$work/said" "$source/README.md" || fail "numbers of the scenario"
[ "$failures" = 0 ] || exit 1
echo "scenario: all well"
