#!/usr/bin/env bash
# The page over a network: only over TLS 1.2 or newer, only to paired devices, only under its own names. Asked from
# outside, by curl and openssl. Arguments: the program, the source folder.
set -uo pipefail
tipwright=$1
source_dir=$2
work=$(mktemp -d)
pages=()
finish() {
  for page in "${pages[@]}"; do kill -INT "$page" 2>/dev/null; wait "$page" 2>/dev/null; done
  rm -rf "$work"
}
trap finish EXIT
# shellcheck source=tests/support/expect.sh
source "$source_dir/tests/support/expect.sh"
export HOME="$work/home" XDG_STATE_HOME="$work/state" XDG_DATA_HOME="$work/data" TIPWRIGHT_SETTINGS=
mkdir -p "$HOME" "$work/runs"

# serve OPTIONS...: a page on every address of this machine; sets said, port, code.
serve() {
  : >"$work/said"
  "$tipwright" --json page "$work/runs" --address 0.0.0.0 --port 0 "$@" >"$work/said" 2>"$work/page.err" &
  pages+=($!)
  for _ in $(seq 200); do [ -s "$work/said" ] && break; sleep 0.05; done
  said=$(head -n 1 "$work/said")
  port=$(python3 -c 'import json,sys; print(json.loads(sys.argv[1])["url"].rstrip("/").rsplit(":",1)[1])' "$said")
  code=$(python3 -c 'import json,sys; print(json.loads(sys.argv[1])["pairing_code"])' "$said")
}
end_page() {
  kill -INT "${pages[-1]}"
  wait "${pages[-1]}" || fail "the page ends with $?: $(cat "$work/page.err")"
  unset 'pages[-1]'
}
# ask STATUS PATH OPTIONS...: an answer by curl, in $work/answer.
ask() {
  local wanted=$1 path=$2 got
  shift 2
  got=$(curl -s -k -o "$work/answer" -w '%{http_code}' "$@" "https://127.0.0.1:$port$path")
  [ "$got" = "$wanted" ] || fail "$path $*: answer $got, expected $wanted: $(head -c 300 "$work/answer")"
}

serve
own="https://127.0.0.1:$port"
certificate="$XDG_STATE_HOME/tipwright/page/certificate.pem"

# The fingerprint that is told is that of the certificate that is served; the key is for its owner alone.
told=$(python3 -c 'import json,sys; print(json.loads(sys.argv[1])["fingerprint_sha256"])' "$said")
served=$(openssl s_client -connect "127.0.0.1:$port" </dev/null 2>/dev/null | openssl x509 -noout -fingerprint -sha256)
[ "${served#*=}" = "$told" ] || fail "told fingerprint $told, served $served"
[ "$(stat -c %a "$XDG_STATE_HOME/tipwright/page/key.pem")" = 600 ] || fail "the key can be read by others"
[ "$(stat -c %a "$XDG_STATE_HOME/tipwright/page")" = 700 ] || fail "the state folder can be looked into by others"
openssl x509 -in "$certificate" -noout -checkip 127.0.0.1 | grep -q 'does match' || fail "the certificate does not name the address"
openssl verify -CAfile "$certificate" -purpose sslserver "$certificate" >/dev/null || fail "the certificate does not stand by itself"

# Versions: 1.2 and 1.3, none older.
for version in tls1_2 tls1_3; do
  openssl s_client -connect "127.0.0.1:$port" -$version </dev/null 2>/dev/null | grep -q 'BEGIN CERTIFICATE' || fail "$version is not spoken"
done
for version in tls1 tls1_1; do
  # A client of security level 0 offers what a newer one would not.
  if openssl s_client -connect "127.0.0.1:$port" -$version -cipher 'ALL:@SECLEVEL=0' </dev/null 2>&1 | grep -q 'BEGIN CERTIFICATE'; then
    fail "$version is spoken"
  fi
done

