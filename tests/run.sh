#!/usr/bin/env bash
# Installs what is needed, builds, and passes all tests through ctest.
set -euo pipefail
cd "$(dirname "$0")/.."
bash bench/install.sh
cmake -S . -B build/test -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_WERROR=ON
cmake --build build/test
ctest --test-dir build/test --output-on-failure -j "$(nproc)"
