#!/usr/bin/env bash
# Small mistakes made in the sources on purpose: how many of them the tests notice (tests/mutants/run.py tells how).
# Usage: tests/mutants.sh [--sample N] [--only PREFIX] [--minutes M]; 400 by default. Run again, it goes on where it was.
set -euo pipefail
cd "$(dirname "$0")/.."
mkdir -p build/mutants
exec python3 tests/mutants/run.py "$@"
