#!/usr/bin/env bash
# A gauge's life through the shipped program: first certificate, service, adjustment, second certificate that
# shows both states, replacement, recall, pack, verification; and every refusal on the way.
# Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source_dir=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 077
export HOME=$work TIPWRIGHT_REGISTER=$work/register TIPWRIGHT_KEYS=$work/keys
export TIPWRIGHT_TRIAL_NOW=2026-11-23T08:00:00Z
public=$work/public-keys.txt

source "$(dirname "${BASH_SOURCE[0]}")/../support/expect.sh"

# says PATTERN COMMAND...: done, and the answer holds the pattern.
says() {
  local pattern=$1 got=0
  shift
  "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" = 0 ] || fail "$*: exit code $got: $(cat "$work/err")"
  grep -qE -- "$pattern" "$work/out" || fail "$*: says '$(cat "$work/out")', expected /$pattern/"
}

# measure NAME STARTED [OPTION...]: a run on the virtual bench; the record is in NAME.
measure() {
  local name=$1 started=$2
  shift 2
  "$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
    --started-at "$started" --reason "a trial with years between" --out "$work/$name" "$@" >/dev/null
}

printf 'a long passphrase\n' >"$work/passphrase"
printf 'not the passphrase\n' >"$work/wrong"
alice=(--person "A. Signatory")
carol=(--person "C. Checker")
tom=(--person "T. Technician")
secret=(--passphrase-file "$work/passphrase")

# --- a register, its people, its keys ---
expect 2 "register create" "$tipwright" ask work
expect 2 "person" "$tipwright" register create
says "may measure, check and issue" "$tipwright" register create "${alice[@]}"
expect 2 "already" "$tipwright" register create "${alice[@]}"
says "Entered" "$tipwright" register person add "C. Checker" --may-check true "${alice[@]}"
says "Entered" "$tipwright" register person add "T. Technician" "${alice[@]}"
expect 6 "may not issue" "$tipwright" register person add "N. Nobody" "${tom[@]}"
expect 2 "there are no keys of the seal here; make them with 'tipwright keys make'" "$tipwright" keys list
says "Made key" "$tipwright" keys make "${secret[@]}"
expect 2 "already" "$tipwright" keys make "${secret[@]}"
says "1 public key " "$tipwright" keys export --out "$public"
[ "$(stat -c %a "$work/keys")" = 700 ] || fail "the folder of keys is open to others"
chmod 644 "$work/wrong"
expect 6 "others may read" "$tipwright" keys make --keys "$work/other" --passphrase-file "$work/wrong"
chmod 600 "$work/wrong"

# --- first certificate ---
measure first 2026-11-20T08:00:00Z
says "INV-200-0002" "$tipwright" certificate draft "$work/first/record.json" "${tom[@]}"
expect 2 "rests on this record already" "$tipwright" certificate draft "$work/first/record.json" "${tom[@]}"
expect 6 "must be checked" "$tipwright" certificate issue 1 "${alice[@]}" "${secret[@]}"
expect 6 "may not check" "$tipwright" certificate check 1 "${tom[@]}"
says "Wrote" "$tipwright" certificate preview 1 --language de --out "$work/preview.pdf"
expect 2 "preview.pdf: there is something already" "$tipwright" certificate preview 1 --language de --out "$work/preview.pdf"
pdftotext "$work/preview.pdf" "$work/text"
grep -q ENTWURF "$work/text" || fail "the preview is not marked as a draft"
says "checked by" "$tipwright" certificate check 1 "${carol[@]}"
expect 6 "passphrase" "$tipwright" certificate issue 1 "${alice[@]}" --passphrase-file "$work/wrong"
expect 6 "may not issue" "$tipwright" certificate issue 1 "${tom[@]}" "${secret[@]}"
# What would stop it after a number is given is told before a passphrase is read.
expect 2 "is a file, a folder is needed" "$tipwright" certificate issue 1 "${alice[@]}" --passphrase-file "$work/none" \
  --out "$work/passphrase/taken"
says "B1-2026-00001" "$tipwright" certificate issue 1 "${alice[@]}" "${secret[@]}"
says "B1-2026-00001 +yes" "$tipwright" certificate issue 1 "${alice[@]}" "${secret[@]}"
expect 6 "is issued and cannot be changed" "$tipwright" certificate discard 1 --reason x "${tom[@]}"

