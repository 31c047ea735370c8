#!/usr/bin/env bash
# Issuing many certificates through the shipped program while it is killed, stopped, and while the server of a
# shared register goes away: each certificate is issued whole or not at all, none is lost, a number is left out only where
# the kill met its giving, which the log tells, and the same command goes on. Also the passphrase at a terminal. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
pg_folder=
pg_stop() { :; }
finish() {
  pg_stop immediate >/dev/null 2>&1 || true
  rm -rf "$work" ${pg_folder:+"$pg_folder"}
}
trap finish EXIT
umask 077
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z

source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

printf 'a long passphrase\n' >"$work/passphrase"
secret=(--passphrase-file "$work/passphrase")

# --- the passphrase at a terminal: asked for twice, never shown ---
python3 - "$tipwright" >"$work/typed" <<'PYTHON' || fail "keys make at a terminal"
import os, pty, select, sys
child, terminal = pty.fork()
if child == 0:
    os.execv(sys.argv[1], [sys.argv[1], "keys", "make"])
seen = b""
answers = [b"a long passphrase\n", b"a long passphrase\n"]
while True:
    try:
        if not select.select([terminal], [], [], 60)[0]:
            sys.exit("no answer: " + repr(seen))
        piece = os.read(terminal, 1000)
    except OSError:
        break
    if not piece:
        break
    seen += piece
    if seen.rstrip(b" ").endswith(b":") and answers:
        os.write(terminal, answers.pop(0))
        seen += b"\n"
sys.stdout.write(seen.decode())
sys.exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
PYTHON
grep -q "Made key" "$work/typed" || fail "keys make at a terminal: $(cat "$work/typed")"
! grep -q "a long passphrase" "$work/typed" || fail "the passphrase is shown as it is typed"
! setsid -w "$tipwright" keys passphrase </dev/null >/dev/null 2>"$work/err" || fail "a passphrase came from nowhere"
grep -q "no terminal" "$work/err" || fail "without a terminal: $(cat "$work/err")"

