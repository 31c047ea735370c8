#!/usr/bin/env bash
# A vessel without a drain valve is emptied by hand: while it is off the balance no water flows, however long it takes;
# once it stands there again the run goes on; what it waited is none of its own time. bench-check and pump-calibration fill no
# vessel that nobody has emptied. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1 source=$2
source "$source/tests/support/served_bench.sh"
say() { echo "load $1" >&7; }
# wait WORDS FILE: until they stand there.
wait_for() {
  for _ in $(seq 600); do
    grep -q -- "$1" "$2" 2>/dev/null && return
    sleep 0.05
  done
  failed "no '$1' in ${2##*/}"
}
# bench CAPACITY EMPTY: without a drain valve, in $work/by-hand.toml.
bench() {
  sed -e "s/^drain_valve = true.*/drain_valve = false\nempty_g = $2/" -e "0,/^capacity_g = .*/s//capacity_g = $1/" \
    -e 's/^run_h = [0-9]*/run_h = 0.1/' "$source/templates/benches/virtual-bench.toml" >"$work/by-hand.toml"
  grep -q '^drain_valve = false' "$work/by-hand.toml" || { echo "FAILED: the bench has its drain valve still"; exit 1; }
}
# serve LOAD: that bench, with so many grams on its balance beside the vessel of 180 g.
serve() {
  if [ -n "$server" ]; then
    exec 7>&-
    kill "$server"
  fi
  rm -f "$work/bench.toml" "$work/hand"
  mkfifo "$work/hand"
  "$tipwright" serve --bench "$work/by-hand.toml" --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 20 --hand \
    <"$work/hand" >"$work/served" &
  server=$!
  exec 7>"$work/hand"
  for _ in $(seq 100); do
    [ -s "$work/bench.toml" ] && break
    sleep 0.1
  done
  patient "$work/bench.toml"
  say "$1"
  sleep 1
}
write_quick_plan "$work/quick.toml"
cat >>"$work/quick.toml" <<'TOML'
[[step]]
intensity_mm_h = 200
min_tips = 10
time_limit_s = 300
TOML

# Nobody can empty the vessel of a bench inside the program: that is said, and not waited for.
bench 260 180
refuses 3 'nobody can reach' calibrate --bench "$work/by-hand.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" \
  --out "$work/inside"

bench 260 880
serve 700  # the empty vessel
timeout 120 "$tipwright" calibrate --bench "$work/bench.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" \
  --out "$work/out" >"$work/log" 2>&1 &
run=$!
wait_for 'Empty the vessel' "$work/log"
say 200  # lifted, with what is in it
wait_for 'The vessel is off the balance' "$work/log"
# Longer than the run itself may last: six minutes of the bench.
for _ in $(seq 600); do
  [ "$(tail -n 2 "$work/out/journal.twj" | head -n 1 | awk '{ print int($2) }')" -lt 400 ] || break
  sleep 0.05
done
grep ' state ' "$work/out/journal.twj" | tail -n 1 | grep -q 'to=drain' ||
  failed "water flows although the vessel is off the balance"
# A vessel that is put back with most of what was in it is not empty.
held=$(python3 - "$work/out/journal.twj" <<'PY'
import re, sys
print(round(float(re.findall(r" weight .*?mass_g=([-0-9.]+)", open(sys.argv[1]).read())[-1]) - 380, 1))
PY
)
less() { python3 -c 'import sys; print(700 - float(sys.argv[1]) * float(sys.argv[2]))' "$held" "$1"; }
say "$(less 0.1)"
sleep 1.5
grep ' state ' "$work/out/journal.twj" | tail -n 1 | grep -q 'to=drain' || failed "a vessel that is full passes for an empty one"
say "$(less 1)"
got=0
wait "$run" || got=$?
[ "$got" = 0 ] || failed "exit code $got after the vessel came back"
[ "$(tail -n 1 "$work/out/journal.twj" | awk '{ print int($2) }')" -gt 400 ] || failed "the hand was not waited for long enough to prove anything"
grep -q 'complete=true' "$work/out/journal.twj" || failed "the run did not come to its end"

# What stands there may be water: a second check does not fit beside that of the first, until the vessel was emptied.
bench 650 0
serve 200  # with what the bench has on its balance, the empty vessel shows 380 g
on_it=(--bench "$work/bench.toml" --gauge demo-bucket-200-twin)
check=(bench-check "${on_it[@]}" --watch 5 --flow 240 --volume-mL 150 --without-contacts)
timeout 120 "$tipwright" "${check[@]}" >"$work/log" 2>&1 || failed "a check with an empty vessel"
refuses 3 'nobody lifted, emptied and put back the vessel' "${check[@]}"
grep -q 'Empty the vessel' "$work/log" || failed "nobody is asked to empty the vessel"
refuses 3 'nobody lifted, emptied and put back the vessel' pump-calibration "${on_it[@]}" --flows 100 --target 2
timeout 120 "$tipwright" "${check[@]}" >"$work/log" 2>&1 &
run=$!
wait_for 'Empty the vessel' "$work/log"
say 0  # lifted
sleep 1
say 60  # back, without what was in it
got=0
wait "$run" || got=$?
[ "$got" = 0 ] || failed "exit code $got after the vessel was emptied"
echo "all checks passed"