# --- who drafted it does not check it; what was edited has no certificate ---
measure second 2026-11-20T12:00:00Z --seed 2
says "" "$tipwright" certificate draft "$work/second/record.json" "${carol[@]}"
expect 6 "cannot check it too" "$tipwright" certificate check 2 "${carol[@]}"
says "discarded" "$tipwright" certificate discard 2 --reason "measured twice" "${carol[@]}"
sed '0,/"tips": [0-9]*/s/"tips": \([0-9]*\)/"tips": 1\1/' "$work/second/record.json" >"$work/edited.json"
expect 6 "journal it was made from is not there" "$tipwright" certificate draft "$work/edited.json" "${tom[@]}"
expect 6 "was edited" "$tipwright" certificate draft "$work/edited.json" --source "$work/second/journal.twj" "${tom[@]}"

# --- the clock ---
expect 2 "last written .*tipwright register accept-clock --reason" env TIPWRIGHT_TRIAL_NOW=2026-11-22T08:00:00Z \
  "$tipwright" register customer add "Late (invented)" "${alice[@]}"
expect 2 "is not a time" env TIPWRIGHT_TRIAL_NOW=yesterday "$tipwright" register customer add X "${alice[@]}"
sed 's/"invented": true/"invented": false/' "$work/second/record.json" >"$work/real.json"
expect 6 "was edited" "$tipwright" certificate draft "$work/real.json" --source "$work/second/journal.twj" "${tom[@]}"
# Supplied measurements too are drafted from their table alone.
says "" "$tipwright" evaluate "$source_dir/templates/supplied/per-step.csv" --out "$work/supplied"
expect 6 "table it was made from is not there" "$tipwright" certificate draft "$work/supplied/record.json" "${tom[@]}"
# A draft more, so that those below keep their numbers.
says "" "$tipwright" certificate draft "$work/second/record.json" "${tom[@]}"
says "discarded" "$tipwright" certificate discard 3 --reason "a trial" "${tom[@]}"

# --- the gauge comes back: service, both states on one certificate, drift since the last ---
export TIPWRIGHT_TRIAL_NOW=2028-12-01T08:00:00Z
says "order 1" "$tipwright" register service open INV-200-0002 --on 2028-11-25 --condition "dusty" --request "as ever" "${tom[@]}"
expect 2 "still open" "$tipwright" register service open INV-200-0002 "${tom[@]}"
says "order 1" "$tipwright" register service finding INV-200-0002 --found "insects in the funnel" --done "cleaned" "${tom[@]}"
measure found 2028-11-27T08:00:00Z --seed 5
says "order 1" "$tipwright" register service adjusted INV-200-0002 --turns-a 0.25 --turns-b -0.25 "${tom[@]}"
measure left 2028-11-28T08:00:00Z --seed 5 --as-left
expect 2 '"2028-13" is not a month; write it as 2031-05' "$tipwright" ask due --from 2028-13
expect 2 "second as-found" "$tipwright" certificate draft "$work/found/record.json" "$work/first/record.json" "${tom[@]}"
says "4 +INV-200-0002" "$tipwright" certificate draft "$work/found/record.json" "$work/left/record.json" "${tom[@]}"
expect 6 "still waits" "$tipwright" register service close INV-200-0002 "${tom[@]}"
says "checked" "$tipwright" certificate check 4 "${carol[@]}"
says "B1-2028-00001" "$tipwright" certificate issue --all "${alice[@]}" "${secret[@]}" --out "$work/issued"
says "drift .* since 2026-11-20, E_n" "$tipwright" certificate show B1-2028-00001
says "Closed" "$tipwright" register service close INV-200-0002 "${tom[@]}"
both=$work/issued/B1-2028-00001
pdftotext -layout "$both/certificate.pdf" "$work/text"
tr -s ' \n' ' ' <"$work/text" >"$work/words"
grep -q "Since the calibration of 20 November 2026 the error" "$work/words" || fail "the certificate does not show the drift"
grep -q "checked by C. Checker" "$work/words" || fail "the certificate does not name who checked it"
grep -q "25 November 2028\|1 December 2028: insects in the funnel; cleaned" "$work/words" ||
  fail "the certificate does not show what was found in service"
grep -q "compartment A 0.25, compartment B −0.25 turns" "$work/words" ||
  fail "the certificate does not show the adjustment"
