#!/usr/bin/env bash
# A register in which people log in: whoever checks is proved to be a second person; the log sealed and checked
# by public keys alone; an older state that comes back. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 077
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

# says PATTERN COMMAND...: done, and the answer holds the pattern.
says() {
  local pattern=$1 got=0
  shift
  "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" = 0 ] || fail "$*: exit code $got: $(cat "$work/err")"
  grep -qE -- "$pattern" "$work/out" || fail "$*: says '$(cat "$work/out")', expected /$pattern/"
}
for name in seal alice given carol wrong; do printf 'the passphrase of %s\n' "$name" >"$work/$name"; done
alice=(--person "A. Signatory" --person-passphrase-file "$work/alice")
carol=(--person "c.checker" --person-passphrase-file "$work/carol")
tom=(--person "T. Technician")
secret=(--passphrase-file "$work/seal")

printf 'short\n' >"$work/short"
expect 2 "must have 8 to" "$tipwright" register create --logins --person "A. Signatory" --new-passphrase-file "$work/short"
expect 2 "no register" "$tipwright" register person list
says "without a passphrase" "$tipwright" register create --logins --person "A. Signatory" --new-passphrase-file "$work/alice"
expect 2 "no terminal.*--person-passphrase-file" setsid "$tipwright" register person add X --person "A. Signatory"
expect 6 "not the passphrase of" "$tipwright" register person add X --person "A. Signatory" --person-passphrase-file "$work/wrong"
says "Entered" "$tipwright" register person add "C. Checker" --may-check true "${alice[@]}"
says "Entered" "$tipwright" register person add "T. Technician" "${alice[@]}"
expect 2 "looks the same|already" "$tipwright" register person add "C. Checkér" --may-check true "${alice[@]}"
says "must set their own" "$tipwright" register person passphrase "C. Checker" "${alice[@]}" --new-passphrase-file "$work/given"
says "Made key" "$tipwright" keys make "${secret[@]}"
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
says "INV-200-0002" "$tipwright" certificate draft "$work/run/record.json" "${tom[@]}"

# Given by another is not enough to check; without is not either; the environment carries none.
expect 6 "somebody else gave" "$tipwright" certificate check 1 --person "C. Checker" --person-passphrase-file "$work/given"
expect 2 "no terminal" env TIPWRIGHT_PERSON_PASSPHRASE=x setsid "$tipwright" certificate check 1 --person "C. Checker"
says "from now on" "$tipwright" register person passphrase --person "C. Checker" --person-passphrase-file "$work/given" \
  --new-passphrase-file "$work/carol"
says "C. Checker.*own" "$tipwright" register person list
says "checked" "$tipwright" certificate check 1 "${carol[@]}"
cp -r "$work/register" "$work/older"
says "B1-2026-00001" "$tipwright" certificate issue 1 "${alice[@]}" "${secret[@]}" --out "$work/issued"
says "1 of 1 certificates were checked by a second person who had logged in" "$tipwright" register check
says "Proved: .*register whole and as the laboratory sealed it" "$tipwright" verify --register "$work/register" \
  --public-keys "$work/keys/public-keys.txt" "$work/issued/B1-2026-00001/certificate.pdf"
grep -q "is a file of certificate B1-2026-00001 that the register" "$work/out" || fail "the certificate was not held against the register"
says "Sealed" "$tipwright" register seal "${alice[@]}" "${secret[@]}"

# An older state comes back: no number twice, and the second certificate of a number is told.
cp -r "$work/register" "$work/newer"
rm -rf "$work/register" && mv "$work/older" "$work/register"
says "B1-2026-00002" "$tipwright" certificate issue 1 "${alice[@]}" "${secret[@]}" --out "$work/issued"
grep -q "warning: .*older backup came back" "$work/err" || fail "no warning: $(cat "$work/err")"
says "all as it should be" "$tipwright" register check
expect 5 "" "$tipwright" verify --register "$work/register" --public-keys "$work/keys/public-keys.txt" \
  "$work/issued/B1-2026-00001/certificate.pdf"
grep -q "holds no certificate B1-2026-00001" "$work/out" || fail "the lost certificate is not told: $(cat "$work/out")"
rm -rf "$work/register" && mv "$work/newer" "$work/register"
expect 5 "" "$tipwright" register check
grep -q "older backup came back, or entries were taken away" "$work/out" || fail "register check: $(cat "$work/out")"

# Wrong passphrases are counted.
for _ in 1 2 3 4 5; do
  expect 6 "not the passphrase of" "$tipwright" certificate check 1 --person "C. Checker" --person-passphrase-file "$work/wrong"
done
expect 6 "wait 10 minutes" "$tipwright" certificate check 1 "${carol[@]}"

[ "$failures" = 0 ]
