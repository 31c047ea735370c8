#!/usr/bin/env bash
# Attacks on verifier, keys and drafts. Arguments: the program, the source folder.
set -euo pipefail
exec python3 "$(dirname "${BASH_SOURCE[0]}")/verifier_attacks.py" "$1" "$2"
