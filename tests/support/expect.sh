# For test scripts that count failures and go on. Sourced, after $work is made.
failures=0

fail() {
  echo "FAILED: $*" >&2
  failures=$((failures + 1))
}

# expect CODE PATTERN COMMAND...: exit code, and one line of error that holds the pattern.
expect() {
  local code=$1 pattern=$2 got=0
  shift 2
  "$@" >"$work/out" 2>"$work/err" || got=$?
  [ "$got" = "$code" ] || fail "$*: exit code $got, expected $code: $(cat "$work/err")"
  [ -z "$pattern" ] || grep -qE -- "$pattern" "$work/err" || fail "$*: error says '$(cat "$work/err")', expected /$pattern/"
  [ "$(wc -l <"$work/err")" -le 1 ] || fail "$*: more than one line of error"
}
