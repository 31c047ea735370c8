#!/usr/bin/env bash
# Output that cannot be written: the run goes to its end all the same, and the exit code says that nobody heard of it; a
# closed descriptor never becomes the journal's. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
failures=0
fail() {
  echo "FAILED: $*" >&2
  failures=$((failures + 1))
}
run() {  # folder, then how its output is lost
  local got=0
  (
    trap - PIPE
    exec env --default-signal=PIPE "$tipwright" calibrate --bench virtual-bench --gauge demo-bucket-200-twin \
      --plan three-point-check --out "$work/$1"
  ) || got=$?
  [ "$got" = 7 ] || fail "$1: exit code $got instead of 7"
  head -c 9 "$work/$1/journal.twj" | grep -q tipwright || fail "$1: the journal begins with something else"
  [ "$(grep -c ' close .*complete=true' "$work/$1/journal.twj")" = 1 ] || fail "$1: the run did not come to its end"
  ! grep -q 'time left' "$work/$1/journal.twj" || fail "$1: words for the terminal are in the journal"
  [ -s "$work/$1/certificate.pdf" ] || fail "$1: no certificate"
}
run full >/dev/full
run closed >&-
run all_closed <&- >&- 2>&-
for lost in full closed all_closed; do
  [ "$(grep -c ' remark .*The display is lost' "$work/$lost/journal.twj")" = 1 ] || fail "$lost: the journal knows nothing of it"
done
# A reader that goes away at once: a run on a quick machine is over in a fifth of a second.
mkfifo "$work/pipe"
: <"$work/pipe" &
run reader_gone >"$work/pipe"

for words in list --help --version; do
  got=0
  "$tipwright" "$words" >/dev/full 2>/dev/null || got=$?
  [ "$got" = 7 ] || fail "$words into a full disk: exit code $got instead of 7"
done
# What failed for another reason says that.
got=0
"$tipwright" calibrate --bench none --gauge none --plan none --out "$work/none" >/dev/full 2>&1 || got=$?
[ "$got" = 2 ] || fail "a fault with its words lost: exit code $got instead of 2"
[ "$failures" = 0 ] && echo "all checks passed"
[ "$failures" = 0 ]
