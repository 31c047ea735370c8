#!/usr/bin/env bash
# Fuzzes every parser that meets outside bytes, from the committed corpora on, two at a time.
# Usage: tests/fuzz.sh [SECONDS each, default 30] [TARGET...], TARGET as in tests/fuzz/TARGET_fuzz.cpp.
# A finding is left in build/asan/findings/ and ends with a status other than 0.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=build/asan  # of tests/sanitized.sh too
seconds=${1:-30}
shift || true
bash bench/install.sh
targets=("$@")
if ((${#targets[@]} == 0)); then
  for source in tests/fuzz/*_fuzz.cpp; do targets+=("$(basename "$source" _fuzz.cpp)"); done
fi
for target in "${targets[@]}"; do
  [ -f "tests/fuzz/${target}_fuzz.cpp" ] || { echo "tests/fuzz.sh: no target named '$target'" >&2; exit 2; }
done
cmake -C tests/presets/asan.cmake -S . -B $tree -G Ninja >/dev/null
cmake --build $tree --target "${targets[@]/%/_fuzz}" | grep -v '^\[' || true

# New inputs are gathered in a corpus of the build's own; the committed one is only read.
fuzz_one() {
  local target=$1 seconds=$2
  local gathered=$tree/corpus/$target log=$tree/$target.log
  mkdir -p "$gathered" $tree/findings
  if $tree/tests/fuzz/"${target}_fuzz" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=65536 \
    -print_final_stats=1 -artifact_prefix="$tree/findings/$target-" "$gathered" "tests/fuzz/corpus/$target" \
    >"$log" 2>&1; then
    printf 'fuzz %-14s %s s  %s inputs tried\n' "$target" "$seconds" \
      "$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")"
  else
    printf 'fuzz %-14s FAILED: %s\n' "$target" "$log"
    tail -n 40 "$log"
    return 1
  fi
}
export -f fuzz_one
export tree LLVM_PROFILE_FILE=/dev/null
printf '%s\n' "${targets[@]}" | xargs -P 2 -I {} bash -c 'fuzz_one "$1" "$2"' _ {} "$seconds"
