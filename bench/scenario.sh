#!/usr/bin/env bash
# From three candidate kinds of gauges to a choice for two places, then a season's rain at each with its corrected
# totals. Installs what is needed, builds, and leaves everything in out/scenario. Safe to run again.
# All of it is invented: gauges, makers' figures, prices and rain.
set -euo pipefail
cd "$(dirname "$0")/.."
tipwright=${TIPWRIGHT:-}
if [ -z "$tipwright" ]; then
  bash bench/install.sh
  cmake -S . -B build/release -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_TESTS=OFF >/dev/null
  cmake --build build/release --target tipwright
  tipwright=build/release/tipwright
fi
out=${1:-out/scenario}
rm -rf "$out"
mkdir -p "$out/gauges" "$out/found" "$out/season"
export TIPWRIGHT_SETTINGS=/dev/null

# Six specimens of each kind, as they came: by how many per cent the volume at rest lies off the nominal one.
specimens() {
  case $1 in
    bucket-200-twin) echo -3.3 -2.0 -2.8 -1.7 -2.4 -3.0 ;;
    siphon-200) echo -13.1 -14.3 -13.4 -14.0 -13.7 -13.5 ;;
    spoon-100) echo -1.1 -3.0 -2.2 -3.6 -1.7 -2.6 ;;
  esac
}
kinds="bucket-200-twin siphon-200 spoon-100"
echo "Eighteen gauges of three kinds on the virtual bench, ten rates each"
seed=0
for kind in $kinds; do
  number=0
  for excess in $(specimens "$kind"); do
    number=$((number + 1)) seed=$((seed + 1))
    gauge="$out/gauges/$kind-$number.toml"
    sed -e "s/^serial = .*/serial = \"INV-$kind-$number\"/" -e '/^station = /d' "templates/gauges/demo-$kind.toml" >"$gauge"
    printf '\n[virtual]\nvolume_excess_percent = %s\n' "$excess" >>"$gauge"
    "$tipwright" calibrate --bench virtual-bench --gauge "$gauge" --plan ten-rate --seed "$seed" \
      --out "$out/found/$kind-$number" >"$out/found/$kind-$number.txt"
    printf '  %-18s %s\n' "INV-$kind-$number" "$(grep -m1 '^Volume per tip' "$out/found/$kind-$number.txt")"
  done
done

cat >"$out/costs.toml" <<'T'
# Invented prices: bought once for so many years, and each year's service.
currency = "EUR"
[[cost]]
kind = "bucket-200-twin"
price = 650
years = 10
per_year = 90
[[cost]]
kind = "siphon-200"
price = 1150
years = 10
per_year = 120
[[cost]]
kind = "spoon-100"
price = 240
years = 10
per_year = 90
T
echo
echo "Which kind for which place? Upper Drizzle has rain like ITU-R zone E; its loggers correct, and the year's amount counts"
"$tipwright" trial "$out"/found/*/record.json --site itu-zone-e --by year --corrected by_certificate \
  --costs "$out/costs.toml" --out "$out/upper-drizzle"
echo
echo "Monsoon Quay has rain like ITU-R zone P; its loggers count tips alone, and what falls in an hour counts"
"$tipwright" trial "$out"/found/*/record.json --site itu-zone-p --by max_60_min \
  --costs "$out/costs.toml" --out "$out/monsoon-quay"

echo
echo "A season at each place: 120 days of invented rain on a gauge of each kind, corrected by its certificate"
printf '  %-14s %-20s %10s %12s %18s\n' place gauge 'fell, mm' 'counted, mm' 'corrected, mm'
seed_of() { case $1 in bucket-200-twin) echo 1 ;; siphon-200) echo 7 ;; spoon-100) echo 13 ;; esac; }
for place in upper-drizzle:drizzle monsoon-quay:heavy; do
  for kind in $kinds; do
    folder="$out/season/${place%:*}-$kind"
    "$tipwright" virtual-rain --gauge "$out/gauges/$kind-1.toml" --seed "$(seed_of "$kind")" --rain-seed 1 --days 120 \
      --climate "${place#*:}" --out "$folder.csv" >"$folder.txt"
    "$tipwright" rain "$folder.csv" --certificate "$out/found/$kind-1/record.json" --out "$folder" >>"$folder.txt"
    awk -F, -v place="${place%:*}" -v kind="INV-$kind-1" -v fell="$(awk '/^fell/ {print $2}' "$folder.txt")" \
      '/^total/ {printf "  %-14s %-20s %10.1f %12.1f %10.1f ± %.1f\n", place, kind, fell, $5, $6, $7}' "$folder/amounts.csv"
  done
done
echo
echo "Written to $out: upper-drizzle/trial.pdf, monsoon-quay/trial.pdf, season/*/rain.pdf and their tables and pictures"