grep -q "as found and as left" "$work/words" || fail "the certificate does not show both states"
qpdf --check "$both/certificate.pdf" >"$work/qpdf" 2>&1 || fail "qpdf: $(cat "$work/qpdf")"
pdffonts "$both/certificate.pdf" | tail -n +3 | awk '{ if ($(NF-4) != "yes") exit 1 }' || fail "a font is not embedded"

# --- replacement, with the reason on its face; amendment ---
expect 2 "no issued certificate|no certificate" "$tipwright" certificate replace B1-2028-00009 --reason x "${tom[@]}"
expect 2 "corrects nothing" "$tipwright" certificate amend B1-2028-00001 --reason x --correct "error=0" "${tom[@]}"
expect 2 '"yesterday" is no date' "$tipwright" certificate amend B1-2028-00001 --reason x --correct received_on=yesterday "${tom[@]}"
expect 2 "received on 2031-01-01, yet measured on" "$tipwright" certificate amend B1-2028-00001 --reason x \
  --correct received_on=2031-01-01 "${tom[@]}"
says "Draft 5 replaces" "$tipwright" certificate replace B1-2028-00001 --reason "wrong station" \
  --correct "station=Station Lower Drizzle (invented)" "${tom[@]}"
says "checked" "$tipwright" certificate check 5 "${carol[@]}"
says "B1-2028-00002" "$tipwright" certificate issue 5 "${alice[@]}" "${secret[@]}" --out "$work/issued" --language fr
pdftotext "$work/issued/B1-2028-00002/certificate.pdf" - | tr -s ' \n' ' ' >"$work/words"
grep -q "Annule et remplace B1-2028-00001. Motif : wrong station" "$work/words" ||
  fail "the replacement does not refer to the old certificate"
grep -q "Station Lower Drizzle" "$work/words" || fail "the station was not corrected"
says "replaced by B1-2028-00002" "$tipwright" certificate list
expect 6 "was replaced by B1-2028-00002" "$tipwright" certificate amend B1-2028-00001 --reason again "${tom[@]}"

# --- every language: the words, the decimal sign, the code, the machine-readable certificate ---
schema=$source_dir/../shared/schemas/dcc/dcc.xsd
[ -f "$schema" ] || echo "the folder of DCC schemas is not there: not validated against the published schema"
earlier=B1-2028-00002
draft=6
for language in "de 3 Ersetzt.B1-2028 U.=.0,12.mm" "es 4 Sustituye.a.B1-2028 U.=.0,12.mm" \
  "fr 5 Annule.et.remplace.B1-2028 U.=.0,12.mm" "en 6 Replaces.B1-2028 U.=.0.12.mm"; do
  read -r code number words figure <<<"$language"
  says "replaces" "$tipwright" certificate replace "$earlier" --reason "in another language" "${tom[@]}"
  says "checked" "$tipwright" certificate check "$draft" "${carol[@]}"
  [ "$code" = en ] && paper=Letter || paper=A4
  says "B1-2028-0000$number" "$tipwright" certificate issue "$draft" "${alice[@]}" "${secret[@]}" --language "$code" \
    --paper "$paper" --letterhead "$source_dir/templates/certificate/letterhead.toml" --out "$work/issued"
  files=$work/issued/B1-2028-0000$number
  pdftotext -layout "$files/certificate.pdf" "$work/text"
  grep -q "$words" "$work/text" || fail "$code: no '$words'"
  grep -q "$figure" "$work/text" || fail "$code: no '$figure'"
  grep -q "Invented register entry 0000" "$work/text" || fail "$code: no foot of the letterhead"
  qpdf --check "$files/certificate.pdf" >"$work/qpdf" 2>&1 || fail "$code: qpdf: $(cat "$work/qpdf")"
  pdftoppm -r 150 -f 1 -l 1 -png "$files/certificate.pdf" "$work/$code"
  zbarimg -q --raw "$work/$code"-*1.png >"$work/code" 2>/dev/null || fail "$code: the code on the page cannot be read"
  says "seal of certificate B1-2028-0000$number" "$tipwright" verify --public-keys "$public" "$work/code" "$files/certificate.pdf"
  if [ -f "$schema" ]; then
    xmllint --nonet --noout --schema "$schema" "$files/certificate.xml" >"$work/xml" 2>&1 || fail "$code: $(head -3 "$work/xml")"
    sed '0,/<dcc:uniqueIdentifier>.*<\/dcc:uniqueIdentifier>/s///' "$files/certificate.xml" >"$work/cut.xml"
    ! xmllint --nonet --noout --schema "$schema" "$work/cut.xml" >/dev/null 2>&1 || fail "$code: a DCC without its number is valid"
  fi
  earlier=B1-2028-0000$number
  draft=$((draft + 1))
