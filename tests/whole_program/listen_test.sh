#!/usr/bin/env bash
# listen and ports of the shipped program: on a served bench over pseudo-terminals and TCP, on a recording, and
# with bad input. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
patience_s=60

"$tipwright" ports >"$work/log" 2>&1 || failed "ports"
"$tipwright" ports --json | python3 -c 'import json,sys; assert json.load(sys.stdin)["ok"]' || failed "ports --json"

for how in "" --tcp; do
  rm -f "$work/bench.toml"
  "$tipwright" serve --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 10 $how >"$work/served" &
  server=$!
  for _ in $(seq 100); do
    [ -s "$work/bench.toml" ] && break
    sleep 0.1
  done
  for role in balance pump counter climate; do
    timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role $role --lines 1 --for 30 >"$work/log" 2>&1 ||
      failed "listen --role $role $how"
    grep -q '^ *= ' "$work/log" || failed "nothing was understood of the $role $how"
  done
  timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role balance --ask identify --ask tare --lines 4 --for 30 \
    --record "$work/session$how" --json >"$work/log" 2>&1 || failed "listen --ask $how"
  python3 -c 'import json,sys; d=json.load(open(sys.argv[1])); assert d["understood"] >= 4 and d["not_understood"] == 0' \
    "$work/log" || failed "listen --json $how"
  timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role counter --ask identify --lines 3 --for 30 >"$work/log" 2>&1 ||
    failed "listen --role counter --ask $how"
  grep -q '= answer to identify: virtual-counter 1' "$work/log" || failed "the counter does not say who it is $how"
  kill "$server"
  wait "$server" 2>/dev/null || true
  server=
done

refuses 2 'cannot be asked to tare' listen --link "replay $work/session" --profile generic-tip-counter --ask tare
timeout 60 "$tipwright" listen --link "replay $source/fixtures/traffic/virtual-balance-print.traffic" \
  --profile generic-balance-print --ask identify --ask tare --for 30 >"$work/log" 2>&1 || failed "replay"
grep -q '= answer to identify: virtual-balance 1' "$work/log" || failed "the replay was not read"

sed -e '1,/recorded/!d' "$source/fixtures/traffic/virtual-balance-print.traffic" >"$work/other"
echo '0.1 < "N     12.34 g\r\n"' >>"$work/other"
refuses 3 'understood nothing' listen --link "replay $work/other" --profile generic-balance-print
grep -q 'W {mass:7} {unit} stable   column 1: wants "W", the line has "N     12.34 g"' "$work/log" || failed "no hint"
refuses 2 'no link is given' listen
refuses 2 'invalid link' listen --link "modem 3"
refuses 2 'no such file' listen --link "replay $work/none"
refuses 2 'escape' listen --link "pty /dev/pts/0" --send '\q'
refuses 2 'serve' listen --bench virtual-bench --role balance
refuses 2 'role' listen --bench virtual-bench
refuses 3 'cannot be reached' listen --link "tcp 127.0.0.1:1"
echo "all checks passed"
