#!/usr/bin/env bash
# What happens beside a run, of the shipped program on served benches: water left in a vessel without a drain, files deleted under it, lanes that share
# a balance, memory that runs out, a clock set back. Arguments: the program, the source folder.
set -euo pipefail
timeout 600 python3 "$(dirname "${BASH_SOURCE[0]}")/mishaps_test.py" "$@"
