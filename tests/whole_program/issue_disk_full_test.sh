#!/usr/bin/env bash
# A disk that becomes full in the middle of issuing, on a real file system: some are issued whole, one line says how
# many of how many, no number is lost, and with space again the same command does the rest. Arguments: the program, the
# source folder. Needs a mount name space; exits with 77 (skipped) where none may be made.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../support/own_mounts.sh" "$@"
tipwright=$1
source=$2
work=$(mktemp -d)
mkdir "$work/disk"
mount -t tmpfs -o size=96m none "$work/disk"
trap 'umount "$work/disk"; rm -rf "$work"' EXIT
umask 077
export HOME=$work TIPWRIGHT_REGISTER=$work/disk/register TIPWRIGHT_KEYS=$work/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
source "$source/tests/support/expect.sh"
printf 'a long passphrase\n' >"$work/passphrase"
"$tipwright" keys make --passphrase-file "$work/passphrase" >/dev/null
"$tipwright" register create >/dev/null
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
python3 "$source/tests/support/renamed_runs.py" "$work/run" INV-200-0002 F 40 "$work/records"
"$tipwright" certificate draft "$work/records"/*/record.json >"$work/out"
# shellcheck disable=SC2046
"$tipwright" certificate check $(awk 'NR > 1 { print $1 }' "$work/out") --person "C. Checker" >/dev/null
used_KiB() { df --output=used -k "$work/disk" | tail -n 1; }
issued() { "$tipwright" certificate list --rows 10000 | grep -c "B1-2026-[0-9]*" || true; }

# One alone tells how much each takes; then room for about half of the rest.
before=$(used_KiB)
first=$("$tipwright" --json certificate list --rows 1 | python3 -c 'import json, sys; print(json.load(sys.stdin)["rows"][0]["id"])' \
  2>/dev/null || echo 1)
"$tipwright" certificate issue "$first" --passphrase-file "$work/passphrase" >/dev/null
each=$(($(used_KiB) - before))
room=$((20 * each))
head -c $((($(df --output=avail -k "$work/disk" | tail -n 1) - room) * 1024)) /dev/zero >"$work/disk/filler"
got=0
"$tipwright" certificate issue --all --passphrase-file "$work/passphrase" >"$work/out" 2>"$work/err" || got=$?
now=$(issued)
[ "$got" = 6 ] || fail "a full disk: exit code $got: $(cat "$work/err")"
[ "$now" -gt 1 ] && [ "$now" -lt 40 ] || fail "the disk was not full in the middle: $now of 40"
grep -q "$((now - 1)) of 39 are issued, the rest waits: " "$work/err" || fail "$now are issued, said: $(cat "$work/err")"
[ "$(grep -c '^tipwright: ' "$work/err")" = 1 ] || fail "more than one line: $(cat "$work/err")"
rm "$work/disk/filler"
"$tipwright" register check >"$work/out" || fail "after a full disk: $(cat "$work/out")"
"$tipwright" certificate issue --all --passphrase-file "$work/passphrase" >/dev/null 2>&1 || fail "issuing does not go on"
"$tipwright" register check >"$work/out" || fail "at the end: $(cat "$work/out")"
"$tipwright" certificate list --rows 10000 | grep -o "B1-2026-[0-9]*" | sort >"$work/numbers"
seq -f "B1-2026-%05g" 40 | cmp -s - "$work/numbers" || fail "numbers have gaps: $(tr '\n' ' ' <"$work/numbers")"
[ "$failures" = 0 ] || exit 1
echo "all checks passed: full after $now of 40"
