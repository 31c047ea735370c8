#!/usr/bin/env bash
# Which share of the lines of calib, bench and report the unit test programs reach; prints a figure for each folder.
# Argument: a build tree in which tests/sanitized.sh ran them; without one they are built and run in build/coverage.
# Whole-program tests are left out, and with them bench/program, most of whose lines they alone reach.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=${1:-}
programs="calib bench serial report page program"
if [ -z "$tree" ]; then
  tree=build/coverage
  bash bench/install.sh
  cmake -C tests/presets/coverage.cmake -S . -B "$tree" -G Ninja >/dev/null
  # shellcheck disable=SC2046
  cmake --build "$tree" --target tipwright $(printf '%s_tests ' $programs)
  rm -rf "$tree/profiles"
  for tests in $programs; do
    LLVM_PROFILE_FILE=$PWD/$tree/profiles/%8m.profraw "$tree/tests/${tests}_tests" >/dev/null
  done
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
llvm-profdata merge -sparse "$tree"/profiles/*.profraw -o "$work/profile"
objects=()
for tests in $programs; do objects+=(-object "$tree/tests/${tests}_tests"); done
llvm-cov export -summary-only -instr-profile "$work/profile" "$tree/tipwright" "${objects[@]}" >"$work/summary"
python3 - "$work/summary" "$PWD" <<'EOF'
import json, sys
lines = {}
for file in json.load(open(sys.argv[1]))["data"][0]["files"]:
    name = file["filename"].removeprefix(sys.argv[2] + "/")
    folder = "" if name.startswith("bench/program/") else name.split("/")[0]
    count, covered = lines.get(folder, (0, 0))
    summary = file["summary"]["lines"]
    lines[folder] = count + summary["count"], covered + summary["covered"]
short = False
for folder, limit in ("calib", 90), ("bench", 80), ("report", 80):
    count, covered = lines.get(folder, (0, 0))
    percent = 100 * covered / count if count else 0
    short |= percent < limit
    print(f"figure coverage_{folder}_lines_percent {percent:.4g} % limit >= {limit} {'ok' if percent >= limit else 'short'}")
sys.exit(short)
EOF
