#!/usr/bin/env bash
# Says which sources are not laid out as .clang-format wants (clang-format 14); with --fix puts them right.
# Arguments: --fix, and files; all sources without any.
set -euo pipefail
cd "$(dirname "$0")/.."
mode=(--dry-run --Werror)
if [ "${1:-}" = --fix ]; then mode=(-i); shift; fi
files=("$@")
((${#files[@]})) || mapfile -t files < <(git ls-files '*.cpp' '*.hpp')
((${#files[@]})) || exit 0
exec "$(command -v clang-format-14 || command -v clang-format)" "${mode[@]}" "${files[@]}"
