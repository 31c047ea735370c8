#!/usr/bin/env bash
# Several lanes in one program: each gives what it gives alone, a fault of one leaves the others be, Ctrl-C stops all.
# Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
fail() {
  echo "FAILED: $*" >&2
  exit 1
}

"$tipwright" lanes demo-lanes --out "$work/all" >"$work/said" || fail "lanes: $(cat "$work/said")"
for lane in left middle right window; do
  "$tipwright" verify "$work/all/$lane/journal.twj" "$work/all/$lane/record.json" "$work/all/$lane/certificate.pdf" >/dev/null ||
    fail "lane $lane does not verify"
  grep -q "^$lane .*complete" "$work/said" || fail "nothing is said of lane $lane"
done
# A lane is measured as it would be alone.
"$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --seed 3 --out "$work/alone" >/dev/null
cmp -s "$work/alone/record.json" "$work/all/right/record.json" || fail "a lane among others gives another record than alone"

# A lane that is complete already stays as it is; the others are measured.
rm -rf "$work/all/left" "$work/all/right" "$work/all/window"
before=$(sha256sum <"$work/all/middle/journal.twj")
got=0
"$tipwright" --json lanes demo-lanes --out "$work/all" >"$work/said" 2>"$work/err" || got=$?
[ "$got" = 0 ] || fail "one lane was complete: exit code $got"
[ "$(sha256sum <"$work/all/middle/journal.twj")" = "$before" ] || fail "a complete lane was written to"
python3 - "$work/said" <<'PY' || fail "--json lanes: $(cat "$work/said")"
import json, sys
lanes = {row["lane"]: row for row in json.load(open(sys.argv[1]))["lanes"]}
assert all(lanes[name]["ok"] and "certificate" in lanes[name]["files"] for name in ("left", "middle", "right", "window"))
PY
# One whose folder holds something else fails alone.
rm -rf "$work/all/left" "$work/all/right" "$work/all/window"
echo "no journal" >"$work/all/middle/journal.twj"
got=0
"$tipwright" --json lanes demo-lanes --out "$work/all" >"$work/said" 2>"$work/err" || got=$?
[ "$got" != 0 ] || fail "a spoilt journal passes"
grep -q "^tipwright: lane middle: " "$work/err" || fail "nothing is said of the spoilt lane"
[ "$(cat "$work/all/middle/journal.twj")" = "no journal" ] || fail "what was there is written over"

# Ctrl-C: every pump is stopped, every journal closed.
"$tipwright" lanes demo-lanes --out "$work/stopped" --speed 20 >/dev/null 2>"$work/err" &
run=$!
for _ in $(seq 300); do
  [ "$(cat "$work"/stopped/*/journal.twj 2>/dev/null | grep -c "to=prime" || true)" = 4 ] && break
  sleep 0.1
done
kill -INT "$run"
got=0
wait "$run" || got=$?
[ "$got" = 130 ] || fail "Ctrl-C: exit code $got: $(cat "$work/err")"
for lane in left middle right window; do
  tail -n 1 "$work/stopped/$lane/journal.twj" | grep -q " close .*complete=false" || fail "Ctrl-C: lane $lane was not closed"
  grep ' pump ' "$work/stopped/$lane/journal.twj" | tail -n 1 | grep -q "flow_mL_min=0 " || fail "Ctrl-C: the pump of lane $lane runs"
done

# The same command goes on: each lane from where it was, the records say so.
got=0
"$tipwright" lanes demo-lanes --out "$work/stopped" >"$work/said" 2>"$work/err" || got=$?
[ "$got" = 0 ] || fail "the same command does not go on: exit code $got: $(cat "$work/err")"
for lane in left middle right window; do
  [ -s "$work/stopped/$lane/certificate.pdf" ] || fail "lane $lane has no certificate after it went on"
  grep -q ' continue ' "$work/stopped/$lane/journal.twj" || fail "lane $lane did not go on"
done
entries=$(cat "$work"/stopped/*/journal.twj | wc -l)
"$tipwright" lanes demo-lanes --out "$work/stopped" >"$work/said" 2>"$work/err" || fail "complete lanes are not left as they are"
[ "$(cat "$work"/stopped/*/journal.twj | wc -l)" = "$entries" ] || fail "complete lanes were measured again"

