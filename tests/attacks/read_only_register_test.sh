#!/usr/bin/env bash
# A register on a medium that cannot be written opens for reading, and says so when it is to be written.
# Arguments: the program, the source folder. Needs a mount name space; exits with 77 (skipped) where none may be made.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../support/own_mounts.sh" "$@"
tipwright=$1
work=$(mktemp -d)
trap 'umount "$work/register" 2>/dev/null || true; rm -rf "$work"' EXIT
source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
"$tipwright" register create >/dev/null
"$tipwright" register customer add "Weather Service of Gaugewick (invented)" >/dev/null
mount --bind "$work/register" "$work/register"
mount -o remount,bind,ro "$work/register"
"$tipwright" register customer list >"$work/out" 2>"$work/err" || fail "a read-only register does not open: $(cat "$work/err")"
grep -q Gaugewick "$work/out" || fail "a read-only register lacks its customer: $(cat "$work/out")"
"$tipwright" register check >"$work/out" 2>&1 || fail "a read-only register is not checked: $(cat "$work/out")"
got=0
"$tipwright" register customer add "Another (invented)" >"$work/out" 2>"$work/err" || got=$?
[ "$got" != 0 ] && [ "$(wc -l <"$work/err")" = 1 ] || fail "writing to it: exit code $got, $(cat "$work/err")"
# One of an earlier schema, whose step to today's only helps writing, is read as it is.
mkdir "$work/earlier"
trap 'umount "$work/register" "$work/earlier" 2>/dev/null || true; rm -rf "$work"' EXIT
cp -r "$2/fixtures/ages/1.0/register/." "$work/earlier"
mount --bind "$work/earlier" "$work/earlier"
mount -o remount,bind,ro "$work/earlier"
TIPWRIGHT_REGISTER=$work/earlier "$tipwright" register check >"$work/out" 2>&1 || fail "a read-only register of 1.0: $(cat "$work/out")"
exit "$((failures > 0))"