done

# --- a translation is marked, bears no seal, and is none of the language of issue ---
expect 2 "issued in that language" "$tipwright" certificate translate B1-2028-00001 --language en --out "$work/translated.pdf"
says "Only the issued document holds" "$tipwright" certificate translate B1-2028-00001 --language de --out "$work/translated.pdf"
pdftotext "$work/translated.pdf" - | tr -s ' \n' ' ' >"$work/words"
grep -q "ÜBERSETZUNG von Kalibrierschein B1-2028-00001, .* Sprache: Englisch. Nur das ausgestellte Dokument gilt" "$work/words" ||
  fail "the translation does not say of what it is one"
expect 5 "" "$tipwright" verify --public-keys "$public" "$work/translated.pdf"
pdftotext "$both/certificate.pdf" - | tr -s ' \n' ' ' | grep -q "should there be translations, this text in English holds" ||
  fail "the certificate does not say which language holds"

# --- the code on the page, read by a general-purpose reader ---
pdftoppm -r 150 -f 1 -l 1 -png "$both/certificate.pdf" "$work/page"
zbarimg -q --raw "$work"/page-*1.png >"$work/code" 2>/dev/null || fail "the code on the page cannot be read"
says "seal of certificate B1-2028-00001" "$tipwright" verify --public-keys "$public" "$work/code" "$both/certificate.pdf"
"$tipwright" verify --public-keys "$public" - "$both/record.json" "$both/record-as-found.json" <"$work/code" >"$work/out" ||
  fail "the code does not fit the records: $(cat "$work/out")"
sed 's/00001/00002/' "$work/code" >"$work/forged"
expect 5 "" "$tipwright" verify --public-keys "$public" "$work/forged"

# --- keys rotate, old certificates stay checkable ---
printf 'another passphrase\n' >"$work/new"
expect 6 "passphrase" "$tipwright" keys rotate --passphrase-file "$work/wrong" --new-passphrase-file "$work/new"
says "from now on" "$tipwright" keys rotate "${secret[@]}" --new-passphrase-file "$work/new"
expect 2 "there is something already" "$tipwright" keys export --out "$public"
says "2 public keys" "$tipwright" keys export --force --out "$public"
says "ok" "$tipwright" verify --public-keys "$public" "$both"
expect 5 "" "$tipwright" verify --public-keys "$public" "$work/preview.pdf"

