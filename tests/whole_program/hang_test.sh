#!/usr/bin/env bash
# The watchdog of the shipped program. Arguments: the program, the source folder.
set -euo pipefail
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
timeout 200 python3 "$2/tests/whole_program/hang_test.py" "$1" "$work"
