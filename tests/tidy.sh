#!/usr/bin/env bash
# clang-tidy, as .clang-tidy says, on the sources that differ from a commit (origin/main where there is one, else the commit
# before). A header counts through the source of its name. Argument: the commit.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=build/alone  # where each file is compiled alone
since=${1:-}
if [ -z "$since" ]; then
  since=$(git rev-parse --verify -q origin/main || true)
  [ -n "$since" ] && [ "$(git rev-parse HEAD)" != "$since" ] || since=HEAD~1
fi
git rev-parse --verify -q "$since^{commit}" >/dev/null || { echo "tests/tidy.sh: no commit $since to compare with: nothing checked" >&2; exit 0; }
cmake -S . -B $tree -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_WERROR=ON -DCMAKE_UNITY_BUILD=OFF >/dev/null
files=()
while read -r file; do
  file=${file/%.hpp/.cpp}
  if [ -f "$file" ] && grep -qF "/$file\"" "$tree/compile_commands.json"; then files+=("$file"); fi
done < <(git diff --name-only --diff-filter=d "$since" -- 'calib/*pp' 'bench/*pp' 'report/*pp')
mapfile -t files < <(printf '%s\n' "${files[@]}" | sort -u | sed '/^$/d')
((${#files[@]})) || { echo "tests/tidy.sh: nothing changed since $since"; exit 0; }
# Precompiled headers are GCC's own.
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
sed -E 's/-include [^ ]*cmake_pch\.hxx//g; s/-Winvalid-pch//g; s/-Wno-(restrict|stringop-overread|stringop-overflow|mismatched-new-delete)//g' \
  "$tree/compile_commands.json" >"$work/compile_commands.json"
# Into the headers of libraries the analyzer follows coroutines that it does not understand: a finding counts whose own place
# is in our sources. What clang-tidy says otherwise (a file that does not compile, an option it lacks) counts as well.
found_in_ours() { # FILE
  local said
  said=$(clang-tidy --quiet -p "$work" "$1" 2>&1) || [ -n "$said" ] || said="$1: clang-tidy ended with a failure and said nothing"
  said=$(grep -Ev '^[0-9]+ warnings?( and [0-9]+ errors?)? generated\.$|^[0-9]+ warnings? treated as errors?$' <<<"$said" |
    awk '/^\/[^:]*:[0-9]+:[0-9]+: (warning|error|fatal error):/ { library = /^\/usr\// && /\[clang-analyzer-/ } /^Error|^error:/ { library = 0 } !library && NF')
  [ -z "$said" ] || { printf '%s\n' "$said"; return 1; }
}
export -f found_in_ours
export work
printf '%s\n' "${files[@]}" | xargs -P "$(nproc)" -I FILE bash -c 'found_in_ours "$1"' - FILE
echo "tests/tidy.sh: ${#files[@]} files changed since $since, nothing found"
