#!/usr/bin/env bash
# Everything that each released version wrote is read, issued again and replaced by the program of today.
# Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
ages=("$source"/fixtures/ages/*/)
[ -d "${ages[0]}" ] || { echo "no version has left anything in fixtures/ages" >&2; exit 77; }
for age in "${ages[@]}"; do
  bash "$source/tests/ages/check.sh" "$tipwright" "$age" || { echo "FAILED: $age" >&2; exit 1; }
done
echo "all ages are read"
