#!/usr/bin/env bash
# Runs the programs that prove speed, memory, coverage and fault rates; each prints one line a figure:
#   figure NAME VALUE UNIT limit OP VALUE ok|short
# Usage: tests/figures.sh [NAME...], NAME as in tests/figures/NAME_figures.cpp, all of these without one; or mutants.
set -euo pipefail
cd "$(dirname "$0")/.."
bash bench/install.sh
cmake -S . -B build/test -G Ninja -DCMAKE_BUILD_TYPE=Release >/dev/null
names=("$@")
if ((${#names[@]} == 0)); then
  for source in tests/figures/*_figures.cpp; do
    name=$(basename "$source" _figures.cpp)
    names+=("$name")
  done
fi
targets=()
mutants=
for name in "${names[@]}"; do
  if [ "$name" = mutants ]; then mutants=yes; continue; fi
  [ -f "tests/figures/${name}_figures.cpp" ] || {
    echo "tests/figures.sh: no figures named '$name'; there are: $(cd tests/figures && ls *_figures.cpp | sed 's/_figures.cpp//' | tr '\n' ' ')" >&2
    exit 2
  }
  targets+=("${name}_figures")
done
short=0
if ((${#targets[@]})); then cmake --build build/test --target "${targets[@]}" | grep -v '^\[' || true; fi
log=$(mktemp)
trap 'rm -f "$log"' EXIT
for target in "${targets[@]}"; do
  "build/test/tests/$target" | tee "$log" || short=1
  if grep -q ' short$' "$log"; then short=1; fi
done
if [ -n "$mutants" ]; then bash tests/mutants.sh || short=1; fi
exit "$short"
