#!/usr/bin/env bash
# What guards the pump, of the shipped program on served benches: a balance or a climate sensor that falls silent, a pump that runs on, a bench in use by another
# program or user, a run that somebody wants to close or whose pump is out of reach or another, noise on a line, pumps plugged over, frozen or alike in
# name, half a message, Ctrl-Z, gaps under load, a file system without locks.
# Arguments: the program, the source folder.
set -euo pipefail
timeout 900 python3 "$(dirname "${BASH_SOURCE[0]}")/pump_guard_test.py" "$1" "$2"
