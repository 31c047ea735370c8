# What the tabulator key offers in one shell, by the completion that the package installs: sourced by a test with its name in
# $shell, after $tipwright and $source are set. The shell is driven on a pseudo-terminal (completed_lines.py).
command -v "$shell" >/dev/null || {
  echo "SKIPPED: $shell is not installed here (bash bench/install.sh installs it); its completion was not tried" >&2
  exit 77
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source/tests/support/expect.sh"
unset TIPWRIGHT_KEYS TIPWRIGHT_WORK
export TIPWRIGHT_SETTINGS='' TIPWRIGHT_TRIAL_NOW=2026-11-28T10:00:00Z HOME=$work
export TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_PERSON="A. Signatory" TIPWRIGHT_TEMPLATES=$source/templates
mkdir "$work/bin" "$work/scratch" "$work/here"
ln -s "$tipwright" "$work/bin/tipwright"
export PATH=$work/bin:$PATH
cd "$work/here"
touch measured-elsewhere.csv
tipwright register create >/dev/null
tipwright register person add "C. Checker" --may-check true >/dev/null
tipwright register gauge add INV-200-0002 --from demo-bucket-200-twin >/dev/null

# What is typed, and what the tabulator key makes of it, in turn.
typed=() wanted=()
while IFS= read -r line && IFS= read -r becomes; do
  typed+=("$line") wanted+=("$becomes")
done <<'LINES'
tipwright calib
tipwright calibrate 
tipwright certificate trans
tipwright certificate translate 
tipwright calibrate --as-l
tipwright calibrate --as-left 
tipwright calibrate --plan ten
tipwright calibrate --plan ten-rate 
tipwright calibrate --bench virt
tipwright calibrate --bench virtual-bench 
tipwright life INV
tipwright life INV-200-0002 
tipwright label INV-200-0002 --sheet tape
tipwright label INV-200-0002 --sheet tape-62 
tipwright certificate check 1 --person C
tipwright certificate check 1 --person C.\ Checker 
tipwright certificate check 1 --person C.\ Ch
tipwright certificate check 1 --person C.\ Checker 
tipwright certificate check 1 --person 'C. Ch
tipwright certificate check 1 --person 'C. Checker' 
tipwright evaluate measured
tipwright evaluate measured-elsewhere.csv 
tipwright no-such-command-
tipwright no-such-command-
LINES
printf '%s\n' "${typed[@]}" | python3 "$source/tests/support/completed_lines.py" "$shell" "$source/bench/package/completion" "$work/scratch" >"$work/lines" ||
  fail "the lines were not completed"
mapfile -t got <"$work/lines"
for i in "${!typed[@]}"; do
  [ "${got[i]-}" = "${wanted[i]}" ] || fail "$shell: '${typed[i]}' becomes '${got[i]-}', not '${wanted[i]}'"
done
[ "$failures" = 0 ] || exit 1
echo "$shell completes ${#typed[@]} lines"
