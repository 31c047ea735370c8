#!/usr/bin/env bash
# A run whose program was killed is recovered: resumed, or closed. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
run=
cleanup() {
  [ -z "$run" ] || kill -9 "$run" 2>/dev/null || true
  rm -rf "$work"
}
trap cleanup EXIT
fail() {
  echo "FAILED: $*" >&2
  exit 1
}

calibrate() { "$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check "$@"; }

# Whole runs to compare with, and one that is killed after its first step.
calibrate --out "$work/whole" >/dev/null
"$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan three-point-check \
  --out "$work/killed" --speed 100 >/dev/null 2>&1 &
run=$!
for _ in $(seq 300); do
  grep -q "did=close step=1" "$work/killed/journal.twj" 2>/dev/null && break
  sleep 0.1
done
# As long as the run goes on, nobody else touches it.
got=0
"$tipwright" recover "$work/killed" --resume >/dev/null 2>"$work/err" || got=$?
[ "$got" = 2 ] && grep -q "another process" "$work/err" || fail "recover of a run that goes on: $got $(cat "$work/err")"
kill -9 "$run"
wait "$run" 2>/dev/null || true
run=
printf '123 torn' >>"$work/killed/journal.twj"
cp -r "$work/killed" "$work/closed"

# Without a choice nothing is changed.
cp "$work/killed/journal.twj" "$work/before"
got=0
"$tipwright" recover "$work/killed" >"$work/said" 2>"$work/err" || got=$?
[ "$got" = 4 ] || fail "recover without a choice: exit code $got"
grep -q "kept .*1 of 3 steps" "$work/said" || fail "recover says not what is kept: $(cat "$work/said")"
grep -q "torn .*bytes" "$work/said" || fail "recover says nothing of the torn tail"
cmp -s "$work/before" "$work/killed/journal.twj" || fail "recover without a choice changed the journal"
got=0
calibrate --out "$work/killed" >/dev/null 2>"$work/err" || got=$?
[ "$got" = 2 ] && grep -q "tipwright recover" "$work/err" || fail "calibrate over a broken run: $got $(cat "$work/err")"

# Resumed: complete, says so, evaluates again to the same bytes, and its first step is as it was.
"$tipwright" recover "$work/killed" --resume >"$work/said" || fail "recover --resume: $(cat "$work/said")"
grep -q "resumed at .* from step 2" "$work/killed/record.json" || fail "the record does not say that the run was resumed"
"$tipwright" evaluate "$work/killed/journal.twj" --out "$work/again" >/dev/null
cmp -s "$work/killed/record.json" "$work/again/record.json" || fail "evaluating the journal again gives another record"
"$tipwright" verify "$work/killed/journal.twj" "$work/killed/record.json" "$work/killed/certificate.pdf" >/dev/null ||
  fail "verify of a run that was resumed"
[ "$(wc -l <"$work/killed/results.csv")" = "$(wc -l <"$work/whole/results.csv")" ] || fail "steps are missing"
got=0
"$tipwright" recover "$work/killed" --resume >/dev/null 2>"$work/err" || got=$?
[ "$got" = 2 ] && grep -q "complete" "$work/err" || fail "recover of a complete run: $got $(cat "$work/err")"

# Closed: incomplete, the step that was measured is kept, no certificate.
"$tipwright" recover "$work/closed" --close >/dev/null || fail "recover --close"
tail -n 1 "$work/closed/journal.twj" | grep -q " close .*complete=false" || fail "the journal was not closed"
got=0
"$tipwright" evaluate "$work/closed/journal.twj" --out "$work/closed" >/dev/null || got=$?
[ "$got" = 4 ] && [ ! -e "$work/closed/certificate.pdf" ] || fail "a closed run gave a certificate"
# A person may have the finished steps certified: the draft says so on page 1.
"$tipwright" certify "$work/closed/record.json" --out "$work/closed/draft.pdf" >/dev/null || fail "no draft of finished steps"
pdftotext -l 1 "$work/closed/draft.pdf" - | tr '\n' ' ' | grep -q "The measurement was broken off: 1 of" ||
  fail "page 1 does not say that the run was broken off"
cmp -s <(sed -n 2p "$work/closed/results.csv") <(sed -n 2p "$work/killed/results.csv") || fail "the kept step differs"

# A disk that is full: the water stops, what is there is kept, and the run can be resumed.
got=0
(ulimit -f 300; trap '' XFSZ; calibrate --out "$work/full" >"$work/said" 2>"$work/err") || got=$?
[ "$got" = 3 ] && grep -qi "cannot be written" "$work/err" || fail "full disk: exit code $got, said $(cat "$work/err")"
[ ! -e "$work/full/certificate.pdf" ] || fail "a full disk gave a certificate"
"$tipwright" recover "$work/full" --resume >"$work/said" || fail "recover after a full disk: $(cat "$work/said")"
[ -s "$work/full/certificate.pdf" ] || fail "no certificate after a full disk was recovered"
echo "all checks passed"
