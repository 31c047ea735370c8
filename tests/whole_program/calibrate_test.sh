#!/usr/bin/env bash
# The shipped program as a user runs it: calibrate, evaluate, certify, verify, list; wrong input; Ctrl-C.
# Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source_dir=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

# Every gauge kind: all files are there, agree with each other, and the PDF is sound and holds the numbers.
kinds=()
for file in "$source_dir"/templates/gauge_kinds/*.toml; do kinds+=("$(basename "$file" .toml)"); done
((${#kinds[@]} >= 5)) || fail "no more kinds than ${kinds[*]}"
for kind in "${kinds[@]}"; do
  out="$work/$kind"
  "$tipwright" calibrate --bench virtual-bench --gauge "demo-$kind" --plan three-point-check --out "$out" >"$work/log"
  for file in journal.twj record.json results.csv correction.csv certificate.pdf; do
    [ -s "$out/$file" ] || fail "$kind: no $file"
    grep -qF "$out/$file" "$work/log" || fail "$kind: the path of $file was not printed"
  done
  # Every file that the run left is one that verify knows and can judge by the others.
  "$tipwright" verify "$out" >"$work/verified" || fail "$kind: verify: $(cat "$work/verified")"
  qpdf --check "$out/certificate.pdf" >"$work/qpdf" 2>&1 || fail "$kind: qpdf: $(cat "$work/qpdf")"
  pdftotext -layout "$out/certificate.pdf" "$work/text"
  # What stands on the terminal at the end of a run is what the certificate says, to the last digit.
  python3 - "$work/log" "$work/text" "$out/record.json" <<'PY' || fail "$kind: the terminal's results are not the certificate's: $(cat "$work/log")"
import json, re, sys
said, paper = (open(name).read().replace("\u2212", "-") for name in sys.argv[1:3])
table = said[said.index("volume per tip"):]
rows = re.findall(r"^ *(\d+) +(\S+) +(\S+) ± (\S+) +(\d+) +(\S+) ± (\S+) +(\S+) ± (\S+) +(\S+) +(\w+)$", table, re.M)
spoon = json.load(open(sys.argv[3]))["gauge"]["compartments"] == 1
assert len(rows) == (4 if spoon else 3), rows  # a spoon returns to the first rate
for row in rows:
    step, set_, reference, U_reference, tips, volume, U_volume, error, U_error, k, verdict = map(re.escape, row)
    assert re.search(rf"^ *{step} +{set_} +{reference} +{U_reference} +\S+ +{tips} +\S+ +{volume} +{U_volume} +{error} +{U_error} +{k} ",
                     paper, re.M), row
assert "for 95 % coverage" in said
PY
  serial=$(python3 -c 'import json,sys; print(json.load(open(sys.argv[1]))["identity"]["serial"])' "$out/record.json")
  grep -qF "$serial" "$work/text" || fail "$kind: the certificate does not show the serial $serial"
  pdffonts "$out/certificate.pdf" | tail -n +3 | awk '{ if ($(NF-4) != "yes") exit 1 }' || fail "$kind: a font is not embedded"
done

# The method says how many tips a collect may hold, as it was done.
method_of() { pdftotext -layout "$work/$1/certificate.pdf" - | tr "\n" " " | tr -s " "; }
method_of bucket-200-twin | grep -q "holds an even number of tips" || fail "bucket: the method does not say that tips are even"
method_of siphon-200 | grep -q "whatever the number of tips" || fail "siphon: the method does not say that any number counts"
! method_of siphon-200 | grep -q "even number" || fail "siphon: the method claims an even number of tips"

# The same seed gives the same bytes; the journal evaluated again gives the same record.
out="$work/again"
"$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --out "$out" >/dev/null
for file in journal.twj record.json certificate.pdf correction.csv; do
  cmp -s "$out/$file" "$work/siphon-200/$file" || fail "$file differs between two runs of one seed"
done
"$tipwright" evaluate "$out/journal.twj" --out "$work/evaluated" >/dev/null
cmp -s "$out/record.json" "$work/evaluated/record.json" || fail "evaluating the journal gives another record"
"$tipwright" certify "$out/record.json" --out "$work/letter.pdf" --paper Letter >/dev/null
pdfinfo "$work/letter.pdf" | grep -q "Page size.*612 x 792" || fail "--paper Letter is not Letter"

# Who measures, where it is not whom the bench's file names; evaluating the journal says the same.
named="$work/named"
"$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --operator "Zoë O'Neill" --out "$named" >/dev/null
operator_of() { python3 -c 'import json,sys; print(json.load(open(sys.argv[1]))["operator_name"])' "$1"; }
[ "$(operator_of "$named/record.json")" = "Zoë O'Neill" ] || fail "--operator: the record names $(operator_of "$named/record.json")"
[ "$(operator_of "$out/record.json")" = "A. Example" ] || fail "the bench's operator is not named: $(operator_of "$out/record.json")"
"$tipwright" verify "$named/journal.twj" "$named/record.json" "$named/certificate.pdf" >/dev/null || fail "--operator: verify"
grep -qF "Zoë O'Neill" <(pdftotext "$named/certificate.pdf" -) || fail "--operator: the certificate does not name who measured"
expect 2 'not a person.s name' "$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --operator $'A\nB' --out "$work/none"
expect 2 '^tipwright: --operator.*letter|letter.*--operator' "$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --operator $'\u7530' --out "$work/none"

# For machines.
"$tipwright" --json evaluate "$out/journal.twj" --out "$work/evaluated" --force | python3 -c '
import json, sys
document = json.load(sys.stdin)
assert document["ok"] and len(document["steps"]) == 3 and "certificate" in document["files"]' || fail "--json evaluate"
"$tipwright" --json list | python3 -c 'import json, sys; d = json.load(sys.stdin); assert len(d["gauge_kinds"]) == int(sys.argv[1]) and len(d["plans"]) >= 4' "${#kinds[@]}" || fail "--json list"

# Supplied measurements, timed and static.
"$tipwright" evaluate "$source_dir/templates/supplied/per-step.csv" --out "$work/steps" >/dev/null
pdftotext "$work/steps/certificate.pdf" - | tr '\n' ' ' | grep -qi "supplied" || fail "supplied data is not marked as such"
"$tipwright" evaluate "$source_dir/fixtures/supplied/krueger2024-17.csv" --out "$work/static" >/dev/null
pdftotext "$work/static/certificate.pdf" - | tr '\n' ' ' | grep -qi "no rate correction was derived" ||
  fail "a static check does not say that no rate correction was derived"
[ ! -e "$work/static/correction.csv" ] || fail "a static check has a correction table"

# Changes are told.
sed 's/"tips": 1/"tips": 2/' "$out/record.json" >"$work/edited.json"
cmp -s "$work/edited.json" "$out/record.json" && sed 's/0\.2/0.3/' "$out/record.json" >"$work/edited.json"
expect 5 '' "$tipwright" verify "$work/edited.json"
head -c -200 "$out/journal.twj" >"$work/torn.twj"
expect 5 '' "$tipwright" verify "$work/torn.twj"
sed '400s/[0-9]/9/3' "$out/journal.twj" >"$work/damaged.twj"
cmp -s "$work/damaged.twj" "$out/journal.twj" && sed '400s/[0-9]/8/3' "$out/journal.twj" >"$work/damaged.twj"
expect 2 'damaged.twj' "$tipwright" evaluate "$work/damaged.twj" --out "$work/damaged"
[ ! -e "$work/damaged/certificate.pdf" ] || fail "a damaged journal gave a certificate"

# A table of another version, whose sentences this program has otherwise: its numbers are judged, its sentences are not.
mkdir "$work/otherwise"
sed 's/"program_version": "[0-9.]*"/"program_version": "1.0.9"/' "$work/static/record.json" >"$work/otherwise/record.json"
sed '/^# mark:/s/document/paper/' "$work/static/results.csv" >"$work/otherwise/results.csv"
cmp -s "$work/static/results.csv" "$work/otherwise/results.csv" && fail "the table has no sentence to word otherwise"
expect 8 '' "$tipwright" verify "$work/otherwise"
grep -q "^cannot judge .*results.csv: its numbers follow from .*; the sentences at its head are those of version 1.0.9" "$work/out" ||
  fail "a table of another version: $(cat "$work/out")"
sed -i '$s/[0-9]/7/g' "$work/otherwise/results.csv"
expect 5 '' "$tipwright" verify "$work/otherwise"
sed '/^# mark:/s/document/paper/' "$work/static/results.csv" >"$work/static/changed.csv"
expect 5 '' "$tipwright" verify "$work/static/record.json" "$work/static/changed.csv"

# Wrong input: one line, with the place and what to do.
expect 2 'a serial, or --gauge' "$tipwright" calibrate --bench virtual-bench
expect 2 'no-such' "$tipwright" calibrate --bench no-such --gauge siphon-200 --plan ten-rate --out "$work/x"
printf 'title = "x"\n[gauge]\nnominal_tip_mm = 0.2\ncatch_diameter_mm = 0.2\n' >"$work/metres.toml"
expect 2 'metres.toml:4:[0-9]+: .*200' "$tipwright" calibrate --bench virtual-bench --gauge "$work/metres.toml" --plan ten-rate --out "$work/x"
printf 'title = \n' >"$work/broken.toml"
expect 2 'broken.toml:1:[0-9]+' "$tipwright" calibrate --bench virtual-bench --gauge siphon-200 --plan "$work/broken.toml" --out "$work/x"
expect 2 'already' "$tipwright" calibrate --bench virtual-bench --gauge demo-siphon-200 --plan three-point-check --out "$out"
expect 2 'nothing.json' "$tipwright" certify "$work/nothing.json" --out "$work/x.pdf"
printf '{"format": "tipwright record"}' >"$work/empty.json"
expect 2 'empty.json' "$tipwright" certify "$work/empty.json" --out "$work/x.pdf"
# What it cannot judge is neither passed over nor wrong; what bears the name of a file of its own and is none, is wrong.
expect 8 '' "$tipwright" verify "$source_dir/README.md" "$out/record.json"
grep -q "^cannot judge .*README.md: not a file that the program writes" "$work/out" || fail "verify passes over a file it cannot judge"
grep -q "^Not judged: 1 of [0-9]* findings, said above. Proved: results recomputed" "$work/out" || fail "the closing sentence: $(tail -n 1 "$work/out")"
expect 8 '' "$tipwright" --json verify "$source_dir/README.md" "$out/record.json"
python3 - "$work/out" <<'PY' || fail "what cannot be judged, for machines: $(cat "$work/out")"
import json, sys
document = json.load(open(sys.argv[1]))
assert document["ok"] is False
assert [(row["ok"], row.get("judged", True)) for row in document["findings"]] == [(True, True), (False, False)]
PY
expect 8 '' "$tipwright" verify "$out/results.csv"
expect 5 '' "$tipwright" verify "$source_dir/README.md" "$work/edited.json"
mkdir "$work/spoilt"
sed '1s/^./T/' "$out/journal.twj" >"$work/spoilt/journal.twj"
expect 5 '' "$tipwright" verify "$work/spoilt"
grep -q "^WRONG .*journal.twj: is named like a file of the program, but is not one" "$work/out" || fail "a journal whose head was changed: $(cat "$work/out")"
expect 2 'unwritable|cannot' "$tipwright" evaluate "$out/journal.twj" --out /proc/nowhere
[ ! -e "$work/x.pdf" ] || fail "a certificate came from wrong input"

# Ctrl-C: the pump is stopped first, the journal is closed, the exit code is its own, no certificate.
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check --out "$work/stopped" \
  --speed 20 >"$work/log" 2>"$work/err" &
pid=$!
for _ in $(seq 100); do
  grep -q " state from=prime" "$work/stopped/journal.twj" 2>/dev/null && break
  sleep 0.1
done
kill -INT "$pid"
got=0
wait "$pid" || got=$?
[ "$got" = 130 ] || fail "Ctrl-C: exit code $got"
grep -q "stopped by the operator" "$work/err" || fail "Ctrl-C: said '$(cat "$work/err")'"
tail -n 1 "$work/stopped/journal.twj" | grep -q " close .*complete=false" || fail "Ctrl-C: the journal was not closed"
[ "$(grep ' pump ' "$work/stopped/journal.twj" | tail -n 1 | grep -c 'flow_mL_min=0 ')" = 1 ] || fail "Ctrl-C: the pump was not stopped"
[ ! -e "$work/stopped/certificate.pdf" ] || fail "Ctrl-C left a certificate"

[ "$failures" = 0 ] && echo "all checks passed"
exit "$((failures > 0))"
