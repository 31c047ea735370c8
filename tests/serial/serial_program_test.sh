#!/usr/bin/env bash
# The shipped program on serial ports: a served virtual bench whose pseudo-terminals the shim makes ports of, named
# by the USB serial numbers of their adapters; and contacts on a port's modem inputs.
# Arguments: the program, the source folder, the shim.
set -euo pipefail
tipwright=$1
source=$2
shim=$3
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
source "$(dirname "${BASH_SOURCE[0]}")/../support/shim_ports.sh"

serve_bench --gauge demo-bucket-200-twin --speed 20
number=0
cp "$work/served.toml" "$work/bench.toml"
for role in balance pump counter climate; do
  terminal=$(address_of $role)
  add_port "ttyTIP$number" "INV-$role" "$terminal"
  sed -i "s|\"pty $terminal\"|\"serial usb:INV-$role\"|" "$work/bench.toml"
  number=$((number + 1))
done
patient "$work/bench.toml"
[ "$(grep -c '^link = "serial usb:INV-' "$work/bench.toml")" = 4 ] || failed "the bench is not on serial ports"

behind_shim ports >"$work/log" 2>&1 || failed "ports"
grep -q '^/dev/ttyTIP1 .*usb:INV-pump .*1209:0001 .*Serial adapter (invented)' "$work/log" || failed "the pump's port is not listed"

write_quick_plan "$work/quick.toml"
behind_shim calibrate --bench "$work/bench.toml" --gauge demo-bucket-200-twin --plan "$work/quick.toml" --speed 20 \
  --out "$work/out" >"$work/log" 2>&1 || failed "calibrate on serial ports"
"$tipwright" verify "$work/out/journal.twj" "$work/out/record.json" >"$work/log" 2>&1 || failed "verify"

# The contacts move as soon as the program waits for them.
python3 - "$work/machine/lines/ttyTIP2" <<'PY' &
import mmap, struct, sys, time
with open(sys.argv[1], 'r+b') as file:
    lines = mmap.mmap(file.fileno(), 48)
    inputs, cts, waiters = 0, 8, 24
    def word(at, value=None):
        if value is not None:
            lines[at:at + 4] = struct.pack('<I', value)
        return struct.unpack('<I', lines[at:at + 4])[0]
    for _ in range(4):
        for _ in range(2000):
            if word(waiters):
                break
            time.sleep(0.005)
        word(inputs, word(inputs) ^ 0x20)
        word(cts, word(cts) + 1)
        time.sleep(0.02)
PY
behind_shim listen --link "serial usb:INV-counter" --profile generic-modem-contacts --lines 4 --for 60 >"$work/log" 2>&1 ||
  failed "listen to modem contacts"
[ "$(grep -c 'contact 1 closed' "$work/log")" = 2 ] && [ "$(grep -c 'contact 1 opened' "$work/log")" = 2 ] ||
  failed "the contact's changes"
wait %2 2>/dev/null || true
got=0
timeout 60 "$tipwright" listen --link "$(awk '$1 == "counter" { print $2, $3 }' "$work/served")" \
  --profile generic-modem-contacts >"$work/log" 2>&1 || got=$?
[ "$got" = 2 ] && grep -q 'has no modem inputs' "$work/log" || failed "a link without modem inputs was taken"
echo "all checks passed"
