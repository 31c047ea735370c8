#!/usr/bin/env bash
# The main job in one command: installs what is needed, builds, and calibrates an invented 200 mm siphon gauge on
# the virtual bench. Leaves journal, record, correction table and certificate in out/demo. Safe to run again.
set -euo pipefail
cd "$(dirname "$0")/.."
bash bench/install.sh
cmake -S . -B build/release -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_TESTS=OFF >/dev/null
cmake --build build/release --target tipwright
rm -rf out/demo
exec build/release/tipwright calibrate --bench virtual-bench --gauge demo-siphon-200 --plan ten-rate --out out/demo "$@"