# Without --out the runs go to the work folder, as those of calibrate: by serial, day and state. Stopped, the same command
# goes on with them; when all have come to their end it begins anew. What asks for a gauge's runs finds them.
export TIPWRIGHT_WORK=$work/runs
"$tipwright" lanes demo-lanes --speed 20 >/dev/null 2>"$work/err" &
run=$!
for _ in $(seq 300); do
  [ "$(cat "$work"/runs/*/*/journal.twj 2>/dev/null | grep -c "to=prime" || true)" = 4 ] && break
  sleep 0.1
done
kill -INT "$run"
wait "$run" || true
[ "$(ls -d "$work"/runs/*/2026-* | wc -l)" = 4 ] || fail "runs without --out: $(ls -d "$work"/runs/*/*)"
"$tipwright" lanes demo-lanes >"$work/said" 2>"$work/err" || fail "without --out it does not go on: $(cat "$work/err")"
[ "$(cat "$work"/runs/*/2026-*/journal.twj | grep -c ' continue ')" = 4 ] || fail "not every lane went on"
[ "$(ls "$work"/runs/*/*/record.json | wc -l)" = 4 ] || fail "it began other runs instead of going on"
! ls "$work"/runs/lanes-* >/dev/null 2>&1 || fail "the round is at its end and kept"
serial=$(basename "$(dirname "$(ls -d "$work"/runs/*/2026-*-found | head -n 1)")")
TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_PERSON="A. Signatory" "$tipwright" register create >/dev/null
# Lanes whose folder was named stand elsewhere; the work folder knows where, and so does who runs them from another one.
mkdir "$work/other"
(cd "$work/other" && TIPWRIGHT_WORK=$work/noted "$tipwright" lanes demo-lanes --out monday) >"$work/said" 2>"$work/err" || fail "lanes --out beside a work folder: $(cat "$work/err")"
for given in "$work/noted" "$work/other/monday"; do
  TIPWRIGHT_REGISTER=$work/register "$tipwright" next INV-150-0001 --work "$given" >"$work/said"
  grep -q "^Next: tipwright adjust INV-150-0001 --work $given" "$work/said" || fail "next does not find lanes --out by $given: $(cat "$work/said")"
  "$tipwright" adjust INV-150-0001 --work "$given" >"$work/said" || fail "adjust does not find lanes --out by $given"
done
[ "$(ls "$work/noted")" = "" ] || fail "a note of runs elsewhere is taken for a gauge's folder: $(ls "$work/noted")"
# One lane that broke off there is resumed by the serial alone.
rm "$work/other/monday/right/record.json"
journal=$work/other/monday/right/journal.twj
head -c $(($(stat -c %s "$journal") * 6 / 10)) "$journal" >"$work/short" && mv "$work/short" "$journal"
TIPWRIGHT_REGISTER=$work/register "$tipwright" next INV-200-0003 --work "$work/noted" >"$work/said"
grep -q "^Next: tipwright recover INV-200-0003 --work" "$work/said" || fail "next does not know of a lane that broke off: $(cat "$work/said")"
[ "$(TIPWRIGHT_WORK=$work/noted "$tipwright" complete recover '' | paste -sd' ')" = "$work/other/monday/right INV-200-0003" ] ||
  fail "completion does not know of a lane that broke off: $(TIPWRIGHT_WORK=$work/noted "$tipwright" complete recover '')"
"$tipwright" recover INV-200-0003 --work "$work/noted" --resume >"$work/said" 2>"$work/err" || fail "a lane elsewhere is not resumed: $(cat "$work/err")"
[ -s "$work/other/monday/right/record.json" ] || fail "a lane elsewhere has no record after it went on"
TIPWRIGHT_REGISTER=$work/register "$tipwright" next "$serial" | grep -qE "certificate draft $serial|adjust $serial|gauge add" ||
  fail "next does not know of the lanes' runs: $(TIPWRIGHT_REGISTER=$work/register "$tipwright" next "$serial")"
"$tipwright" lanes demo-lanes >"$work/said" 2>"$work/err" || fail "a second round: $(cat "$work/err")"
[ "$(ls "$work"/runs/*/2026-*-2/record.json | wc -l)" = 4 ] || fail "a second round has no runs of its own"
unset TIPWRIGHT_WORK

# Two lanes over links, each bench a process of its own; one is gone in mid-run. Its lane alone fails, says so at once,
# and the other's certificate comes as it does alone.
serve() {  # name, gauge
  "$tipwright" serve --gauge "$2" --out "$work/$1.toml" --speed 20 >/dev/null &
  for _ in $(seq 100); do
    [ -s "$work/$1.toml" ] && break
    sleep 0.1
  done
  patient "$work/$1.toml"
}
write_quick_plan "$work/quick.toml"
serve stays demo-bucket-200-twin
server=$!
serve goes demo-siphon-200
gone=$!
{
  echo 'title = "Served"'
  for name in stays goes; do
    gauge=demo-bucket-200-twin
    [ $name = stays ] || gauge=demo-siphon-200
    printf '[[lane]]\nname = "%s"\nbench = "%s"\ngauge = "%s"\nplan = "%s"\n' $name "$work/$name.toml" $gauge "$work/quick.toml"
  done
} >"$work/served.toml"
timeout 100 "$tipwright" lanes "$work/served.toml" --out "$work/served" --speed 20 >"$work/said" 2>"$work/err" &
run=$!
for _ in $(seq 300); do
  grep -q "to=collect" "$work/served/goes/journal.twj" 2>/dev/null && break
  sleep 0.05
done
kill -9 "$gone"
wait "$gone" 2>/dev/null || true
got=0
wait "$run" || got=$?
[ "$got" = 3 ] || fail "a lane failed in mid-run: exit code $got: $(cat "$work/err")"
[ "$(wc -l <"$work/err")" = 1 ] && grep -q "lane goes: .*the link is closed" "$work/err" || fail "said of a failed lane: $(cat "$work/err")"
grep -q "^goes .*FAILED: " "$work/said" && grep -q "^!! goes: PULL THE PUMP'S PLUG" "$work/said" ||
  fail "a pump that could not be stopped was not told: $(cat "$work/said")"
grep -q "^goes .*kept: 0 of 1 steps; the same command goes on, or tipwright recover $work/served/goes" "$work/said" || fail "what is kept: $(cat "$work/said")"
tail -n 1 "$work/served/goes/journal.twj" | grep -q " close .*complete=false" || fail "the failed lane was not closed"
"$tipwright" verify "$work/served/stays/journal.twj" "$work/served/stays/record.json" "$work/served/stays/certificate.pdf" >/dev/null ||
  fail "the lane beside a failed one does not verify"

# Wrong files: one line, with the place.
expect() {
  printf '%s\n' "$2" >"$work/lanes.toml"
  got=0
  "$tipwright" lanes "$work/lanes.toml" --out "$work/x" >/dev/null 2>"$work/err" || got=$?
  [ "$got" = 2 ] && [ "$(wc -l <"$work/err")" = 1 ] && grep -qE "$1" "$work/err" || fail "expected /$1/, got $got: $(cat "$work/err")"
}
lane() { printf '[[lane]]\nname = "%s"\nbench = "%s"\ngauge = "demo-siphon-200"\nplan = "ten-rate"\n' "$1" "$2"; }
expect 'no lane is given' 'title = "x"'
expect 'lanes.toml:9:[0-9]+: a second lane is called "a"' "title = \"x\"
$(lane a virtual-bench)

$(lane a virtual-bench)"
expect 'lanes.toml:3:8: .*which cannot name a folder' "title = \"x\"
$(lane ../a virtual-bench)"
expect 'lanes a and b share the link' "title = \"x\"
$(lane a serial-bench)
$(lane b serial-bench)"
expect '17 lanes are more than 16' "title = \"x\"
$(for k in $(seq 17); do lane "l$k" virtual-bench; done)"
expect 'lane b: "no-such-bench" is neither' "title = \"x\"
$(lane a virtual-bench)
$(lane b no-such-bench)"
echo "all checks passed"
