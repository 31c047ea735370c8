#!/usr/bin/env bash
# A whole calibration whose contacts are wired to the modem inputs of a serial port, by the shipped program: a bench
# served by another process on pseudo-terminals, its counter's contacts carried to CTS and DSR of a port. The record
# tells how well the moments of the contacts were known on this machine. Arguments: program, source folder, shim.
set -euo pipefail
tipwright=$1
source=$2
shim=$3
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
source "$(dirname "${BASH_SOURCE[0]}")/../support/shim_ports.sh"
speed=10
others=()
trap '[ ${#others[@]} = 0 ] || kill "${others[@]}" 2>/dev/null || true; cleanup' EXIT

serve_bench --gauge demo-bucket-200-twin --speed $speed
# The port's own line carries nothing.
python3 -c 'import os, pty, time
ends = pty.openpty()
print(os.ttyname(ends[1]), flush=True)
time.sleep(300)' >"$work/port" &
others+=($!)
for _ in $(seq 100); do
  [ -s "$work/port" ] && break
  sleep 0.05
done
add_port ttyTIP0 INV-contacts "$(cat "$work/port")"
counter=$(address_of counter)
python3 "$(dirname "${BASH_SOURCE[0]}")/../support/contacts_bridge.py" "$counter" "$work/machine/lines/ttyTIP0" &
others+=($!)
sed -e "s|\"pty $counter\"|\"serial usb:INV-contacts\"|" -e 's|generic-tip-counter|generic-modem-contacts|' \
  "$work/served.toml" >"$work/bench.toml"
patient "$work/bench.toml"
grep -q 'serial usb:INV-contacts' "$work/bench.toml" || failed "the counter is not on the port"

behind_shim bench-check --bench "$work/bench.toml" --gauge demo-bucket-200-twin --speed $speed --watch 20 >"$work/log" 2>&1 ||
  failed "bench-check on modem inputs"
grep -q 'says it is .*CTS and DSR of /dev/ttyTIP0' "$work/log" && grep -q 'contact 2 .*moved by water .*ok' "$work/log" ||
  failed "the contacts' port is not told"
write_quick_plan "$work/quick.toml"
behind_shim calibrate --bench "$work/bench.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" --speed $speed \
  --out "$work/out" >"$work/log" 2>&1 || failed "calibrate on modem inputs"
"$tipwright" verify "$work/out/journal.twj" "$work/out/record.json" "$work/out/certificate.pdf" >"$work/log" 2>&1 || failed "verify"
# What the same bench gives in lockstep, its own counter's clock telling the moments.
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan "$work/quick.toml" --out "$work/alone" \
  >"$work/log" 2>&1 || failed "calibrate in lockstep"
python3 - "$work" $speed >"$work/log" 2>&1 <<'PY' || failed "the record"
import json, math, re, sys
work, speed = sys.argv[1], float(sys.argv[2])
record, alone = (json.load(open(f"{work}/{name}/record.json")) for name in ("out", "alone"))
journal = open(f"{work}/out/journal.twj").read()
measured = [float(u) for u in re.findall(r" timing edge_time_u_s=(\S+)", journal)]
assert measured, "the journal has no timing"
u_s = record["bench"]["edge_time_u_s"]
# At least the adapter's own 0.6 ms, in bench time; the last that was measured is what the record holds.
assert u_s == measured[-1] and u_s >= 0.0006 * speed, (u_s, measured)
assert alone["bench"]["edge_time_u_s"] < 0.0006 * speed
step, other = (one["evaluation"]["steps"][0] for one in (record, alone))
assert step["observation"]["contact_counts"] == [step["observation"]["tips"]] * 2, step["observation"]
def component(one, name):
    return [part for part in one["budget"] if part["id"] == name][0]
edges = component(step, "contact_edges")
assert math.isclose(edges["u"], math.sqrt(2) * u_s, rel_tol=1e-6), edges
off = step["error_percent"]["value"] - other["error_percent"]["value"]
assert abs(off) < 2 * math.hypot(step["error_expanded"]["U"], other["error_expanded"]["U"]), off
print(f"edges known to {1000 * u_s / speed:.2f} ms of this machine's time; {off:+.3f} % off the counter device's result")
PY
cat "$work/log"
echo "all checks passed"
