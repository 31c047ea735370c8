#!/usr/bin/env bash
# A day in a workshop with the shipped program: a gauge from its file into the register, a round in six commands, what is
# due, sides and screws, labels, nothing written over, typos named. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
. "$source/tests/support/expect.sh"
cd "$work"
unset TIPWRIGHT_REGISTER TIPWRIGHT_PERSON TIPWRIGHT_KEYS TIPWRIGHT_WORK
export TIPWRIGHT_SETTINGS=$work/settings.toml TIPWRIGHT_TRIAL_NOW=2026-11-28T10:00:00Z HOME=$work
umask 077
printf 'four words not together\n' >phrase
cat >settings.toml <<'TOML'
bench = "virtual-bench"
plan_as_found = "three-point-check"
plan_as_left = "three-point-check"
work = "runs"
register = "~/register"
keys = "~/workshop-keys"
person = "A. Signatory"
enter = true
TOML
holds() { # WORDS FILE
  grep -qE -- "$1" "$2" || fail "no /$1/ in $2: $(head -c 1500 "$2")"
}
lacks() { ! grep -qE -- "$1" "$2" || fail "/$1/ in $2: $(grep -E -- "$1" "$2" | head -n 3)"; }

"$tipwright" register create >/dev/null
"$tipwright" register person add "C. Checker" --may-check true >/dev/null
"$tipwright" keys make --passphrase-file phrase >/dev/null
"$tipwright" keys export --out exported-keys.txt >exported
holds '^Wrote 1 public key to ' exported
[ -d workshop-keys ] || fail "the settings' keys are not where keys are made"
"$tipwright" register gauge add INV-200-0002 --from demo-bucket-200-twin >/dev/null
"$tipwright" register gauge list >listed
holds 'INV-200-0002.*Weather Service of Gaugewick.*Station Dripping Vale' listed
"$tipwright" ask due >due
holds 'never calibrated.*INV-200-0002' due
"$tipwright" ask due --customer gaugewick --station "dripping" >due
holds 'never calibrated.*INV-200-0002' due
expect 2 'no customer whose name holds "Nobody"' "$tipwright" ask due --customer Nobody

# completes WORDS... = CANDIDATES: what the tabulator key offers, in one line.
completes() {
  local words=() got
  while [ "$1" != = ]; do words+=("$1") && shift; done
  got=$("$tipwright" complete "${words[@]}" | paste -sd' ')
  [ "$got" = "$2" ] || fail "complete ${words[*]}: '$got', not '$2'"
}

# The round.
"$tipwright" calibrate INV-200-0002 --side-up A --started-at 2026-11-26T08:00:00Z >found
holds 'register +entered as found' found
holds 'Compartment A is side A .at the screw nearest the terminal block' runs/INV-200-0002/2026-11-26-found/record.json
"$tipwright" adjust INV-200-0002 >advice
grep -q '^Record as found: .*/record.json$' advice || fail "adjust does not say which run of a serial it took: $(head -2 advice)"
holds '^A .*(clockwise|anticlockwise)' advice
holds 'limits, %' advice
holds 'pass, pass|fail, pass' advice
holds 'seen from above the screw' advice
lacks 'ide not known' advice
"$tipwright" calibrate INV-200-0002 --as-left --side-up A --started-at 2026-11-27T08:00:00Z >left
holds 'register +entered and drafted: draft 1' left
completes certificate check '' = 1
completes certificate issue '' = ''
completes adjust IN = INV-200-0002
completes adjust INV-200-0002 --left '' = INV-200-0002
completes certificate draft IN = INV-200-0002
completes certificate check 1 --person 'C' = 'C. Checker'
"$tipwright" certificate check 1 --person "C. Checker" >/dev/null
completes certificate check '' = ''
completes certificate issue '' = 1
completes certificate show '' = 1
"$tipwright" certificate issue 1 --passphrase-file phrase >/dev/null
for verb in replace amend export show; do completes certificate $verb B = B1-2026-00001; done
completes pack '' = B1-2026-00001
completes pack --serial '' = INV-200-0002
completes recover '' = ''
# As bash takes them: a name with a blank is one word.
mkdir bin
ln -s "$tipwright" bin/tipwright
[ "$(PATH=$work/bin:$PATH bash -c '. "$1"; COMP_WORDS=(tipwright certificate check 1 --person C) COMP_CWORD=5; _tipwright; echo "${COMPREPLY[@]}"' \
  bash "$source/bench/package/completion/tipwright.bash")" = 'C.\ Checker' ] || fail "bash does not get a name with a blank as one word"
