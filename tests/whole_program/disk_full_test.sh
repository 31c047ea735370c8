#!/usr/bin/env bash
# A disk that becomes full in mid-run, on a real file system of 4 MiB: the water stops, what is there is kept, one
# line says why; with space again the run is resumed. Arguments: the program, the source folder.
# Needs a mount name space; exits with 77 (skipped) where none may be made. What recover_test.sh does with a limit on
# the size of files works everywhere.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../support/own_mounts.sh" "$@"
tipwright=$1
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
disk=$work/disk
mkdir "$disk"
mount -t tmpfs -o size=4m none "$disk"
trap 'umount "$disk"; cleanup' EXIT
fill() {  # KiB to leave
  head -c $((($(df --output=avail -k "$disk" | tail -n 1) - $1) * 1024)) /dev/zero >"$disk/filler"
}
# Exit code 3, one line of error that says what to do, no certificate; the journal is there up to a whole line.
told_full() {  # folder
  [ "$got" = 3 ] || failed "a full disk: exit code $got"
  [ "$(wc -l <"$work/err")" = 1 ] && grep -q 'No space left on device.*free space' "$work/err" ||
    failed "a full disk was told as: $(cat "$work/err")"
  [ ! -e "$1/certificate.pdf" ] || failed "a full disk gave a certificate"
  got=0
  "$tipwright" recover "$1" >"$work/log" 2>&1 || got=$?
  [ "$got" = 4 ] && grep -q 'kept .* steps' "$work/log" || failed "recover says not what is kept: exit code $got"
}

# Three steps in lockstep; the disk has room for about half of them.
fill 500
got=0
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check --out "$disk/run" \
  >"$work/log" 2>"$work/err" || got=$?
told_full "$disk/run"
# Still full: the run is not resumed, and nothing is lost by having tried.
cp "$disk/run/journal.twj" "$work/before"
got=0
"$tipwright" recover "$disk/run" --resume >"$work/log" 2>"$work/err" || got=$?
[ "$got" = 3 ] || [ "$got" = 2 ] || failed "recover on a full disk: exit code $got, said $(cat "$work/err")"
[ "$(wc -l <"$work/err")" = 1 ] || failed "recover on a full disk: more than one line"
cmp -s -n "$(head -n -1 "$work/before" | wc -c)" "$work/before" "$disk/run/journal.twj" ||
  failed "recover on a full disk lost entries"
rm "$disk/filler"
"$tipwright" recover "$disk/run" --resume >"$work/log" 2>&1 || failed "recover with space again"
"$tipwright" verify "$disk/run/journal.twj" "$disk/run/record.json" "$disk/run/certificate.pdf" >"$work/log" 2>&1 ||
  failed "verify of a run recovered from a full disk"
rm -r "$disk/run"

# On a served bench the disk is filled while water flows: the balance then tells that it stands.
"$tipwright" serve --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 20 >"$work/served" &
server=$!
for _ in $(seq 100); do
  [ -s "$work/bench.toml" ] && break
  sleep 0.1
done
patient "$work/bench.toml"
write_quick_plan "$work/quick.toml"
run_served() { timeout 100 "$tipwright" "$@" --speed 20; }
run_served calibrate --bench "$work/bench.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" --out "$disk/run" \
  >"$work/log" 2>"$work/err" &
run=$!
for _ in $(seq 600); do
  grep -q 'to=collect' "$disk/run/journal.twj" 2>/dev/null && break
  sleep 0.05
done
head -c 8M /dev/zero >"$disk/filler" 2>/dev/null || true
got=0
wait "$run" || got=$?
told_full "$disk/run"
mass() {
  timeout 30 "$tipwright" listen --bench "$work/bench.toml" --role balance --lines 3 --json |
    python3 -c 'import json, re, sys
said = [str(one) for one in json.load(sys.stdin)["traffic"]]
print(re.findall(r"= ?(-?[0-9.]+) g|W +(-?[0-9.]+) g", " ".join(said))[-1][-1])'
}
before=$(mass)
sleep 1  # twenty seconds of the bench's: 25 g of water if the pump ran
after=$(mass)
python3 -c 'import sys; a, b = map(float, sys.argv[1:]); assert abs(a - b) < 0.5, (a, b)' "$before" "$after" ||
  failed "water flows on: $before g, then $after g"
rm "$disk/filler"
run_served recover "$disk/run" --resume >"$work/log" 2>&1 || failed "recover on the served bench"
"$tipwright" verify "$disk/run/journal.twj" "$disk/run/record.json" >"$work/log" 2>&1 || failed "verify on the served bench"
echo "all checks passed"
