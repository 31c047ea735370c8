#!/usr/bin/env bash
# The same bytes whatever processor the C library thinks it has; and what verify says of a record that another version,
# rounding or a hand made different. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

# No elementary function of the C library is called: of libm only what IEEE 754 makes exact.
exact='^(ceil|copysign|fabs|floor|fma|fmax|fmin|fmod|frexp|ldexp|llrint|llround|lrint|lround|modf|nearbyint|nextafter|rint|round|scalbn|sqrt|trunc)f?$'
libm=$(ldd "$tipwright" | awk '$1 ~ /^libm\.so/ {print $3}')
if [ -n "$libm" ]; then
  inexact=$(comm -12 <(nm -D --undefined-only "$tipwright" | awk '{sub(/@.*/, "", $2); print $2}' | sort -u) \
    <(nm -D --defined-only "$libm" | awk '{sub(/@.*/, "", $3); print $3}' | sort -u) | grep -vE "$exact" || true)
  [ -z "$inexact" ] || fail "the program calls $inexact of the C library: add it to calib/base/portable_math.hpp"
fi

plain="$work/plain"
"$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --out "$plain" >/dev/null
for mask in -FMA,-AVX2 -AVX2,-FMA,-AVX,-AVX512F; do
  masked="$work/masked"
  GLIBC_TUNABLES=glibc.cpu.hwcaps=$mask "$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 \
    --plan three-point-check --out "$masked" >/dev/null
  for file in journal.twj record.json results.csv correction.csv certificate.pdf; do
    cmp -s "$plain/$file" "$masked/$file" || fail "$file differs under $mask"
  done
  GLIBC_TUNABLES=glibc.cpu.hwcaps=$mask "$tipwright" verify "$plain"/{journal.twj,record.json,certificate.pdf} >"$work/log" ||
    fail "verify under $mask: $(cat "$work/log")"
  rm -rf "$masked"
done

# changed VERSION FACTOR: the record with its first error of indication multiplied, made by a version.
changed() {
  python3 - "$plain/record.json" "$work/changed.json" "$@" <<'EOF'
import re, sys
source, target, version, factor = sys.argv[1:]
text = open(source).read()
text = re.sub(r'("program_version": )"[^"]*"', lambda m: m[1] + '"%s"' % version if version != "same" else m[0], text, count=1)
place = text.index('"error_percent"')
number = re.compile(r'"value": (-?[0-9.e+-]+)').search(text, place)
text = text[:number.start(1)] + repr(float(number[1]) * float(factor)) + text[number.end(1):]
open(target, "w").write(text)
EOF
}
# says CODE PATTERN: verify of the changed record.
says() {
  local got=0
  "$tipwright" verify "$work/changed.json" "$plain/journal.twj" >"$work/said" || got=$?
  [ "$got" = "$1" ] || fail "verify of a changed record: exit code $got, expected $1: $(cat "$work/said")"
  grep -qE -- "$2" "$work/said" || fail "verify says '$(cat "$work/said")', expected /$2/"
}
changed same 1.00000000000005
says 0 "but for rounding .*error_percent.value: .* stored, .* computed"
changed same 1.01
says 5 "beyond rounding .*error_percent.value: .* stored, .* computed"
changed 0.0.9 1.01
# Whoever edits results can name another version too.
says 5 "made by version 0.0.9; this version, .*, computes it otherwise .*error_percent.value: .* stored, .* computed.*; no seal vouches"
changed 0.0.9 1
# A journal says which version wrote it.
says 5 'program_version: "0.0.9" stored'
"$tipwright" verify "$work/changed.json" >"$work/said" || fail "a record of another version with the same results: $(cat "$work/said")"
grep -q "to the last bit" "$work/said" || fail "a record of another version: $(cat "$work/said")"

[ "$failures" = 0 ]
