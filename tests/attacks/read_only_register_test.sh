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
# A transaction that was cut off stands half in the database, and only a writer can take it back: not judged.
mkdir "$work/torn"
trap 'umount "$work/register" "$work/earlier" "$work/torn" 2>/dev/null || true; rm -rf "$work"' EXIT
umask 077
printf 'a long passphrase\n' >"$work/phrase"
"$tipwright" keys make --keys "$work/keys" --passphrase-file "$work/phrase" >/dev/null
export TIPWRIGHT_REGISTER=$work/torn
"$tipwright" register create >/dev/null
"$tipwright" register seal --keys "$work/keys" --passphrase-file "$work/phrase" >/dev/null
python3 - "$work/torn/register.sqlite" <<'PYTHON' >/dev/null 2>&1 || true
import os, signal, sqlite3, sys
base = sqlite3.connect(sys.argv[1], isolation_level=None)
base.execute("PRAGMA journal_mode=DELETE")
base.execute("PRAGMA cache_size=2")
base.execute("BEGIN IMMEDIATE")
base.execute("CREATE TABLE torn AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 9000) SELECT i, hex(randomblob(60)) FROM n")
if os.fork() == 0:
    os.kill(os.getppid(), signal.SIGKILL)
    os._exit(0)
signal.pause()
PYTHON
[ -s "$work/torn/register.sqlite-journal" ] || fail "no journal was left behind"
torn() {
  got=0
  "$tipwright" verify --register "$work/torn" --public-keys "$work/keys/public-keys.txt" >"$work/out" 2>&1 || got=$?
  [ "$got" != 0 ] && grep -q "cannot be judged" "$work/out" || fail "$1: exit code $got: $(cat "$work/out")"
}
torn "a hot journal"
mount --bind "$work/torn" "$work/torn"
mount -o remount,bind,ro "$work/torn"
torn "a hot journal that cannot be written"
umount "$work/torn"
# Whoever may write opens it, and it is whole again.
"$tipwright" register check >"$work/out" 2>&1 || fail "a hot journal is not taken back: $(cat "$work/out")"
"$tipwright" verify --register "$work/torn" --public-keys "$work/keys/public-keys.txt" >"$work/out" 2>&1 ||
  fail "taken back, and not verified: $(cat "$work/out")"
exit "$((failures > 0))"