"$tipwright" pack --serial INV-200-0002 --out station.zip >/dev/null
"$tipwright" verify station.zip >verified || fail "verify does not find the settings' keys: $(cat verified)"
"$tipwright" ask due >due
lacks 'INV-200-0002' due
"$tipwright" life INV-200-0002 >life
[ "$(grep -c 'measured: as found' life)" = 1 ] || fail "a measurement is counted more than once: $(cat life)"
[ "$(grep -c 'measured: as left' life)" = 1 ] || fail "a measurement is counted more than once: $(cat life)"

# A round that the register knows has its short commands; elsewhere the folder is said.
"$tipwright" adjust INV-200-0002 --left INV-200-0002 >left.txt
grep -q '^Record as left: .*/record.json$' left.txt || fail "adjust does not say which run as left it took"
"$tipwright" adjust INV-200-0002 --left INV-200-0002 --json | python3 -c '
import json, os, sys
said = json.load(sys.stdin)
assert os.path.exists(said["found_record"]) and os.path.exists(said["left_record"])
assert said["found_record"] != said["left_record"]' || fail "adjust --json does not name its records"
holds 'As left against what was expected' left.txt
# The bucket's sides were not adjusted on the virtual bench: left as unequal as they were found.
holds 'THE COMPARTMENTS WERE LEFT UNEQUAL' left.txt
holds '^A holds [0-9.]+ ± [0-9.]+ mL \([0-9.]+ % of a tip\) more than B; as found it was [0-9.]+ ± [0-9.]+ mL' left.txt
holds 'To set them alike: [0-9.]+ mL less in the larger one' left.txt
"$tipwright" adjust INV-200-0002 --left INV-200-0002 --json | python3 -c '
import json, sys
sides = json.load(sys.stdin)["compartments_as_left"]
assert sides["unequal"] and sides["a_minus_b_mL"] > sides["U_mL"] > 0 and "a_minus_b_found_mL" in sides' || fail "unequal sides for machines"

# Its serial stands for its newest runs wherever records are wanted.
"$tipwright" compare INV-200-0002 --json | python3 -c '
import json, sys
assert [r["state"] for r in json.load(sys.stdin)["records"]] == ["as_found", "as_left"]' || fail "compare takes no serial"
"$tipwright" verify INV-200-0002 >verified
for run in 2026-11-26-found 2026-11-27-left; do holds "^ok .*$run/record.json: equals what the journal .*$run/journal.twj gives" verified; done
# Runs beside each other are held to their own journals; what has none among those given is not taken for good.
"$tipwright" verify runs/INV-200-0002/2026-* >/dev/null || fail "two runs of a gauge contradict each other"
"$tipwright" verify runs/INV-200-0002/2026-11-26-found/journal.twj runs/INV-200-0002/2026-11-27-left/record.json >verified && fail "a record beside another's journal"
holds 'WRONG .*record.json: was not made from the journal' verified
# The gauge's whole folder, with the description that calibrate made from the register: its journals know those words.
"$tipwright" verify runs/INV-200-0002 >verified || fail "verify of a gauge's folder: $(cat verified)"
holds '^ok .*runs/INV-200-0002/gauge.toml: is the gauge that the journal .*/2026-11-2[67]-[a-z]*/journal.twj was given' verified
sed 's/^model.*/model = "Another"/' runs/INV-200-0002/gauge.toml >changed
cp runs/INV-200-0002/gauge.toml kept
cp changed runs/INV-200-0002/gauge.toml
expect 8 '' "$tipwright" verify runs/INV-200-0002
holds '^cannot judge .*gauge.toml: ' out
cp kept runs/INV-200-0002/gauge.toml
expect 5 '' "$tipwright" verify --public-keys workshop-keys/public-keys.txt runs/INV-200-0002/gauge.toml
"$tipwright" certify INV-200-0002 --out serial.pdf >/dev/null
pdftotext -layout serial.pdf - >serial.txt
holds '[Aa]s left' serial.txt
expect 2 'INV-200-9999' "$tipwright" certify INV-200-9999 --out nobody.pdf

