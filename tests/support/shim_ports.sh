# For test scripts that make serial ports of pseudo-terminals (serial_shim.cpp). Sourced, after tipwright and shim are
# set and served_bench.sh is sourced.
behind_shim() { SERIAL_SHIM_ROOT=$work/machine LD_PRELOAD=$shim timeout 120 "$tipwright" "$@"; }

# A port on a USB adapter: name, USB serial number, the pseudo-terminal behind it.
add_port() {
  local adapter=$work/machine/sys/devices/usb1/$1-adapter
  mkdir -p "$adapter/interface/tty/$1" "$work/machine/sys/class/tty" "$work/machine/dev" "$work/machine/lines"
  ln -s ../.. "$adapter/interface/tty/$1/device"
  ln -s "../../devices/usb1/$1-adapter/interface/tty/$1" "$work/machine/sys/class/tty/$1"
  echo 1 >"$adapter/busnum"
  echo 7 >"$adapter/devnum"
  echo 1209 >"$adapter/idVendor"
  echo 0001 >"$adapter/idProduct"
  echo "Serial adapter (invented)" >"$adapter/product"
  echo "$2" >"$adapter/serial"
  ln -s "$3" "$work/machine/dev/$1"
  head -c 48 /dev/zero >"$work/machine/lines/$1"
}

# serve_bench OPTIONS...: a bench in a process of its own, $server; where its instruments are stands in $work/served.
serve_bench() {
  "$tipwright" serve --out "$work/served.toml" "$@" >"$work/served" &
  server=$!
  for _ in $(seq 100); do
    grep -q '^bench' "$work/served" && return
    sleep 0.1
  done
  failed "the bench is not served"
}
address_of() { awk -v role="$1" '$1 == role { print $3 }' "$work/served"; }  # of an instrument
