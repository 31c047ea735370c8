# Stop screws, from the first adjustment of a kind to the second: what a turn brings is learnt from a pair of
# runs between which the screws were turned, the advice for the next is followed, and what comes is what was
# expected. On the virtual bench a screw is turned by giving the gauge's kind other true volumes.
# Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source/tests/support/expect.sh"

# calibrate NAME EXCESS_PERCENT A_EXCESS_PERCENT [--as-left]: resting volume over the nominal one, A over both.
calibrate() {
  local name=$1
  mkdir -p "$work/$name"
  sed "s/^volume_excess_percent = .*/volume_excess_percent = $2/; s/^a_excess_percent = .*/a_excess_percent = $3/" \
    "$source/templates/gauge_kinds/bucket-200-twin.toml" >"$work/$name/twin.toml"
  sed 's/^kind = .*/kind = "twin.toml"/' "$source/templates/gauges/demo-bucket-200-twin.toml" >"$work/$name/gauge.toml"
  shift 3
  "$tipwright" calibrate --bench virtual-bench --gauge "$work/$name/gauge.toml" --plan three-point-check \
    --out "$work/$name/run" --seed 5 --side-up A "$@" >/dev/null 2>&1 || fail "$name was not calibrated"
}

calibrate found 3.5 2.4
# 0.3 mL a turn, of 6.287 mL nominal: A from 6.663 to 6.388 mL, B from 6.351 to 6.312 mL.
calibrate turned 1.0 0.6 --as-left
pair="$work/found/run/record.json,$work/turned/run/record.json,-0.917,-0.130"
"$tipwright" adjust "$work/found/run/record.json" --earlier "$pair" >"$work/text" || fail "no advice"
grep -q 'One turn brings 0\.300 ± 0\.0[0-9]* mL, learnt from 2 turned screws' "$work/text" ||
  fail "what a turn brings: $(grep 'A turn' "$work/text")"
advice() { awk -v side="$1" '$1 == side && /±/ { print $5 }' "$work/text"; }
a=$(advice A)
b=$(advice B)
read -r excess a_excess < <(awk -v a="$a" -v b="$b" 'BEGIN {
  nominal = 6.287; high = nominal * 1.035 * 1.024 + a; low = nominal * 1.035 * 0.976 + b
  printf "%.4f %.4f\n", 100 * ((high + low) / 2 / nominal - 1), 100 * (high - low) / (high + low) }')
calibrate left "$excess" "$a_excess" --as-left
"$tipwright" adjust "$work/found/run/record.json" --left "$work/left/run/record.json" --earlier "$pair" >"$work/text"
grep -q 'as alike as they can be set' "$work/text" || fail "sides that were set alike: $(tail -3 "$work/text")"
grep -q 'not as expected' "$work/text" && fail "advice that was followed: $(tail -5 "$work/text")"
# Columns: expected, measured, E_n of each step.
awk '/E_n/ { after = 1; next } after && $1 ~ /^[0-9]+$/ { n++; if ($5 > 0.5 || $5 < -0.5) bad = 1 } END { exit !(n == 3 && !bad) }' \
  "$work/text" || fail "E_n: $(tail -5 "$work/text")"

"$tipwright" adjust "$work/found/run/record.json" --per-turn 0.3 | grep -q 'One turn brings 0\.300 ± 0\.0[56]' ||
  fail "a turn's volume without its uncertainty is not taken to a tenth of itself"
# A spoon that no turn brings within its limits: its screw is left alone, and then nothing else is expected than was found.
"$tipwright" calibrate --bench virtual-bench --gauge demo-magnet-spoon-160 --plan three-point-check --out "$work/spoon" >/dev/null 2>&1 ||
  fail "the spoon was not calibrated"
"$tipwright" adjust "$work/spoon/record.json" >"$work/text"
grep -qE '^spoon +[0-9.]+ ± [0-9.]+ +0 +0\.00 +none$' "$work/text" || fail "a screw that is left alone: $(grep '^spoon' "$work/text")"
grep -qE '^Largest .e. \+ U: ([0-9.]+) % now, \1 % expected after' "$work/text" || fail "what is expected of no change: $(grep Largest "$work/text")"
"$tipwright" adjust "$work/spoon/record.json" --json | grep -q seen_from_above && fail "a way to turn a screw that is left alone"
[ "$failures" = 0 ] || exit 1