# Records of many gauges from one run: only the serial number differs.
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
drafts() { # drafts PREFIX COUNT: that many checked drafts
  rm -rf "$work/records"
  python3 "$(dirname "${BASH_SOURCE[0]}")/../support/renamed_runs.py" "$work/run" INV-200-0002 "$1" "$2" "$work/records"
  "$tipwright" certificate draft "$work/records"/*/record.json >"$work/out"
  # shellcheck disable=SC2046
  "$tipwright" certificate check $(awk 'NR > 1 { print $1 }' "$work/out") --person "C. Checker" >/dev/null
}
make_register() {
  "$tipwright" register create >/dev/null
  "$tipwright" register person add "C. Checker" --may-check true >/dev/null
}
# whole COUNT: so many are issued, each with a number of its own; those that are left out the log tells, with why.
whole() {
  "$tipwright" register check >"$work/out" || fail "$(cat "$work/out")"
  "$tipwright" --json register log --last 10000 >"$work/log"
  "$tipwright" certificate list --rows 10000 | grep -o "B1-2026-[0-9]*" | sort >"$work/numbers"
  python3 - "$1" "$work/numbers" "$work/log" <<'PYTHON' || fail "numbers are not those of $1: $(tr '\n' ' ' <"$work/numbers")"
import json, sys
given = [int(line[-6:]) for line in open(sys.argv[2])]
left_out = set()
log = json.load(open(sys.argv[3]))
for row in log:
    if row["subject"] == "number gap":
        detail = json.loads(row["detail"])
        left_out |= set(range(detail["first_number"], detail["last_number"] + 1))
        assert "was cut off" in detail["reason"], detail
assert len(given) == len(set(given)) == int(sys.argv[1]), given
assert set(given) | left_out == set(range(1, max(given) + 1)) and not set(given) & left_out, (given, left_out)
PYTHON
}
issued() { "$tipwright" certificate list --rows 10000 | grep -c "B1-2026-[0-9]*" || true; }

# --- killed while it issues ---
make_register
drafts K 40
kills=0
for delay in 0.1 0.25 0.4 0.55 0.7 0.85 1 1.2; do
  "$tipwright" certificate issue --all "${secret[@]}" >/dev/null 2>&1 &
  pid=$!
  sleep "$delay"
  if kill -9 "$pid" 2>/dev/null; then kills=$((kills + 1)); fi
  wait "$pid" 2>/dev/null || true
  "$tipwright" register check >"$work/out" || fail "after a kill: $(cat "$work/out")"
done
[ "$kills" -ge 3 ] || fail "only $kills kills met a running program"
"$tipwright" certificate issue --all "${secret[@]}" >/dev/null 2>&1 || fail "issuing does not go on after kills"
whole 40
"$tipwright" register tidy >/dev/null
"$tipwright" --json register check | grep -q '"documents_named_by_nothing": 0' || fail "tidy leaves documents"

# --- Ctrl-C between groups, and on by the same command ---
drafts S 50
"$tipwright" certificate issue --all "${secret[@]}" >"$work/out" 2>"$work/err" &
pid=$!
for _ in $(seq 600); do
  grep -q "16 of 50" "$work/err" && break
  sleep 0.05
done
kill -TERM "$pid" 2>/dev/null || true
got=0
wait "$pid" || got=$?
now=$(issued)
if [ "$now" -lt 90 ]; then
  [ "$got" = 130 ] || fail "stopped issue: exit code $got"
  grep -q "the rest waits" "$work/err" || fail "stopped issue does not say what waits: $(cat "$work/err")"
fi
[ "$now" -gt 40 ] || fail "nothing was issued before the stop"
"$tipwright" certificate issue --all "${secret[@]}" >/dev/null 2>&1 || fail "issuing does not go on after a stop"
whole 90

# --- the server of a shared register goes away while it issues ---
pg_bin=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | tail -1)
if [ -z "$pg_bin" ]; then
  echo "no PostgreSQL server here: its part was left out"
else
  pg_folder=$(mktemp -d)
  as_pg() { "$@"; }
  if [ "$(id -u)" = 0 ]; then
    chown postgres "$pg_folder"
    as_pg() { (cd / && runuser -u postgres -- "$@"); }
  fi
  pg_start() { as_pg "$pg_bin/pg_ctl" -D "$pg_folder/data" -l "$pg_folder/log" -w -o "-k $pg_folder -c listen_addresses= -c fsync=off" start; }
  pg_stop() { as_pg "$pg_bin/pg_ctl" -D "$pg_folder/data" -w -m "$1" stop; }
  as_pg "$pg_bin/initdb" -D "$pg_folder/data" -A trust -U tipwright -E UTF8 --locale=C.UTF-8 --no-sync >/dev/null
  pg_start >/dev/null
  "$pg_bin/createdb" -h "$pg_folder" -U tipwright register
  export TIPWRIGHT_REGISTER="host=$pg_folder user=tipwright dbname=register"
  # A laboratory of its own: with the same keys numbers would go on after those of the register above.
  export TIPWRIGHT_KEYS=$work/pg-keys
  "$tipwright" keys make "${secret[@]}" >/dev/null
  make_register
  drafts P 48
  "$tipwright" certificate issue --all "${secret[@]}" >"$work/out" 2>"$work/err" &
  pid=$!
  for _ in $(seq 600); do
    grep -q "16 of 48" "$work/err" && break
    sleep 0.05
  done
  pg_stop immediate >/dev/null
  got=0
  wait "$pid" || got=$?
  [ "$got" = 6 ] || fail "server lost: exit code $got: $(cat "$work/err")"
  grep -v " issued$" "$work/err" >"$work/told"
  [ "$(wc -l <"$work/told")" = 1 ] || fail "server lost: not one line: $(cat "$work/told")"
  got=0
  "$tipwright" ask work >/dev/null 2>"$work/err" || got=$?
  [ "$got" = 6 ] || fail "no server: exit code $got"
  [ "$(wc -l <"$work/err")" = 1 ] || fail "no server: not one line: $(cat "$work/err")"
  pg_start >/dev/null
  "$tipwright" register check >"$work/out" || fail "after the server was lost: $(cat "$work/out")"
  [ "$(issued)" -ge 16 ] || fail "what was issued before the server was lost is gone"
  "$tipwright" certificate issue --all "${secret[@]}" >/dev/null 2>&1 || fail "issuing does not go on after the server came back"
  whole 48
  # A shared register moves to a folder of its own by backup and restore.
  "$tipwright" register backup "$work/backup" >/dev/null
  "$tipwright" register restore "$work/backup" --register "$work/moved" >/dev/null
  TIPWRIGHT_REGISTER=$work/moved whole 48
  pg_stop fast >/dev/null
fi

[ "$failures" = 0 ] || exit 1
echo "all checks passed"
