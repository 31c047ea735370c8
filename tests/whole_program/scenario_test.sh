#!/usr/bin/env bash
# The README's scenario, and its numbers computed once more by another way: kinds' mean errors from the records, the
# year's error at a place by adding up the published table of exceedances, a season's rain from the tips alone.
# Usage: scenario_test.sh PROGRAM SOURCE_DIR
set -euo pipefail
program=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
source "$source/tests/support/expect.sh"

TIPWRIGHT=$program bash "$source/bench/scenario.sh" "$work/out" >"$work/said" || fail "the scenario: $(tail -3 "$work/said")"
grep -q 'The data support bucket-200-twin: .* yearly amount, corrected by each gauge' "$work/said" ||
  fail "no choice for Upper Drizzle"
grep -q 'The data support siphon-200: .* largest 60-minute amount, as indicated' "$work/said" ||
  fail "no choice for Monsoon Quay"
for document in upper-drizzle/trial.pdf monsoon-quay/trial.pdf season/monsoon-quay-siphon-200/rain.pdf; do
  pdftotext -layout "$work/out/$document" "$work/paper"
  grep -q DEMONSTRATION "$work/paper" || fail "$document does not say that it is invented"
done
python3 - "$work/out" "$source/templates/sites/itu-r-pn837-1.csv" <<'EOF'
import csv, datetime, glob, json, math, sys
out, table = sys.argv[1:]
wrong = 0


def meets(what, stated, computed, within):
    global wrong
    if not abs(stated - computed) <= within:
        wrong += 1
        print("FAILED: %s: stated %.4f, computed %.4f" % (what, stated, computed), file=sys.stderr)


records = {}
for name in sorted(glob.glob(out + "/found/*/record.json")):
    record = json.load(open(name))
    records.setdefault(record["identity"]["kind"], []).append(record)
trial = json.load(open(out + "/upper-drizzle/trial.json"))
assert len(trial["kinds"]) == 3
curves = {}
for kind in trial["kinds"]:
    specimens = records[kind["kind"]]
    assert len(specimens) == 6
    errors = [sorted((s["observation"]["set_intensity_mm_h"], s["error_percent"]["value"])
                     for s in one["evaluation"]["steps"]) for one in specimens]
    for k, point in enumerate(kind["curve"]):
        mean = sum(e[k][1] for e in errors) / len(errors)
        meets("%s at %.0f mm/h" % (kind["kind"], errors[0][k][0]), point["mean_percent"]["value"], mean, 0.1)
    curves[kind["kind"]] = [(p["intensity_mm_h"], p["mean_percent"]["value"]) for p in kind["curve"]]

# Exceedances straight in the logarithms, from 0.1 mm/h on; rain in at most so much of the time (the sites' files).
for place, column, widest in (("upper-drizzle", "E", 10), ("monsoon-quay", "P", 1.5)):
    rows = [r for r in csv.reader(l for l in open(table) if not l.startswith("#"))]
    at = rows[0].index(column)
    points = [(float(r[0]), float(r[at])) for r in rows[1:]]

    def intensity(percent):
        for (p0, i0), (p1, i1) in zip(points, points[1:]):
            if percent >= p1 or (p1, i1) == points[-1]:
                return i0 * (i1 / i0) ** (math.log(percent / p0) / math.log(p1 / p0))

    trial = json.load(open("%s/%s/trial.json" % (out, place)))
    site = trial["places"][0]
    total, weighed = 0.0, dict.fromkeys(curves, 0.0)
    low, high, parts = math.log(100 / 525960), math.log(widest), 200000  # from the one worst minute of a year on
    for k in range(parts):
        percent = math.exp(low + (high - low) * (k + 0.5) / parts)
        mm_h = intensity(percent)
        if mm_h < 0.1:
            continue
        amount = mm_h * percent * (high - low) / parts / 100 * 8766
        total += amount
        for kind, curve in curves.items():
            # A tip's volume is straight in the flow: so is 1/(1 + e).
            mm_h = max(mm_h, curve[0][0])
            i = min(max(sum(1 for c in curve if c[0] < mm_h) - 1, 0), len(curve) - 2)
            (a, ea), (b, eb) = curve[i], curve[i + 1]
            inverse = 1 / (1 + ea / 100) + (1 / (1 + eb / 100) - 1 / (1 + ea / 100)) * (mm_h - a) / (b - a)
            weighed[kind] += amount * (1 / inverse - 1) * 100
    meets(place + " a year, mm", site["amount_mm_a_year"], total, 0.01 * total)
    for kind in curves:
        stated = [e for e in site["errors"] if e["kind"] == kind and e["amount"] == "year" and e["corrected"] == "none"]
        meets("%s at %s" % (kind, place), stated[0]["mean_percent"]["value"], weighed[kind] / total, 0.15)

# v = V0 + tau Q (+ c Q^2) and Q = v/T give each tip's volume from the time since the one before.
for place in ("upper-drizzle", "monsoon-quay"):
    for kind in curves:
        folder = "%s/season/%s-%s" % (out, place, kind)
        record = json.load(open("%s/found/%s-1/record.json" % (out, kind)))
        model = record["evaluation"]["model"]
        chosen = [c for c in model["candidates"] if c["form"] == model["chosen"]][0]
        parameters = [p["value"] for p in chosen["parameters"]] + [0, 0]
        area_cm2 = math.pi * (record["gauge"]["catch_diameter_mm"]["value"] / 20) ** 2
        tips = []
        for line in open(folder + ".csv"):
            if line.startswith("20"):
                time = datetime.datetime.fromisoformat(line.split(",")[0].replace("Z", "+00:00")).timestamp()
                if not tips or time - tips[-1] > record["gauge"]["debounce_s"]:
                    tips.append(time)
        depth = 0.0
        for before, time in zip([None] + tips, tips):
            volume = parameters[0]
            if before is not None and time - before < 3600:
                for _ in range(60):
                    flow = volume / (time - before)
                    volume = parameters[0] + parameters[1] * flow + parameters[2] * flow * flow
            depth += 10 * volume / area_cm2
        total = [r for r in csv.reader(open(folder + "/amounts.csv")) if r[0] == "total"][0]
        # What bursts within an interval make a bucket miss is not in the mean rate; the program adds it.
        meets("rain on %s at %s" % (kind, place), float(total[5]), depth, 0.006 * depth)
        fell = float([l for l in open(folder + ".txt") if l.startswith("fell")][0].split()[1])
        meets("what fell on %s at %s" % (kind, place), float(total[5]), fell, 2 * float(total[6]))
sys.exit(wrong > 0)
EOF
echo "scenario: all well"
