#!/usr/bin/env bash
# All tests that real time does not decide, with AddressSanitizer and UndefinedBehaviorSanitizer. Argument: the build tree.
# Left out: served benches (RUN_SERIAL or PROCESSORS in tests/CMakeLists.txt) and the campaigns, which ctest runs unsanitized.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=${1:-build/asan}
cmake -C tests/presets/asan.cmake -S . -B "$tree" -G Ninja >/dev/null
cmake --build "$tree" --target calib_tests bench_tests report_tests program_tests
for tests in calib bench report program; do "$tree/tests/${tests}_tests"; done
