#!/usr/bin/env bash
# Certificates signed with an X.509 certificate beside the seal: pdfsig and openssl check the PDF, xmlsec1 the DCC,
# as who receives them would; each tells a changed byte. Also a certificate of another maker (openssl, on a curve)
# taken over, one passphrase for both keys, and no passphrase where others see it. Arguments: the program, the
# source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 077
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

printf 'a long passphrase\n' >"$work/passphrase"
printf 'another passphrase\n' >"$work/other"
secret=(--passphrase-file "$work/passphrase")
"$tipwright" keys make "${secret[@]}" >/dev/null
"$tipwright" register create >/dev/null
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --started-at 2026-11-20T08:00:00Z --out "$work/run" >/dev/null
python3 "$(dirname "${BASH_SOURCE[0]}")/../support/renamed_runs.py" "$work/run" INV-200-0002 SIG 4 "$work/runs"

# --- a self-made certificate: refused without the seal's passphrase, said to be self-made ---
! "$tipwright" keys certificate make --name "Invented Laboratory" --passphrase-file "$work/other" >/dev/null 2>"$work/err" ||
  fail "made under another passphrase than the seal's"
[ ! -e "$work/keys/signing.p12" ] || fail "a refused certificate left a file"
"$tipwright" keys certificate make --name "Invented Laboratory" --organisation "Invented Öko" --country ZZ "${secret[@]}" \
  >"$work/out"
grep -q "Self-signed" "$work/out" || fail "not said to be self-signed: $(cat "$work/out")"
! "$tipwright" keys certificate make --name "Second" "${secret[@]}" >/dev/null 2>"$work/err" || fail "overwrote a key"
[ "$(stat -c %a "$work/keys/signing.p12")" = 600 ] || fail "others may read signing.p12"

serial=0
issued() { # issued FOLDER: a certificate in $work/FOLDER; sets $pdf and $xml
  serial=$((serial + 1))
  "$tipwright" certificate draft "$work/runs/SIG-$serial/record.json" >"$work/out"
  # shellcheck disable=SC2046
  "$tipwright" certificate check $(awk 'NR > 1 { print $1 }' "$work/out") --person "C. Checker" >/dev/null
  "$tipwright" certificate issue --all --out "$work/$1" "${@:2}" >"$work/out" 2>&1 || fail "issue: $(cat "$work/out")"
  pdf=$(ls "$work/$1"/*/*.pdf)
  xml=$(ls "$work/$1"/*/*.xml)
}
# What /ByteRange says, taken apart as any reader does: signed bytes and the CMS.
split_pdf() { # split_pdf PDF: $work/signed and $work/cms.der
  python3 - "$1" "$work/signed" "$work/cms.der" <<'PYTHON'
import re, sys
data = open(sys.argv[1], "rb").read()
found = re.findall(rb"/ByteRange \[ ?(\d+) (\d+) (\d+) (\d+) *\]", data)
assert len(found) == 1, found
a, b, c, d = map(int, found[0])
assert a == 0 and c + d == len(data), "the signature does not cover the file to its end"
assert data[b:b + 1] == b"<" and data[c - 1:c] == b">"
open(sys.argv[2], "wb").write(data[:b] + data[c:])
open(sys.argv[3], "wb").write(bytes.fromhex(data[b + 1:c - 1].decode()))
PYTHON
}
openssl_ok() { # openssl_ok PDF PEM
  split_pdf "$1" 2>/dev/null && openssl cms -verify -cades -binary -inform DER -in "$work/cms.der" -content "$work/signed" \
    -CAfile "$2" -purpose any -attime 1795392000 -out /dev/null 2>"$work/err"
}
pdfsig_ok() { # pdfsig_ok PDF
  pdfsig -nocert "$1" >"$work/pdfsig" 2>&1 || true
  grep -q "Signature is Valid" "$work/pdfsig" && grep -q "Total document signed" "$work/pdfsig"
}
check_all() { # check_all PEM ALGORITHM
  pdfsig_ok "$pdf" || fail "pdfsig: $(cat "$work/pdfsig")"
  grep -q "ETSI.CAdES.detached" "$work/pdfsig" || fail "not the kind of signature that PAdES asks for: $(cat "$work/pdfsig")"
  openssl_ok "$pdf" "$1" || fail "openssl: $(cat "$work/err")"
  openssl cms -cmsout -print -inform DER -in "$work/cms.der" >"$work/print"
  grep -q "signingCertificateV2" "$work/print" || fail "no signing-certificate-v2"
  ! grep -q "signingTime" "$work/print" || fail "a signing-time, which PAdES forbids"
  qpdf --check "$pdf" >"$work/out" 2>&1 || fail "qpdf: $(cat "$work/out")"
  xmlsec1 --verify --trusted-pem "$1" --verification-time "2026-11-23 12:00:00" "$xml" >"$work/out" 2>&1 ||
    fail "xmlsec1: $(cat "$work/out")"
  "$tipwright" verify "$pdf" "$xml" --public-keys "$work/keys/public-keys.txt" >"$work/out" || fail "verify: $(cat "$work/out")"
  grep -q "X.509 signature by" "$work/out" || fail "verify does not name the signer: $(cat "$work/out")"
  grep -q "XML signature by" "$work/out" || fail "verify does not name the signer of the XML: $(cat "$work/out")"
}

issued trial "${secret[@]}"
pem=$work/keys/signing-certificate.pem
check_all "$pem"

