#!/usr/bin/env bash
# Which share of the lines of calib, bench and report the test programs reach; prints a figure for each folder.
# Argument: the build tree. Whole-program tests, which reach more of bench/program, are left out: they take long without optimising.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=${1:-build/coverage}
cmake -C tests/presets/coverage.cmake -S . -B "$tree" -G Ninja >/dev/null
cmake --build "$tree" --target calib_tests bench_tests report_tests program_tests >/dev/null
find "$tree" -name '*.gcda' -delete
for tests in calib bench report program; do "$tree/tests/${tests}_tests" >/dev/null; done
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
find "$PWD/$tree" -path "*tipwright_*.dir*" -name '*.gcda' >"$work/list"
(cd "$work" && xargs -a list -n 50 gcov --json-format --stdout >"$work/lines" 2>/dev/null)
python3 - "$work/lines" "$PWD" <<'EOF'
import json, sys
lines, source = {}, sys.argv[2] + "/"
for text in open(sys.argv[1]):
    for file in json.loads(text)["files"]:
        name = file["file"].removeprefix(source)
        folder = name.split("/")[0]
        if folder not in ("calib", "bench", "report"): continue
        for line in file["lines"]:
            key = folder, name, line["line_number"]
            lines[key] = max(lines.get(key, 0), line["count"])
short = False
for folder, limit in ("calib", 90), ("bench", 70), ("report", 80):
    counts = [count for (f, _, _), count in lines.items() if f == folder]
    percent = 100 * sum(c > 0 for c in counts) / len(counts) if counts else 0
    short |= percent < limit
    print(f"figure coverage_{folder}_lines_percent {percent:.4g} % limit >= {limit} {'ok' if percent >= limit else 'short'}")
sys.exit(short)
EOF
