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
  asan) units="calib bench serial report page program" ;;
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
reports=$(mktemp -d)
trap 'rm -rf "$reports"' EXIT
# A test that puts a library of its own in front stands before the sanitizer's.
export ASAN_OPTIONS=log_path=$reports/report:verify_asan_link_order=0 UBSAN_OPTIONS=log_path=$reports/report:print_stacktrace=1
export TSAN_OPTIONS=log_path=$reports/report:suppressions=$PWD/tests/presets/tsan_suppressions.txt
export LLVM_PROFILE_FILE=$PWD/$tree/profiles/%8m.profraw
rm -rf "$tree/profiles"
failures=0
without_report() { ! ls "$reports"/report.* >/dev/null 2>&1; }
run() {  # what COMMAND...
  local got=0 began=$SECONDS
  "${@:2}" >"$reports/out" 2>&1 || got=$?
  last=$got
  if ! without_report; then
    echo "FAILED $1"
    cat "$reports"/report.*
    rm "$reports"/report.*
    failures=$((failures + 1))
  else
    echo "no report of $1: exit code $got after $((SECONDS - began)) s$([ "$got" = 0 ] || tail -n 1 "$reports/out" | sed 's/^/: /')"
  fi
}
for unit in $units; do
  run "$unit tests" "$tree/tests/${unit}_tests"
  [ "$last" = 0 ] || failures=$((failures + 1))
done
for script in "${scripts[@]}"; do run "$script" bash "$script" "$PWD/$tree/tipwright" "$PWD"; done
echo "sanitized.sh $kind: $failures failures"
[ "$failures" = 0 ]