# --- the DCC carries the PDF as it was given out ---
python3 - "$xml" "$pdf" <<'PYTHON' || fail "the PDF in the DCC is another one"
import base64, sys, xml.etree.ElementTree as tree
held = tree.parse(sys.argv[1]).getroot().find("{https://ptb.de/dcc}document/{https://ptb.de/dcc}dataBase64").text
sys.exit(base64.b64decode(held) != open(sys.argv[2], "rb").read())
PYTHON

# --- a changed byte is told by each ---
for place in 20 3000 -3000 -200 -2; do
  python3 - "$pdf" "$work/changed.pdf" "$place" <<'PYTHON'
import sys
data = bytearray(open(sys.argv[1], "rb").read())
data[int(sys.argv[3])] ^= 1
open(sys.argv[2], "wb").write(data)
PYTHON
  ! pdfsig_ok "$work/changed.pdf" || fail "pdfsig did not tell the byte at $place"
  ! openssl_ok "$work/changed.pdf" "$pem" || fail "openssl did not tell the byte at $place"
  ! "$tipwright" verify "$work/changed.pdf" --public-keys "$work/keys/public-keys.txt" >/dev/null 2>&1 || fail "verify: $place"
done
# A letter of the signature's own hex digits, which PDF readers take for the same.
python3 - "$pdf" "$work/changed.pdf" <<'PYTHON'
import re, sys
data = bytearray(open(sys.argv[1], "rb").read())
at = re.search(rb"/Contents <[0-9]*([a-f])", data).start(1)
data[at] -= 32
open(sys.argv[2], "wb").write(data)
PYTHON
! "$tipwright" verify "$work/changed.pdf" --public-keys "$work/keys/public-keys.txt" >"$work/out" || fail "verify: a letter of the signature"
sed 's/>SIG-1</>SIG-9</' "$xml" >"$work/changed.xml"
! cmp -s "$xml" "$work/changed.xml" || fail "the XML was not changed"
! xmlsec1 --verify --trusted-pem "$pem" --verification-time "2026-11-23 12:00:00" "$work/changed.xml" >/dev/null 2>&1 ||
  fail "xmlsec1 did not tell a changed serial number"

# --- one passphrase for both keys ---
"$tipwright" keys passphrase "${secret[@]}" --new-passphrase-file "$work/other" >/dev/null
secret=(--passphrase-file "$work/other")
issued again "${secret[@]}"
pdfsig_ok "$pdf" || fail "after a change of the passphrase: $(cat "$work/pdfsig")"

# --- a certificate and key by another hand: openssl, on a curve ---
openssl ecparam -name prime256v1 -genkey -noout -out "$work/ec.key"
openssl req -new -x509 -key "$work/ec.key" -subj "/C=ZZ/O=Invented Authority/CN=Invented Signatory" -days 3650 \
  -out "$work/ec.pem" 2>/dev/null
openssl pkcs12 -export -inkey "$work/ec.key" -in "$work/ec.pem" -passout pass:theirs -out "$work/ec.p12"
printf 'theirs\n' >"$work/theirs"
export TIPWRIGHT_TRIAL_NOW=$(date -u -d tomorrow +%Y-%m-%dT%H:%M:%SZ)
! "$tipwright" keys certificate import "$work/ec.p12" --replace --p12-passphrase-file "$work/passphrase" "${secret[@]}" \
  >/dev/null 2>"$work/err" || fail "imported with a wrong passphrase"
grep -q "does not open" "$work/err" || fail "wrong passphrase: $(cat "$work/err")"
"$tipwright" keys certificate import "$work/ec.p12" --replace --p12-passphrase-file "$work/theirs" "${secret[@]}" >/dev/null
issued curve "${secret[@]}"
pdfsig_ok "$pdf" || fail "pdfsig, a curve: $(cat "$work/pdfsig")"
split_pdf "$pdf"
openssl cms -verify -cades -binary -inform DER -in "$work/cms.der" -content "$work/signed" -CAfile "$work/ec.pem" -purpose any \
  -out /dev/null 2>"$work/err" || fail "openssl, a curve: $(cat "$work/err")"
xmlsec1 --verify --trusted-pem "$work/ec.pem" "$xml" >"$work/out" 2>&1 || fail "xmlsec1, a curve: $(cat "$work/out")"
"$tipwright" verify "$pdf" "$xml" --public-keys "$work/keys/public-keys.txt" >"$work/out" || fail "verify, a curve: $(cat "$work/out")"
# Those signed before stay good.
"$tipwright" verify "$work/trial"/*/*.pdf --public-keys "$work/keys/public-keys.txt" >/dev/null || fail "an earlier certificate fell"

# --- outside its validity nothing is issued; what is no PKCS#12 is refused ---
export TIPWRIGHT_TRIAL_NOW=2099-01-01T00:00:00Z
"$tipwright" certificate draft "$work/runs/SIG-4/record.json" >"$work/out"
# shellcheck disable=SC2046
"$tipwright" certificate check $(awk 'NR > 1 { print $1 }' "$work/out") --person "C. Checker" >/dev/null
! "$tipwright" certificate issue --all "${secret[@]}" >"$work/out" 2>&1 || fail "signed with a certificate that had ended"
grep -q "valid from" "$work/out" || fail "ended: $(cat "$work/out")"
! "$tipwright" keys certificate import "$pem" --replace --p12-passphrase-file "$work/theirs" "${secret[@]}" \
  >/dev/null 2>"$work/err" || fail "imported a PEM as PKCS#12"
grep -q "PKCS#12" "$work/err" || fail "no PKCS#12: $(cat "$work/err")"
! grep -rqs -e "a long passphrase" -e "another passphrase" "$work/register" "$work/keys" || fail "a passphrase stands in a file"
[ "$failures" = 0 ] || exit 1
echo ok