# A run whose folder was named: right in its gauge's folder, as README has it, or anywhere.
named() { # FOLDER WORK
  "$tipwright" calibrate --gauge demo-spoon-100 --plan three-point-check --out "$1" --work "$2" >/dev/null 2>&1 || fail "calibrate --out $1"
  "$tipwright" next INV-100-0005 --work "$2" >next
  holds "^Next: tipwright adjust INV-100-0005 --work $2" next
}
named given/INV-100-0005 given
mkdir -p notes
named anywhere/spoon notes
grep -qxF "folder = \"$work/anywhere/spoon\"" notes/.elsewhere/INV-100-0005.toml || fail "the note of a run elsewhere: $(cat notes/.elsewhere/*)"
rm -r anywhere
"$tipwright" next INV-100-0005 --work notes >next
holds 'not been measured yet: no run of it is known in "notes"' next
# Where nobody named a work folder, and none is there, none is made.
mkdir elsewhere
(cd elsewhere && TIPWRIGHT_SETTINGS='' "$tipwright" calibrate --bench virtual-bench --gauge demo-spoon-100 --plan three-point-check --out one >/dev/null 2>&1)
[ "$(ls -A elsewhere)" = one ] || fail "a run left more than its folder: $(ls -A elsewhere)"

# The same gauge, its bucket laid on the other side: B tips first, and stays B.
"$tipwright" calibrate --gauge demo-bucket-200-twin --plan three-point-check --out other --side-up B >/dev/null 2>&1
"$tipwright" adjust other/record.json >other.txt
a=$(awk '$1 == "A" && $3 == "±" { print $2 }' advice)
b=$(awk '$1 == "B" && $3 == "±" { print $2 }' other.txt)
[ -n "$a" ] && [ "$a" = "$b" ] || fail "the side that tipped first is not called by its name: A $a, then B $b"
"$tipwright" calibrate --gauge demo-bucket-200-twin --plan three-point-check --out nobody >/dev/null 2>&1
"$tipwright" adjust nobody/record.json >nobody.txt
holds 'Side not known' nobody.txt
holds '^larger .*clockwise' nobody.txt
# Nor is a side named of what was measured after the adjustment.
"$tipwright" adjust INV-200-0002 --left nobody >nobody-left.txt
holds '^One compartment holds [0-9.]+ ± [0-9.]+ mL' nobody-left.txt
holds '^Side not known: in the run as left' nobody-left.txt
"$tipwright" adjust INV-200-0002 --left nobody --json | python3 -c '
import json, sys
sides = json.load(sys.stdin)["compartments_as_left"]
assert sides["sides_known"] is False and sides["larger_minus_smaller_mL"] > 0 and "a_minus_b_found_mL" in sides
assert "a_minus_b_mL" not in sides and sides["percent_of_tip"] > 0' || fail "sides that are not known are named for machines"
lacks '^A ' nobody.txt
expect 2 'a spoon has no sides' "$tipwright" calibrate --gauge demo-spoon-100 --plan three-point-check --out spoon --side-up A
"$tipwright" adjust other/record.json --per-turn 0.3 >/dev/null || fail "a turn's volume without its uncertainty is refused"
"$tipwright" adjust INV-200-0002 --json | python3 -c '
import json, sys
d = json.load(sys.stdin)
assert d["sides_known"] and [c["compartment"] for c in d["compartments"]] == ["A", "B"]
assert all(c["seen_from_above"] in ("clockwise", "anticlockwise") for c in d["compartments"])
assert all("low_percent" in s for s in d["steps"]) and d["can_pass"] in (True, False)' || fail "adjust for machines"

# What is missing is told by the command that was typed, and of the gauge that was named.
expect 2 "command line: --reason is missing: why; .*; see 'tipwright certificate replace --help'" "$tipwright" certificate replace B1-2026-00001
expect 2 "command line: found is missing: as-found record or certificate, or the serial .*; see 'tipwright adjust --help'" "$tipwright" adjust
TIPWRIGHT_SETTINGS='' expect 2 "command line: --bench is missing: bench description; give it, or set bench once in the settings" "$tipwright" calibrate INV-200-0002
expect 2 "no gauge with serial \"INV\"; look for it with 'tipwright register gauge list'" "$tipwright" life INV
expect 2 '4799: there is neither such a folder nor a run of such a gauge in ".*/runs" that is unfinished' "$tipwright" recover 4799
"$tipwright" next INV-200-0002 >next
holds 'tipwright pack --serial INV-200-0002 --out INV-200-0002.zip, tipwright label INV-200-0002 --out INV-200-0002-label.pdf$' next

# Labels.
"$tipwright" label INV-200-0002 --out label.pdf --sheet tape-62 >/dev/null
grep -q INV-200-0002 <(pdftotext label.pdf -) || fail "the label does not bear the serial"
expect 2 'something already' "$tipwright" label INV-200-0002 --out label.pdf
expect 2 'has places 1 to 24' "$tipwright" label INV-200-0002 --first 25 --out other.pdf

