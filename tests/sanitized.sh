#!/usr/bin/env bash
# The tests under a sanitizer. Arguments: asan (AddressSanitizer and UndefinedBehaviorSanitizer; the default) or tsan
# (ThreadSanitizer), the build tree, then the whole-program tests to run (default: all; "none"). With asan the tree
# holds afterwards what tests/coverage.sh reads.
# A report of a sanitizer is a failure, wherever a test hid it. A whole-program test that fails without one is told of
# only: a sanitized program is several times slower, and served benches wait for nobody. Left out: the campaigns, the
# browser, and with tsan what has no threads.
set -euo pipefail
cd "$(dirname "$0")/.."
kind=${1:-asan}
tree=${2:-build/$kind}
shift $(($# < 2 ? $# : 2))
case $kind in
  asan) units="report program calib bench serial page" ;;
  tsan) units="bench serial page program" ;;
  *)
    echo "sanitized.sh: '$kind' is no sanitizer here; give asan or tsan" >&2
    exit 2
    ;;
esac
scripts=("$@")
[ ${#scripts[@]} -gt 0 ] || scripts=(tests/whole_program/*_test.sh tests/attacks/*_test.sh)
[ "${scripts[0]}" != none ] || scripts=()
bash bench/install.sh
cmake -C "tests/presets/$kind.cmake" -S . -B "$tree" -G Ninja >/dev/null
# shellcheck disable=SC2046
cmake --build "$tree" --target tipwright $(printf '%s_tests ' $units)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
rm -rf "$tree/profiles"
export LLVM_PROFILE_FILE=$PWD/$tree/profiles/%8m.profraw

run() {  # WHAT MUST_PASS COMMAND...: says in one line how it went; what is to be told of besides comes after it
  local what=$1 must_pass=$2 began=$SECONDS got=0 own
  own=$(mktemp -d -p "$work")
  # A test that puts a library of its own in front stands before the sanitizer's.
  ASAN_OPTIONS=log_path=$own/report:verify_asan_link_order=0 UBSAN_OPTIONS=log_path=$own/report:print_stacktrace=1 \
    TSAN_OPTIONS=log_path=$own/report:suppressions=$PWD/tests/presets/tsan_suppressions.txt timeout 1800 "${@:3}" >"$own/out" 2>&1 || got=$?
  if ls "$own"/report.* >/dev/null 2>&1; then
    echo "FAILED $what"
    cat "$own"/report.*
    touch "$own/failed"
  else
    echo "no report of $what: exit code $got after $((SECONDS - began)) s$([ "$got" = 0 ] || tail -n 1 "$own/out" | sed 's/^/: /')"
    [ "$got" = 0 ] || [ "$must_pass" = no ] || { grep -B 4 -A 12 FAILED "$own/out" | head -n 200 || true; touch "$own/failed"; }
  fi
}
export -f run
export work

# Two at a time, the long ones first. PostgreSQL serves a part of the register's tests; the campaigns on coverage are left out.
for unit in $units; do
  tests="*"
  [ "$unit" != program ] || tests="~*the truth*"
  if [ "$unit" = report ]; then
    tests="~*OnPostgresql*"
    printf '%s\0%s\0%s\0' "report tests on PostgreSQL" "$tree/tests/report_tests" "*OnPostgresql*"
  fi
  printf '%s\0%s\0%s\0' "$unit tests" "$tree/tests/${unit}_tests" "$tests"
done | xargs -0 -P 2 -n 3 bash -c 'run "$1" yes "$2" "$3"' _
for script in "${scripts[@]}"; do run "$script" no bash "$script" "$PWD/$tree/tipwright" "$PWD"; done
failures=$(find "$work" -name failed | wc -l)
echo "sanitized.sh $kind: $failures failures"
[ "$failures" = 0 ]
