#!/usr/bin/env bash
# A register changed behind the program's back: the next command does not make the change its own, and nothing is issued
# on it; keys past their end and a lost list of numbers given prove nothing. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 077
source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
printf 'a long passphrase\n' >"$work/phrase"
printf 'another long passphrase\n' >"$work/new"
secret=(--passphrase-file "$work/phrase")

# behind REGISTER STATEMENT...: past the guards, which stand again afterwards.
behind() {
  python3 - "$@" <<'PYTHON'
import sqlite3, sys
base = sqlite3.connect(sys.argv[1] + "/register.sqlite", isolation_level=None)
base.execute("PRAGMA ignore_check_constraints=ON")
guards = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
for name, _ in guards:
    base.execute("DROP TRIGGER " + name)
for statement in sys.argv[2:]:
    base.execute(statement)
for _, sql in guards:
    base.execute(sql)
PYTHON
}
# refused WHAT WORDS COMMAND...: one line that says so, and why.
refused() {
  local what=$1 words=$2 got=0
  shift 2
  "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" != 0 ] && grep -qF "$words" "$work/out" "$work/err" || fail "$what: exit code $got: $(cat "$work/out" "$work/err")"
}
wrong() { # wrong WHAT WORDS [REGISTER]: register check and verify --register both tell.
  refused "$1" "$2" env TIPWRIGHT_REGISTER="${3:-$work/register}" "$tipwright" register check
  refused "$1, verify" "$2" "$tipwright" verify --register "${3:-$work/register}" --public-keys "$work/keys/public-keys.txt"
}
again() { # a fresh copy of the register as it stood
  rm -rf "$work/register"
  cp -r "$work/before" "$work/register"
}

"$tipwright" keys make "${secret[@]}" >/dev/null
[ -s "$work/keys/issued-numbers.txt" ] || fail "keys make begins no list of numbers given"
"$tipwright" register create >/dev/null
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
"$tipwright" certificate draft "$work/run/record.json" >/dev/null
cp -r "$work/register" "$work/before"
cp -r "$work/keys" "$work/keys-before"

# --- never checked ---
behind "$work/register" "UPDATE certificates SET state = 'checked', checked_by = 2, checked_at = '2026-11-23T08:00:00Z'"
refused "a draft that nobody checked" "changed outside the program" "$tipwright" certificate issue 1 "${secret[@]}"
wrong "a draft that nobody checked" "is not what the audit log says was entered last"

# --- a virtual record made real, and put back after the issue ---
again
"$tipwright" certificate check 1 --person "C. Checker" >/dev/null
edited=$(python3 - "$work" <<'PYTHON'
import base64, hashlib, os, sys
work = sys.argv[1]
text = open(work + "/run/record.json").read()
edited = text.replace('"invented": true', '"invented": false', 1).replace('"origin": "virtual_bench"', '"origin": "real_bench"', 1)
assert edited != text
digest = hashlib.sha256(edited.encode()).hexdigest()
os.makedirs(f"{work}/register/documents/{digest[:2]}", exist_ok=True)
open(f"{work}/register/documents/{digest[:2]}/{digest}", "w").write(edited)
print(base64.b64encode(bytes.fromhex(digest)).decode())
PYTHON
)
behind "$work/register" "UPDATE records SET sha256 = '$edited'"
refused "another record under the draft" "record 1" "$tipwright" certificate issue 1 "${secret[@]}"
wrong "another record under the draft" "record 1"

# --- the next legitimate change ---
again
behind "$work/register" "UPDATE gauges SET catch_diameter_mm = 190"
wrong "a gauge's diameter" "gauge 1"
refused "a change after it" "gauge 1" "$tipwright" register gauge change INV-200-0002 --note moved
wrong "a gauge's diameter, after a change" "gauge 1"

# --- what the database demands ---
again
python3 - "$work/register/register.sqlite" <<'PYTHON'
import sqlite3, sys
base = sqlite3.connect(sys.argv[1], isolation_level=None)
base.execute("PRAGMA writable_schema=1")
base.execute("UPDATE sqlite_master SET sql = replace(sql, 'STRICT', '') WHERE type = 'table'")
base.execute("PRAGMA writable_schema=reset")
base.execute("UPDATE instruments SET serial = CAST(serial AS BLOB)")
PYTHON
wrong "tables that are not strict" "table instruments is not as the register makes it"

# --- the list of numbers given is gone, with the register as it was before its first seal ---
again
"$tipwright" certificate check 1 --person "C. Checker" >/dev/null
cp -r "$work/register" "$work/checked"
"$tipwright" certificate issue 1 "${secret[@]}" >/dev/null
"$tipwright" register check >"$work/out" || fail "what is as it should be: $(cat "$work/out")"
mv "$work/register" "$work/issued"
cp -r "$work/checked" "$work/register"
cp -r "$work/keys" "$work/keys-issued"
rm "$work/keys"/issued-numbers.txt*
refused "no list of numbers given" "register seal --numbers-anew" "$tipwright" certificate issue 1 "${secret[@]}"
refused "no list of numbers given, check" "register seal --numbers-anew" "$tipwright" register check
"$tipwright" register seal --numbers-anew "the disk broke" "${secret[@]}" >/dev/null || fail "the list is not made anew"
"$tipwright" register log | grep -q "the disk broke" || fail "the log does not say why the list was made anew"
"$tipwright" certificate issue 1 "${secret[@]}" >/dev/null || fail "nothing is issued with the list made anew"
"$tipwright" register check >"$work/out" || fail "with the list made anew: $(cat "$work/out")"
rm -rf "$work/register" "$work/keys"
cp -r "$work/issued" "$work/register"
cp -r "$work/keys-issued" "$work/keys"

# --- seals by a key past its end ---
cp -r "$work/keys" "$work/thief"
export TIPWRIGHT_TRIAL_NOW=2027-01-01T08:00:00Z
"$tipwright" keys rotate "${secret[@]}" --new-passphrase-file "$work/new" >/dev/null
grep -q "^key $("$tipwright" keys list | awk 'END { print $1 }')$" "$work/keys/issued-numbers.txt" ||
  fail "the list of numbers given is not signed with the new key"
"$tipwright" register check >"$work/out" || fail "after the keys were changed: $(cat "$work/out")"
export TIPWRIGHT_TRIAL_NOW=2027-03-01T08:00:00Z
"$tipwright" register customer add "Not there (invented)" >/dev/null
TIPWRIGHT_KEYS=$work/thief "$tipwright" register seal "${secret[@]}" >/dev/null
wrong "sealed by a key that had retired" "was not in use"
"$tipwright" register seal --passphrase-file "$work/new" >"$work/out" 2>&1 || fail "seal with the key in use: $(cat "$work/out")"
"$tipwright" register check >"$work/out" || fail "sealed again with the key in use: $(cat "$work/out")"
exit "$((failures > 0))"