# Nothing is written over.
journal=runs/INV-200-0002/2026-11-26-found/journal.twj
"$tipwright" evaluate "$journal" --out again >/dev/null
cmp -s again/record.json runs/INV-200-0002/2026-11-26-found/record.json || fail "evaluated again it is another record"
before=$(stat -c %Y.%i again/record.json)
expect 2 'something already' "$tipwright" evaluate "$journal" --out again
[ "$(stat -c %Y.%i again/record.json)" = "$before" ] || fail "the refused command wrote"
"$tipwright" evaluate "$journal" --out again --force >/dev/null || fail "--force does not help"
"$tipwright" certify again/record.json --out c.pdf >/dev/null
expect 2 'something already' "$tipwright" certify again/record.json --out c.pdf
expect 2 'something already' "$tipwright" pack --serial INV-200-0002 --out station.zip

# A run that broke off: found by the serial, resumed, and its result enters by itself too.
broken=runs/INV-200-0002/2026-11-28-found
mkdir "$broken"
head -c $(($(stat -c %s "$journal") * 6 / 10)) "$journal" >"$broken/journal.twj"
"$tipwright" next INV-200-0002 >next
holds 'Next: tipwright recover INV-200-0002$' next
completes recover '' = "$work/runs/INV-200-0002/2026-11-28-found INV-200-0002"
expect 4 'say what to do with it.*--close' "$tipwright" recover INV-200-0002
# What is closed already is not advised to be closed again.
mkdir closed && cp "$broken/journal.twj" closed/
"$tipwright" recover closed --close >/dev/null
expect 4 'say what to do with it; --resume [^-]*, tipwright evaluate' "$tipwright" recover closed
"$tipwright" life INV-200-0002 >before
"$tipwright" recover INV-200-0002 --resume >resumed || fail "recover --resume by serial"
holds 'register +entered as found' resumed
"$tipwright" life INV-200-0002 >life
[ "$(grep -c 'measured: as found' life)" = $(($(grep -c 'measured: as found' before) + 1)) ] || fail "the resumed run did not enter the register once: $(cat life)"

# Typos.
expect 2 'there is no command "calibrat"; did you mean "calibrate"' "$tipwright" calibrat INV-200-0002
expect 2 'did you mean "certificate draft"' "$tipwright" certificate darft INV-200-0002
expect 2 'there is no option "--as-lfet" of calibrate; did you mean "--as-left"' "$tipwright" calibrate INV-200-0002 --as-lfet
expect 2 'no command "water"; see' "$tipwright" water

# A bench whose instruments are not all there: each is listed, and which one is missing.
sed -e '0,/^link = "virtual"/s||link = "pty /dev/pts/none"|' "$source/templates/benches/virtual-bench.toml" >broken.toml
"$tipwright" bench-check --bench broken.toml --gauge demo-bucket-200-twin >listed 2>said && fail "a bench without its balance passes"
for role in balance pump counter climate; do holds "$role" listed; done
holds 'MISSING' listed

# What the register would refuse after the run is refused before its water: another rim, a balance found faulty.
sed -e 's/^catch_diameter_mm = .*/catch_diameter_mm = 205.0/' "$source/templates/gauges/demo-bucket-200-twin.toml" >wide.toml
grep -q '^catch_diameter_mm = 205' wide.toml || fail "the demo gauge's rim is written otherwise"
expect 6 'knows gauge "INV-200-0002" with a catch diameter of' "$tipwright" calibrate --gauge wide.toml --side-up A --out wide \
  --started-at 2026-11-28T08:00:00Z
[ ! -e wide ] || fail "a run that was refused left its folder"
balance=$("$tipwright" --json register instrument list | python3 -c 'import json, sys; print([r["serial"] for r in json.load(sys.stdin) if r["role"] == "balance"][0])')
"$tipwright" register instrument failed "$balance" --good-until 2026-11-27 --found-on 2026-11-27 --found "0.3 g low" >/dev/null
"$tipwright" register instrument list >listed
holds "^$balance .*2026-11-27" listed
expect 6 "balance $balance, found faulty on 2026-11-27" "$tipwright" calibrate INV-200-0002 --as-left --side-up A \
  --started-at 2026-11-28T08:00:00Z

[ "$failures" = 0 ] || exit 1
echo "the day holds"
