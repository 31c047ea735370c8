#!/usr/bin/env bash
# The shipped program against a virtual bench that another process serves, on real pseudo-terminals and on real
# TCP, at twenty times the wall clock: the description it writes says how fast, and when runs on it begin. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"

write_quick_plan "$work/quick.toml"
cat >>"$work/quick.toml" <<'TOML'
[[step]]
intensity_mm_h = 300
min_tips = 10
time_limit_s = 300
TOML

for how in "" --tcp; do
  rm -f "$work/bench.toml"
  "$tipwright" serve --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 20 $how \
    --started-at 2027-01-06T08:00:00Z >"$work/served" &
  server=$!
  for _ in $(seq 100); do
    [ -s "$work/bench.toml" ] && break
    sleep 0.1
  done
  grep -q '^link = "virtual"' "$work/bench.toml" && { echo "FAILED: a link is still virtual"; exit 1; }
  timeout 120 "$tipwright" calibrate --bench "$work/bench.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" \
    --out "$work/out$how" >"$work/log" 2>&1 || { echo "FAILED: calibrate $how:"; cat "$work/log"; exit 1; }
  grep -q '"started_at": "2027-01-06T08:00:00Z"' "$work/out$how/record.json" || { echo "FAILED: the run began another day"; exit 1; }
  refuses 2 'something already' serve --gauge demo-bucket-200-twin --out "$work/bench.toml"
  "$tipwright" verify "$work/out$how/journal.twj" "$work/out$how/record.json" "$work/out$how/certificate.pdf" >"$work/verified" ||
    { echo "FAILED: verify $how:"; cat "$work/verified"; exit 1; }
  kill "$server"
  wait "$server" 2>/dev/null || true
  server=
done
echo "all checks passed"
