#!/usr/bin/env bash
# Small mistakes made in the sources one at a time: how many of them the tests notice (tests/mutants.py tells how).
# Usage: tests/mutants.sh [--sample N] [--only PREFIX] [--minutes M]; 400 by default, which takes hours.
set -euo pipefail
cd "$(dirname "$0")/.."
copy="$PWD/build/mutants/sources"
build="$copy/build/test"
mkdir -p "$copy"
# A copy, so that a run broken off leaves nothing changed; times are kept, so that only what differs is compiled anew.
git ls-files -z --cached --others --exclude-standard | tar --null --files-from=- --create --ignore-failed-read 2>/dev/null | tar --extract --directory="$copy" --keep-newer-files 2>/dev/null || true
# As tests/run.sh builds: the compiler cache has all but the mistakes, and what a warning tells is told (stillborn).
cmake -S "$copy" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_WERROR=ON >/dev/null
targets=(calib_tests bench_tests report_tests)
case " $* " in
  *" --only calib"*) targets=(calib_tests) ;;
  *" --only bench"*) targets=(bench_tests) ;;
  *" --only report"*) targets=(report_tests) ;;
esac
cmake --build "$build" --target "${targets[@]}" >/dev/null
for target in "${targets[@]}"; do
  "$build/tests/$target" >/dev/null || { echo "tests/mutants.sh: $target fails before anything is changed" >&2; exit 2; }
done
python3 tests/mutants.py "$copy" "$build" "$@"
