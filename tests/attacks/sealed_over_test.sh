#!/usr/bin/env bash
# Whoever seals a log vouches for it: what was changed past the program, an older backup and an older note are not made
# lawful by the next seal or issue; no number is given twice; two that change the keys at once lose nothing; what is
# verified stays as it is; passphrases that are guessed. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 077
source "$source/tests/support/expect.sh"
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
printf 'a long passphrase\n' >"$work/phrase"
secret=(--passphrase-file "$work/phrase")

# past REGISTER SCRIPT: SQL past the guards, in Python with `base`; the guards stand again afterwards.
past() {
  python3 - "$1" "$2" <<'PYTHON'
import base64, hashlib, sqlite3, sys
base = sqlite3.connect(sys.argv[1] + "/register.sqlite", isolation_level=None)
guards = base.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
for name, _ in guards:
    base.execute("DROP TRIGGER " + name)
def chain_anew():
    rows = base.execute("SELECT at, person, action, subject, subject_id, detail, state FROM audit ORDER BY seq").fetchall()
    base.execute("DELETE FROM audit")
    before = ""
    for seq, row in enumerate(rows, 1):
        digest = hashlib.sha256(before.encode())
        for field in map(str, (seq, *row)):
            digest.update(f"{len(field.encode())}:{field}".encode())
        before = base64.b64encode(digest.digest()).decode()
        base.execute("INSERT INTO audit (seq, at, person, action, subject, subject_id, detail, state, hash) "
                     "VALUES (?,?,?,?,?,?,?,?,?)", (seq, *row, before))
    base.execute("UPDATE audit_head SET seq = ?, hash = ?", (len(rows), before))
exec(sys.argv[2])
for _, sql in guards:
    base.execute(sql)
PYTHON
}
refused() { # refused WHAT WORDS COMMAND...: with one line that says so
  local what=$1 words=$2 got=0
  shift 2
  "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" != 0 ] && grep -qF -- "$words" "$work/out" "$work/err" || fail "$what: exit code $got: $(cat "$work/out" "$work/err")"
}
says() { # says WHAT WORDS COMMAND...: and does it
  local what=$1 words=$2
  shift 2
  "$@" >"$work/out" 2>"$work/err" || fail "$what: exit code $?: $(cat "$work/out" "$work/err")"
  grep -qF -- "$words" "$work/out" "$work/err" || fail "$what: $(cat "$work/out" "$work/err")"
}
state() { # state REGISTER [NOTE]: that register, and that note beside the keys
  rm -rf "$work/register"
  cp -r "$work/$1" "$work/register"
  cp "$work/${2:-note-$1}" "$work/keys/issued-numbers.txt"
}
keep() { # keep NAME: both as they stand
  cp -r "$work/register" "$work/$1"
  cp "$work/keys/issued-numbers.txt" "$work/note-$1"
}
issue() { "$tipwright" certificate issue "$@" "${secret[@]}"; }
seal() { "$tipwright" register seal "${secret[@]}" "$@"; }
verify_register() { "$tipwright" verify --register "$work/register" --public-keys "$work/keys/public-keys.txt"; }

