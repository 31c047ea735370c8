#!/usr/bin/env bash
# Small mistakes made in the sources on purpose: how many of them the tests notice (tests/mutants/run.py tells how).
# Usage: tests/mutants.sh [--sample N] [--only PREFIX] [--minutes M]; run again, it goes on where it was. A sample of 410, the
#        default, leaves more than 400 that the compiler takes without a warning.
#        tests/mutants.sh --held   the fixed sample of CI, each by the test that noticed it (tests/mutants/held.py)
set -euo pipefail
cd "$(dirname "$0")/.."
mkdir -p build/mutants
if [ "${1-}" = --held ]; then
  shift
  exec python3 tests/mutants/held.py "$@"
fi
exec python3 tests/mutants/run.py "$@"
