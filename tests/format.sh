#!/usr/bin/env bash
# Says which sources are not laid out as .clang-format wants (clang-format 14); with --fix puts them right.
# Arguments: --fix, and files; all sources without any. Or --changed [COMMIT]: only the lines that differ from that commit, by
# default origin/main, or the commit before where that is this one.
set -euo pipefail
cd "$(dirname "$0")/.."
if [ "${1:-}" = --changed ]; then
  since=${2:-$(git rev-parse --verify -q origin/main || true)}
  [ -n "$since" ] && [ "$(git rev-parse HEAD)" != "$since" ] || since=HEAD~1
  git rev-parse --verify -q "$since^{commit}" >/dev/null || { echo "tests/format.sh: no commit $since to compare with" >&2; exit 0; }
  tool=$(command -v git-clang-format || command -v git-clang-format-14)
  wrong=$("$tool" --diff --quiet --extensions cpp,hpp "$since" || true)
  [ -z "$wrong" ] || { printf '%s\n' "$wrong"; echo "tests/format.sh: not laid out as .clang-format wants; mend with: git clang-format $since" >&2; exit 1; }
  exit 0
fi
mode=(--dry-run --Werror)
if [ "${1:-}" = --fix ]; then mode=(-i); shift; fi
files=("$@")
((${#files[@]})) || mapfile -t files < <(git ls-files '*.cpp' '*.hpp')
((${#files[@]})) || exit 0
exec "$(command -v clang-format-14 || command -v clang-format)" "${mode[@]}" "${files[@]}"
