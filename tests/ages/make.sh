#!/usr/bin/env bash
# Writes what this version of the program writes, one of everything, into fixtures/ages/VERSION, where it stays for
# good: every later program must read it. Run once, when a version is released.
# Usage: tests/ages/make.sh PROGRAM [FOLDER] (default: fixtures/ages/<version of the program>; it must not be there)
set -euo pipefail
cd "$(dirname "$0")/../.."
program=$(realpath "$1")
version=$("$program" --version | sed 's/^tipwright \([0-9]*\.[0-9]*\).*/\1/')
out=${2:-fixtures/ages/$version}
[ ! -e "$out" ] || { echo "tests/ages/make.sh: $out is there already: what a version wrote is never written again" >&2; exit 2; }
mkdir -p "$out"
out=$(realpath "$out")
umask 077
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
export HOME=$home TIPWRIGHT_REGISTER=$out/register TIPWRIGHT_KEYS=$out/keys TIPWRIGHT_PERSON="A. Signatory"
export TIPWRIGHT_TRIAL_NOW=2026-11-28T12:00:00Z
printf 'four words not together\n' >"$out/passphrase"
secret=(--passphrase-file "$out/passphrase")
run=(calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check)
"$program" "${run[@]}" --started-at 2026-11-26T08:00:00Z --out "$out/found" >/dev/null
"$program" "${run[@]}" --started-at 2026-11-27T08:00:00Z --seed 2 --as-left --out "$out/left" >/dev/null
cp templates/supplied/per-step.csv "$out/supplied.csv"
"$program" evaluate "$out/supplied.csv" --out "$out/supplied" >/dev/null

"$program" register create >/dev/null
"$program" register person add "C. Checker" --may-check true >/dev/null
"$program" keys make "${secret[@]}" >/dev/null
"$program" certificate draft "$out/found/record.json" "$out/left/record.json" >/dev/null
"$program" certificate check 1 --person "C. Checker" >/dev/null
"$program" certificate issue 1 "${secret[@]}" >/dev/null
"$program" keys rotate "${secret[@]}" --new-passphrase-file "$out/passphrase" >/dev/null
"$program" keys export --out "$out/public-keys.txt" >/dev/null
number=$("$program" certificate list | grep -o 'B1-[0-9]*-[0-9]*' | head -n1)
printf '%s\n' "$number" >"$out/number"
"$program" certificate export "$number" --out "$out/issued" >/dev/null
serial=$(sed -n 's/^  "serial": "\(.*\)",*$/\1/p' "$out/found/record.json" | head -n1)
printf '%s\n' "$serial" >"$out/serial"
"$program" pack "$number" --out "$out/station.zip" >/dev/null
"$program" register backup "$out/backup" >/dev/null
# Two connections may have kept a log of writes beside the database: one that reads folds it in.
"$program" certificate list >/dev/null
pdftoppm -r 150 -png "$out/issued/$number/certificate.pdf" "$home/page"
{ zbarimg -q --raw "$home"/page-*.png 2>/dev/null || true; } | head -n1 >"$out/square-code.txt"
[ -s "$out/square-code.txt" ] || { echo "tests/ages/make.sh: no square code on the certificate" >&2; exit 1; }

# Descriptions as people wrote them for this version: copies of the shipped ones.
mkdir "$out/templates"
cp -r templates/benches templates/gauge_kinds templates/gauges templates/instruments templates/lanes templates/limits \
  templates/plans "$out/templates/"
cp fixtures/traffic/*.traffic "$out/"
# Every setting there is. A new one is added here; what a version wrote stays as it is.
cat >"$out/settings.toml" <<'TOML'
version = "1.0"
bench = "templates/benches/virtual-bench.toml"
plan_as_found = "three-point-check"
plan_as_left = "ten-rate"
work = "~/runs"
register = "~/register"
enter = true
person = "A. Signatory"
bench_code = "B1"
keys = "~/keys"
check_gauge = "INV-CHECK-1"
letterhead = "letterhead.toml"
language = "de"
paper = "Letter"
display_zone = "Europe/Vienna"
display_units = "in/h"
TOML
settings=$(TIPWRIGHT_SETTINGS=$out/settings.toml "$program" settings | grep -c "$out/settings.toml" || true)
all=$(TIPWRIGHT_SETTINGS='' "$program" settings --json | grep -c '"setting"')
[ "$((settings + 3))" = "$all" ] || { echo "tests/ages/make.sh: $all settings, of which the file gives $settings and the environment 3" >&2; exit 1; }
rm -rf "$home"
find "$out" -type f | wc -l
du -sh "$out"
