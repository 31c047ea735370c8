# For test scripts that serve a bench beside the program: a folder $work that goes away at the end with the
# process $server, the program's words in $work/log, and a plan of a minute. Sourced, after tipwright is set.
work=$(mktemp -d)
server=
patience_s=120
cleanup() {
  [ -z "$server" ] || kill "$server" 2>/dev/null || true
  rm -rf "$work"
}
trap cleanup EXIT
failed() { echo "FAILED: $1"; cat "$work/log"; exit 1; }
refuses() {  # exit code, words, arguments
  local code=$1 words=$2 got=0
  shift 2
  timeout "$patience_s" "$tipwright" "$@" >"$work/log" 2>&1 || got=$?
  [ "$got" = "$code" ] || failed "exit code $got instead of $code: $*"
  grep -q -- "$words" "$work/log" || failed "no '$words' from $*"
}
# At many times the wall clock's speed an instrument's second is a few milliseconds of this machine, which may be busy
# with other things: gives those of a bench description more time. Wants the source folder in $source.
patient() {  # bench description
  mkdir -p "$work/profiles"
  local profile
  for profile in generic-pump-ascii generic-balance-print generic-climate-ascii generic-tip-counter generic-balance-modbus; do
    sed -e 's/^answer_s = [0-9.]*/answer_s = 20/' -e 's/^silence_s = [0-9.]*/silence_s = 60/' \
      "$source/templates/instruments/$profile.toml" >"$work/profiles/$profile.toml"
    sed -i "s|\"$profile\"|\"$work/profiles/$profile.toml\"|" "$1"
  done
}
write_quick_plan() {  # file
  cat >"$1" <<'TOML'
title = "Quick trial"
target_U_percent = 2.0
coverage = 0.95
[wetting]
intensity_mm_h = 250
tips = 8
[settle]
tips = 2
time_s = 12
[[step]]
intensity_mm_h = 150
min_tips = 10
time_limit_s = 300
TOML
}