# --- what was handed out is not written over ---
says "exported/B1-2028-00001" "$tipwright" certificate export B1-2028-00001 --out "$work/exported"
touch -d 2001-01-01 "$work"/exported/B1-2028-00001/*
expect 2 "exported/B1-2028-00001: there is something already" "$tipwright" certificate export B1-2028-00002 B1-2028-00001 --out "$work/exported"
[ ! -e "$work/exported/B1-2028-00002" ] || fail "a refused export wrote the other certificate"
expect 2 "there is something already" "$tipwright" --json certificate export B1-2028-00001 --out "$work/exported"
python3 -c 'import json, sys; d = json.load(open(sys.argv[1])); assert d["fault"]["code"] == "duplicate" and d["exit_code"] == 2' "$work/out" ||
  fail "a refusal to write over is none for machines: $(cat "$work/out")"
[ -z "$(find "$work/exported" -newermt 2001-01-02 -type f)" ] || fail "a refused export wrote"
says "exported/B1-2028-00001" "$tipwright" certificate export B1-2028-00001 --out "$work/exported" --force
[ -n "$(find "$work/exported" -newermt 2001-01-02 -type f)" ] || fail "--force does not write over"
echo x >>"$work/exported/B1-2028-00001/certificate.pdf"
expect 2 "certificate.pdf: .*there is another file already" "$tipwright" certificate issue 4 "${alice[@]}" --passphrase-file "$work/new" --out "$work/exported"
tail -c 2 "$work/exported/B1-2028-00001/certificate.pdf" | grep -q x || fail "issue wrote over another certificate"
says "" "$tipwright" certify "$work/first/record.json" --out "$work/drawn.pdf" --svg "$work/pictures"
expect 2 "\.svg: there is something already" "$tipwright" certify "$work/first/record.json" --out "$work/drawn-again.pdf" --svg "$work/pictures"

# --- packs ---
customer="Weather Service of Gaugewick (invented)"
says "Packed 1 certificate" "$tipwright" pack --customer "$customer" --out "$work/pack.zip"
says "Packed 1 certificate" "$tipwright" pack --customer "$customer" --out "$work/pack"
says "1 packs written" "$tipwright" pack --customer "$customer" --each-station --out "$work/packs"
says "1 were there already" "$tipwright" pack --customer "$customer" --each-station --out "$work/packs"
says "every checksum fits" "$tipwright" verify --public-keys "$public" "$work/packs/Station-Dripping-Vale-invented.zip"
expect 2 "customer alone" "$tipwright" pack --each-station --out "$work/packs"
expect 2 "something already" "$tipwright" pack B1-2028-00006 --out "$work/pack"
expect 6 "B1-2028-00002 is void: B1-2028-00003 replaced it" "$tipwright" pack B1-2028-00002 --out "$work/void.zip"
says "every checksum fits" "$tipwright" verify --public-keys "$public" "$work/pack.zip"
says "every checksum fits" "$tipwright" verify --public-keys "$public" "$work/pack"
(cd "$work/pack" && sha256sum --quiet -c SHA256SUMS) || fail "sha256sum does not accept the list of checksums"
python3 -m zipfile -t "$work/pack.zip" >/dev/null || fail "the zip is not sound to another program"
# One file of an unpacked pack takes with it what it is sealed with; half of a pair elsewhere is told to be that.
for file in "$work"/pack/B1-2028-00006/record*.json; do
  says "^Proved: certificate B1-2028-00006 sealed" "$tipwright" verify --public-keys "$public" "$file"
done
python3 -m zipfile -e "$source_dir/fixtures/ages/1.0/station.zip" "$work/station"
mkdir "$work/half"
cp "$work"/station/*/record.json "$work"/station/*/seal.txt "$work/half/"
expect 5 "" "$tipwright" verify --public-keys "$source_dir/fixtures/ages/1.0/public-keys.txt" "$work/half"
grep -q "by itself; .* both records are sealed together" "$work/out" || fail "half of a pair is not told from a changed record"
sed -i 's/mm/cm/' "$work/pack/B1-2028-00006/formula.txt"
expect 5 "" "$tipwright" verify --public-keys "$public" "$work/pack"
grep -q "WRONG.*formula.txt" "$work/out" || fail "the changed formula is not named"
rm "$work/pack/B1-2028-00006/correction.csv"
expect 5 "" "$tipwright" verify --public-keys "$public" "$work/pack"
grep -q "WRONG.*correction.csv: is missing" "$work/out" || fail "the missing table is not named"

# --- questions ---
says "B1-2026-00001" "$tipwright" ask recall INV-BAL-11 --from 2026-01-01 --to 2026-12-31 --csv "$work/recall.csv"
expect 2 "recall.csv: there is something already" "$tipwright" ask recall INV-BAL-11 --from 2026-01-01 --to 2026-12-31 --csv "$work/recall.csv"
grep -q "^B1-2026-00001,2026-11-20,INV-200-0002" "$work/recall.csv" || fail "recall.csv: $(cat "$work/recall.csv")"
says "B1-2028-00006" "$tipwright" register instrument failed INV-BAL-11 --good-until 2028-01-01 --found "out of level" "${tom[@]}"
! grep -q "B1-2026-00001" "$work/out" || fail "the recall reaches back before the balance failed"
says "bucket-200-twin" "$tipwright" ask tolerance
says "INV-200-0002" "$tipwright" ask drift --percent 0 --years 5
for question in drift tolerance; do
  expect 2 'there is no kind of gauge "bucket-200-twn"; did you mean "bucket-200-twin"' \
    "$tipwright" ask $question --kind bucket-200-twn
  says "" "$tipwright" ask $question --kind bucket-200-twin
done
"$tipwright" --json ask drift --percent 0 --years 5 | python3 -c 'import json,sys; assert len(json.load(sys.stdin)) == 1' ||
  fail "ask drift --json"
says "Changed" "$tipwright" register customer change "$customer" --interval-months 24 --agreed "order 4711" "${alice[@]}"
says "2030-11-28 +INV-200-0002" "$tipwright" ask due --customer "$customer" --from 2030-11 --to 2030-11
says "none" "$tipwright" ask due --to 2030-10
says "insects in the funnel" "$tipwright" life INV-200-0002
echo "INV-200-0002" | "$tipwright" life >"$work/out"
grep -q "replaced by B1-2028-00002" "$work/out" || fail "life by a scanner"
expect 2 "no gauge" "$tipwright" life INV-999

# --- lists, duplicates ---
printf 'serial;model;kind;customer;catch_diameter_mm\nX-1;Model X;spoon-100;New (invented);100,2\nX-2;Model X;spoon-100;;\n' >"$work/list.csv"
says "2 gauges entered" "$tipwright" register gauge import "$work/list.csv" "${tom[@]}"
says "2 as they were" "$tipwright" register gauge import "$work/list.csv" "${tom[@]}"
expect 2 "X-1|x-1" "$tipwright" register gauge add " x-1" --model "Model X" --kind spoon-100 "${tom[@]}"
expect 2 "another gauge is meant" "$tipwright" register gauge add X-1 --model "Model Y" --kind spoon-100 "${tom[@]}"
says "Entered" "$tipwright" register gauge add X-1 --model "Model Y" --kind spoon-100 --other-model "${tom[@]}"
printf 'serial,model,kind\nY-1,M,k\nY-1,M,k\n' >"$work/twice.csv"
expect 2 "twice.csv:3:1: .*twice" "$tipwright" register gauge import "$work/twice.csv" "${tom[@]}"
says "X-2" "$tipwright" register gauge list
! grep -q "Y-1" "$work/out" || fail "half a bad list was imported"

# --- data that others supplied are issued under the name of who issues, not of who measured ---
says "" "$tipwright" certificate draft "$work/supplied/record.json" \
  --source "$source_dir/templates/supplied/per-step.csv" "${tom[@]}"
supplied=$(grep -oE '^ *[0-9]+ +INV-200-0031' "$work/out" | awk '{ print $1; exit }')
says "checked" "$tipwright" certificate check "$supplied" "${carol[@]}"
expect 2 "no laboratory is named that issues it.*--letterhead" "$tipwright" certificate issue "$supplied" "${alice[@]}" --passphrase-file "$work/none"
says "B1-2028-" "$tipwright" certificate issue "$supplied" "${alice[@]}" --passphrase-file "$work/new" --out "$work/evaluated" \
  --letterhead "$source_dir/templates/certificate/letterhead.toml"
files=$(dirname "$work"/evaluated/*/certificate.pdf)
pdftotext -layout "$files/certificate.pdf" - | tr -s ' \n' ' ' >"$work/words"
grep -q "^ *Laboratory Larkmere Rain Gauge Laboratory" "$work/words" || fail "the issuing laboratory does not head its report"
grep -q "Data supplied by Plumbline Workshop" "$work/words" || fail "who supplied the data is not told"
grep -q "<dcc:performanceLocation>other<" "$files/certificate.xml" || fail "supplied data are said to come from a laboratory"
if [ -f "$schema" ]; then
  xmllint --nonet --noout --schema "$schema" "$files/certificate.xml" >"$work/xml" 2>&1 || fail "supplied: $(head -3 "$work/xml")"