"$tipwright" keys make "${secret[@]}" >/dev/null
"$tipwright" register create >/dev/null
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
python3 "$source/tests/support/renamed_runs.py" "$work/run" INV-200-0002 A 4 "$work/runs"
"$tipwright" certificate draft "$work"/runs/*/record.json >/dev/null
"$tipwright" certificate check 1 2 3 4 --person "C. Checker" >/dev/null
"$tipwright" register customer add "Left out later (invented)" >/dev/null
keep r0
issue 1 >/dev/null
keep r1
issue 2 >/dev/null
keep r2

# --- an entry taken out, the chain computed again, the seals gone ---
taken_out="base.execute(\"DELETE FROM audit WHERE subject = 'customer' AND detail LIKE '%Left out later%'\")
base.execute(\"DELETE FROM customers WHERE name LIKE 'Left out later%'\")
base.execute('DELETE FROM log_seals')
chain_anew()"
past "$work/register" "$taken_out"
refused "a log computed again" "an older backup came back, or entries were taken away" "$tipwright" register check
refused "sealing over it" "it is not sealed like this" seal
refused "issuing over it" "it is not sealed like this" issue 3
refused "and it is told as before" "an older backup came back, or entries were taken away" "$tipwright" register check
seal --as-it-stands "the disk was mended (invented)" >/dev/null 2>&1 || fail "not accepted with a reason"
says "what was accepted stays told" "the disk was mended (invented)" "$tipwright" register check
issue 3 >/dev/null || fail "nothing is issued after it was accepted"
says "also after the next issue" "the disk was mended (invented)" "$tipwright" register check
says "and to whoever verifies" "the disk was mended (invented)" verify_register
refused "nothing to accept" "leave out --as-it-stands" seal --as-it-stands "again"

# --- the seals alone ---
state r2
past "$work/register" "base.execute('DELETE FROM log_seals')"
refused "seals taken away, seal" "the seal is missing" seal
refused "seals taken away, issue" "the seal is missing" issue 3

# --- an older backup ---
"$tipwright" register check >/dev/null 2>&1 || true
state r2
"$tipwright" register customer add "Lost with the backup (invented)" >/dev/null
seal >/dev/null
keep r2-later
state r2 note-r2-later
says "an older backup is sealed" "warning: the register lacks what it held when it was last sealed" seal
says "its loss stays told" "an older backup came back" "$tipwright" register check
says "its loss stays told to whoever verifies" "an older backup came back" verify_register
state r2 note-r2-later
says "an older backup issues" "warning: the register lacks what it held when it was last sealed" issue 3
grep -q B1-2026-00003 "$work/out" || fail "an older backup: $(cat "$work/out")"
says "its loss stays told after an issue" "an older backup came back" "$tipwright" register check

# --- an older note, and the one that keys make wrote ---
for note in note-r1 note-r0; do
  state r2 $note
  refused "$note" "an older note came back" "$tipwright" register check
  says "issue with $note" "warning: " issue 4
  grep -q B1-2026-00003 "$work/out" || fail "$note: not the number after both: $(cat "$work/out")"
  says "$note stays told" "an older note came back" "$tipwright" register check
done

# --- the keys' disk is full at the second note, and the register comes back as it was ---
if strace -o /dev/null true 2>/dev/null; then
  state r1
  renames=$(strace -f -e trace=rename -o "$work/trace" "$tipwright" certificate issue 2 "${secret[@]}" >/dev/null 2>&1 &&
    grep 'rename(' "$work/trace" | awk '/issued-numbers.txt"\) *= 0/ { last = NR } END { print last }')
  state r1
  got=0
  strace -f -o /dev/null -e trace=rename -e "inject=rename:error=ENOSPC:when=$renames" \
    "$tipwright" certificate issue 2 "${secret[@]}" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" = 6 ] || fail "an issue that could not note its end: exit code $got: $(cat "$work/out" "$work/err")"
  grep -q "1 of 1 are issued" "$work/err" || fail "an issue that could not note its end: $(cat "$work/err")"
  grep -q B1-2026-00002 "$work/out" || fail "an issue that could not note its end: $(cat "$work/out")"
  says "what was begun is told" "B1-2026-00002 were about to be given" "$tipwright" register check
  rm -rf "$work/register"
  cp -r "$work/r1" "$work/register"
  says "what was begun is told, of the older register too" "B1-2026-00002 were about to be given" "$tipwright" register check
  says "the number that may be given is left out" "B1-2026-00003" issue 3
  says "the log tells which and why" "an issue was cut off" "$tipwright" register log
else
  echo "no strace here: a full disk at the second note was left out"
fi

# --- two revocations at once ---
export TIPWRIGHT_TRIAL_NOW=2028-03-01T00:00:00Z
for round in 1 2 3; do
  rm -rf "$work/k"
  TIPWRIGHT_TRIAL_NOW=2026-01-01T00:00:00Z "$tipwright" keys make --keys "$work/k" "${secret[@]}" >/dev/null
  for day in 2027-01-01 2028-01-01; do
    TIPWRIGHT_TRIAL_NOW=${day}T00:00:00Z "$tipwright" keys rotate --keys "$work/k" "${secret[@]}" \
      --new-passphrase-file "$work/phrase" >/dev/null
  done
  mapfile -t ids < <(awk '/^key/ { print $2 }' "$work/k/public-keys.txt")
  "$tipwright" keys revoke "${ids[0]}" --keys "$work/k" --from 2026-02-01 --reason "stolen one" "${secret[@]}" >/dev/null &
  "$tipwright" keys revoke "${ids[1]}" --keys "$work/k" --from 2027-02-01 --reason "stolen two" "${secret[@]}" >/dev/null &
  wait
  [ "$(grep -c '^revoked' "$work/k/public-keys.txt")" = 2 ] || fail "round $round: a revocation was lost"
done
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z

# --- what is verified stays as it is, however its last writer left it ---
unchanged() { # unchanged WHAT
  local before
  before=$(sha256sum <"$work/register/register.sqlite")
  verify_register >"$work/out" 2>&1 || fail "verify, $1: $(cat "$work/out")"
  [ "$before" = "$(sha256sum <"$work/register/register.sqlite")" ] || fail "verify writes into the register: $1"
}
state r2
unchanged "closed"
python3 -c "import sqlite3, sys; sqlite3.connect(sys.argv[1]).execute('PRAGMA journal_mode=DELETE')" "$work/register/register.sqlite"
unchanged "with a rollback journal"
state r2
python3 - "$work/register" <<'PYTHON'
import os, sqlite3, sys
base = sqlite3.connect(sys.argv[1] + "/register.sqlite", isolation_level=None)
base.execute("PRAGMA wal_autocheckpoint=0")
base.execute("CREATE TABLE x (y)")
base.execute("DROP TABLE x")
os._exit(0)  # what was written stands in the write-ahead log
PYTHON
[ -s "$work/register/register.sqlite-wal" ] || fail "nothing waits in the write-ahead log"
unchanged "with a write-ahead log"

# --- passphrases: where memory cannot be locked, and those that are guessed ---
unlockable=(bash -c 'ulimit -l 0; exec "$@"' -)
[ "$(id -u)" != 0 ] || unlockable=(setpriv --bounding-set=-ipc_lock --inh-caps=-ipc_lock "${unlockable[@]}")
if "${unlockable[@]}" true 2>/dev/null; then
  says "memory that cannot be locked" "memory cannot be locked here" "${unlockable[@]}" "$tipwright" register seal "${secret[@]}"
  [ "$(grep -c "memory cannot be locked" "$work/err")" = 1 ] || fail "said more than once: $(cat "$work/err")"
fi
seal 2>"$work/err" >/dev/null
! grep -q "memory cannot be locked" "$work/err" || [ "$(ulimit -l)" = 0 ] || fail "said where memory can be locked"
laboratory=$(awk -F'"' '/^\[laboratory\]/ { here = 1 } here && /^name/ { print $2; exit }' "$source/templates/benches/virtual-bench.toml")
for guessed in tipwright tipwright2026 Signatory2026 "a. signatory" "$laboratory" "$laboratory 1"; do
  printf '%s\n' "$guessed" >"$work/guessed"
  refused "passphrase $guessed" "guessed at once" "$tipwright" keys make --keys "$work/other" --passphrase-file "$work/guessed"
  refused "new passphrase $guessed" "guessed at once" "$tipwright" keys passphrase "${secret[@]}" --new-passphrase-file "$work/guessed"
done
[ ! -e "$work/other" ] || fail "keys were made with a passphrase that is guessed"
printf 'checker 2026\n' >"$work/guessed"
"$tipwright" register person passphrase --new-passphrase-file "$work/phrase" >/dev/null
refused "the name of whom it is given to" "guessed at once" "$tipwright" register person passphrase "C. Checker" \
  --person-passphrase-file "$work/phrase" --new-passphrase-file "$work/guessed"
[ "$failures" = 0 ] || exit 1
echo "all checks passed"
