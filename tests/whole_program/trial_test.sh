#!/usr/bin/env bash
# Specimens of two kinds are measured on the virtual bench, compared, and judged at places; a plan is designed and run.
# Usage: trial_test.sh PROGRAM SOURCE_DIR
set -euo pipefail
program=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
export TIPWRIGHT_SETTINGS=$work/none.toml
: > none.toml
fail() { echo "FAILED: $*" >&2; exit 1; }

# Two gauges of each kind, of their kind but for serial number and bucket.
records=()
for kind in bucket-150 siphon-200; do
  for n in 1 2 3; do
    mkdir -p "$kind-$n"
    [ "$kind" = siphon-200 ] && excess="-1$((n + 1)).6" || excess="-$((n + 1)).0"
    sed "s/^volume_excess_percent = [-0-9.]*/volume_excess_percent = $excess/" \
      "$source/templates/gauge_kinds/$kind.toml" > "$kind-$n/$kind.toml"
    sed "s/^kind = .*/kind = \"$kind.toml\"/; s/^serial = .*/serial = \"INV-$kind-$n\"/" \
      "$source/templates/gauges/demo-$kind.toml" > "$kind-$n/gauge.toml"
    "$program" calibrate --bench virtual-bench --gauge "$kind-$n/gauge.toml" --plan five-point-as-found --seed "$n" \
      --out "$kind-$n/run" > log 2>&1 || { cat log; fail "calibrate $kind $n"; }
    records+=("$kind-$n/run/record.json")
  done
done

"$program" trial "${records[@]}" --site itu-zone-e --site itu-zone-p --out out > text || fail "trial"
grep -q 'Trial of 2 kinds from 6 records' text || fail "the heading"
grep -q 'siphon-200: 3 specimens, 3 runs, as found' text || fail "the kind"
for file in trial.pdf trial.json curves.csv places.csv; do [ -s "out/$file" ] || fail "no $file"; done
grep -q 'DEMONSTRATION' out/places.csv || fail "the mark of invented data"
pdftotext -layout out/trial.pdf paper.txt
grep -q 'DEMONSTRATION' paper.txt || fail "the mark on paper"

# The same twice is the same to the last bit.
"$program" trial "${records[@]}" --site itu-zone-e --site itu-zone-p --out again > /dev/null
cmp -s out/trial.json again/trial.json || fail "the same twice differs"
cmp -s out/trial.pdf again/trial.pdf || fail "the same PDF twice differs"

# The mean at an intensity is the mean of its gauges; where it pours, a siphon is the choice.
python3 - "${records[@]}" <<'PYTHON' || fail "numbers"
import json, sys
trial = json.load(open("out/trial.json"))
for kind in trial["kinds"]:
    errors = {}
    for name in sys.argv[1:]:
        record = json.load(open(name))
        if record["identity"]["kind"] != kind["kind"]: continue
        for step in record["evaluation"]["steps"]:
            errors.setdefault(step["observation"]["set_intensity_mm_h"], []).append(step["error_percent"]["value"])
    for at, point in zip(sorted(errors), kind["curve"]):
        mean = sum(errors[at]) / len(errors[at])
        assert abs(mean - point["mean_percent"]["value"]) < 0.1, (kind["kind"], at, mean, point)
pours = trial["places"][1]["errors"]
rms = {e["kind"]: e["rms_percent"] for e in pours if e["amount"] == "max_60_min" and e["corrected"] == "none"}
assert rms["siphon-200"] < rms["bucket-150"], rms
PYTHON

# On paper a place's heading stays with its table, and an interval with its number.
pages=$(pdfinfo out/trial.pdf | awk '/^Pages/ {print $2}')
together=0
for page in $(seq "$pages"); do
  pdftotext -layout -f "$page" -l "$page" out/trial.pdf page.txt
  for zone in E P; do
    if grep -q "^ *[0-9] ITU-R rain zone $zone" page.txt; then
      [ "$(grep -c "largest 60 min" page.txt)" -ge 2 ] || fail "the table of zone $zone is on another page than its heading"
      together=$((together + 1))
    fi
  done
done
[ "$together" = 2 ] || fail "headings of places on paper: $together"
pdftotext -layout out/trial.pdf paper.txt
! grep -qE '\([0-9.]+ to$|\([0-9.]+$' paper.txt || fail "an interval is broken: $(grep -E '\([0-9.]+ to$|\([0-9.]+$' paper.txt | head -1)"

# The other languages have their words; a place of one's own, with costs.
for language in de fr es; do
  "$program" trial "${records[@]}" --language "$language" --site itu-zone-k --out "out-$language" > /dev/null || fail "$language"
done
printf 'time,intensity_mm_h\n' > minutes.csv
for m in $(seq 10 59); do echo "2031-05-04T10:$m,$((m % 7 * 6))" >> minutes.csv; done
printf 'title = "Own yard"\nsource = "own minutes, invented"\n[minutes]\nfile = "minutes.csv"\n' > yard.toml
printf 'currency = "EUR"\n[[cost]]\nkind = "siphon-200"\nprice = 900\n[[cost]]\nkind = "bucket-150"\nprice = 300\n' > costs.toml
"$program" trial "${records[@]}" --site yard.toml --costs costs.toml --by max_5_min > yard || fail "own place"
grep -q 'Own yard' yard || fail "the own place is not named"

# What is wrong is said in one line, and nothing is written.
refused() {  # refused PATTERN ARGS...
  local pattern=$1 code=0
  shift
  "$program" "$@" > refused.out 2> refused.err || code=$?
  [ "$code" = 2 ] || fail "exit $code of $*"
  [ "$(wc -l < refused.err)" = 1 ] || fail "more than a line of $*"
  grep -q -- "$pattern" refused.err || { cat refused.err; fail "the words of $*"; }
}
refused 'nothing is given to try' trial
refused '1 specimen' trial "${records[0]}" --out none
[ ! -e none ] || fail "a folder was made"
refused 'neither a file nor the name of a site' trial "${records[@]}" --site atlantis
printf '2031-05-04T10:05,3\n' >> minutes.csv
refused 'minutes.csv:52: this minute is not after' trial "${records[@]}" --site yard.toml
refused 'cannot be a limit' trial "${records[@]}" --limit 0

# A plan is designed, written, and runs.
"$program" plan --gauge demo-bucket-200-twin --bench virtual-bench --U 0.4 --out short.toml > plan || fail "plan"
grep -q 'Time against precision' plan || fail "the curve of the plan"
"$program" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan short.toml --out short > log 2>&1 ||
  { cat log; fail "the plan does not run"; }
refused 'out of reach' plan --gauge demo-bucket-200-twin --bench virtual-bench --U 0.01
refused 'beyond the' plan --gauge demo-siphon-200 --bench virtual-bench --to 2000
"$program" plan --gauge demo-bucket-200-twin --bench virtual-bench --keep three-point-check --U 0.4 > kept ||
  fail "plan with demanded steps"
grep -q demanded kept || fail "demanded steps"
echo "trial: all well"