fi

# --- maintenance: backup, damage, restore ---
says "Backed up" "$tipwright" register backup "$work/backup"
says "all as it should be" "$tipwright" register check
says "Restored" "$tipwright" register restore "$work/backup" --register "$work/restored"
says "all as it should be" "$tipwright" register check --register "$work/restored"
"$tipwright" certificate show B1-2028-00002 >"$work/one"
"$tipwright" certificate show B1-2028-00002 --register "$work/restored" | cmp -s - "$work/one" || fail "the restored register differs"
document=$(find "$work/restored/documents" -type f -size +100k | head -1)
chmod u+w "$document"
printf 'x' | dd of="$document" bs=1 seek=5000 conv=notrunc 2>/dev/null
expect 5 "" "$tipwright" register check --register "$work/restored"
grep -q "WRONG" "$work/out" || fail "a damaged document is not told"
truncate -s 20000 "$work/restored/register.sqlite"
expect 6 "damaged|malformed|not a database" "$tipwright" register check --register "$work/restored"
expect 6 "password" "$tipwright" ask work --register "host=db.example dbname=register password=hush"
! grep -q hush "$work/err" || fail "the password is shown"
expect 6 "" "$tipwright" ask work --register "host=$work/nowhere dbname=register"

[ "$failures" = 0 ] || exit 1
echo "all checks passed"