# Without TLS, or with noise, there is one end of the connection and no answer.
python3 - "$port" <<'PY' || fail "plain HTTP or noise on the TLS port"
import socket, sys, time
for sent in (b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", bytes(range(256)) * 4, b"\x16\x03\x01\xff\xff" + b"\x00" * 100):
    link = socket.create_connection(("127.0.0.1", int(sys.argv[1])), timeout=20)
    link.sendall(sent)
    got = b""
    began = time.monotonic()
    while True:
        piece = link.recv(4096)  # a reset would raise
        if not piece:
            break
        got += piece
    # An alert of TLS at most, never a page.
    assert b"HTTP" not in got and len(got) < 64, got
    assert time.monotonic() - began < 12
# Who says nothing is let go too.
link = socket.create_connection(("127.0.0.1", int(sys.argv[1])), timeout=20)
began = time.monotonic()
assert link.recv(10) == b"" and time.monotonic() - began < 12
PY

# Before it is paired a device sees the form and nothing else.
for path in / /run/x /api/1/runs /metrics /events /static/page.js /certificates /log-in /language?to=de /no-such; do
  ask 403 "$path"
  grep -q 'name="code"' "$work/answer" || fail "$path: no pairing form"
  grep -q 'name="token"' "$work/answer" && fail "$path: the token is given away"
done
ask 200 /static/page.css
ask 200 "/pair?code=$code"
grep -q "value=\"$code\"" "$work/answer" || fail "the link of the square code does not fill the form in"
ask 403 /stop -X POST -d token=x -H "Origin: $own"

# A wrong name, a page of another site, a wrong code.
ask 421 / -H 'Host: evil.example'
ask 403 /pair -d "code=$code" -H 'Origin: https://evil.example'
ask 403 /pair -d "code=0000-0000" -H "Origin: $own"
ask 403 /pair -d "code=" -H "Origin: $own"
grep -q '__Host-device' <(curl -s -k -D - -o /dev/null -d 'code=0000-0000' -H "Origin: $own" "$own/pair") && fail "a wrong code gives a cookie"

# The code, once.
curl -s -k -D "$work/head" -o /dev/null -d "code=$code&name=tablet" -H "Origin: $own" "$own/pair"
grep -qi '^HTTP/1.1 303' "$work/head" || fail "the right code does not pair: $(cat "$work/head")"
cookie=$(sed -n 's/^[Ss]et-[Cc]ookie: \(__Host-device=[^;]*\);.*/\1/p' "$work/head")
for part in HttpOnly Secure SameSite=Strict Path=/; do grep -i '^set-cookie' "$work/head" | grep -q "$part" || fail "the cookie lacks $part"; done
ask 403 /pair -d "code=$code" -H "Origin: $own"
ask 200 / -b "$cookie"
grep -q 'data-screen="going_on"' "$work/answer" || fail "the paired device does not see the bench"
ask 200 /api/1/runs -b "$cookie"
ask 403 / -b "${cookie}x"
curl -s -k -D "$work/head" -o /dev/null -b "$cookie" "$own/language?to=de&back=/"
grep -i '^set-cookie: language=de' "$work/head" | grep -q Secure || fail "a cookie goes over plain HTTP too"
for _ in $(seq 100); do grep -q '"paired":"tablet"' "$work/said" && break; sleep 0.05; done
grep -q '"paired":"tablet"' "$work/said" || fail "the terminal is not told of the device"
devices="$XDG_STATE_HOME/tipwright/page/devices.json"
[ "$(stat -c %a "$devices")" = 600 ] || fail "the list of devices can be read by others"
grep -q "${cookie#*=}" "$devices" && fail "the word of the cookie is kept"

# Codes are not tried often.
tries=0
for _ in $(seq 15); do
  got=$(curl -s -k -o /dev/null -w '%{http_code}' -d 'code=0000-0000' -H "Origin: $own" "$own/pair")
  [ "$got" = 429 ] && break
  tries=$((tries + 1))
done
[ "$tries" -le 10 ] || fail "$tries wrong codes are taken"

# A device stays paired, and the certificate the same, over a new start; until devices are to be forgotten.
end_page
serve
ask 200 / -b "$cookie"
again=$(python3 -c 'import json,sys; print(json.loads(sys.argv[1])["fingerprint_sha256"])' "$said")
[ "$again" = "$told" ] || fail "another certificate after a new start"
end_page
cp "$devices" "$work/devices.kept"
serve --forget-devices
ask 403 / -b "$cookie"
end_page
# One that was lost, by its name; the others stay.
cp "$work/devices.kept" "$devices"
lost=$(python3 -c 'import json,sys; print(json.load(open(sys.argv[1]))["devices"][0]["name"])' "$devices")
expect 2 "no device .another. is paired.*those paired are .*$lost" "$tipwright" page "$work/runs" --address 0.0.0.0 --port 0 \
  --forget-device another
serve --forget-device "$lost"
ask 403 / -b "$cookie"
end_page

# A certificate that is given; and what is wrong with others is said in a line.
openssl req -x509 -newkey rsa:2048 -nodes -keyout "$work/own.key" -out "$work/own.pem" -days 30 -subj /CN=bench.example \
  -addext subjectAltName=DNS:bench.example 2>/dev/null
chmod 600 "$work/own.key"
serve --certificate "$work/own.pem" --key "$work/own.key" --name bench.example
got=$(curl -s --cacert "$work/own.pem" --resolve "bench.example:$port:127.0.0.1" -o /dev/null -w '%{http_code}' "https://bench.example:$port/")
[ "$got" = 403 ] || fail "not served under the name that was given: $got"
end_page
page=("$tipwright" page "$work/runs" --address 0.0.0.0 --port 0)
expect 2 'certificate and key go together' "${page[@]}" --certificate "$work/own.pem"
expect 2 'do not belong together' "${page[@]}" --certificate "$work/own.pem" --key "$XDG_STATE_HOME/tipwright/page/key.pem"
expect 2 'not found|no such file|does not exist|cannot be' "${page[@]}" --certificate "$work/none.pem" --key "$work/own.key"
chmod 644 "$work/own.key"
expect 2 'others can read' "${page[@]}" --certificate "$work/own.pem" --key "$work/own.key"
chmod 644 "$XDG_STATE_HOME/tipwright/page/key.pem"
expect 2 'others can read' "${page[@]}"
chmod 600 "$XDG_STATE_HOME/tipwright/page/key.pem"
expect 2 'is not an address' "$tipwright" page "$work/runs" --address bench
expect 2 'for a page over a network' "$tipwright" page "$work/runs" --forget-devices
expect 2 'not the name of a machine' "${page[@]}" --name 'https://x/'
: >"$devices"
expect 2 'no list of paired devices' "${page[@]}"
rm "$devices"

# What a person sees at the terminal: the fingerprint, the code, and a square code that reads as the link.
"${page[@]}" >"$work/terminal" 2>&1 &
pages+=($!)
for _ in $(seq 200); do grep -q Ctrl-C "$work/terminal" && break; sleep 0.05; done
grep -q "$told" "$work/terminal" || fail "the terminal does not show the fingerprint"
python3 - "$work/terminal" "$work/code.pgm" <<'PY' || fail "no square code on the terminal"
import sys
lines = [line.rstrip("\n") for line in open(sys.argv[1], encoding="utf-8") if set(line.rstrip("\n")) <= set("█▀▄ ") and len(line) > 30]
side = max(map(len, lines))
rows = []
for line in lines:
    line = line.ljust(side)
    rows.append([255 if c in "█▀" else 0 for c in line])
    rows.append([255 if c in "█▄" else 0 for c in line])
scale = 4
with open(sys.argv[2], "wb") as out:
    out.write(b"P5 %d %d 255\n" % (side * scale, len(rows) * scale))
    for row in rows:
        out.write(bytes(v for v in row for _ in range(scale)) * scale)
PY
code=$(sed -n 's/^pair *\([0-9A-Z-]*\) .*/\1/p' "$work/terminal")
zbarimg -q --raw "$work/code.pgm" 2>/dev/null | grep -q "^https://.*/pair?code=$code$" || fail "the square code does not read as the link"
end_page

[ "$failures" = 0 ] || exit 1
echo "all checks passed"
