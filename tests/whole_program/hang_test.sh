#!/usr/bin/env bash
# The watchdog of the shipped program. Arguments: the program, the source folder.
set -euo pipefail
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
"$1" serve --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 20 >/dev/null &
server=$!
for _ in $(seq 100); do
  [ -s "$work/bench.toml" ] && break
  sleep 0.1
done
patient "$work/bench.toml"
timeout 100 python3 "$2/tests/whole_program/hang_test.py" "$1" "$work"
