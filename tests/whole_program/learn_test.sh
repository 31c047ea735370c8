#!/usr/bin/env bash
# listen --learn of the shipped program: a served balance in words that no profile here knows is learned while a hand
# does what is asked; one that speaks a shipped profile is known; a label of what cannot be. Arguments: the program,
# the source folder.
set -euo pipefail
tipwright=$1
source=$2
source "$(dirname "${BASH_SOURCE[0]}")/../support/served_bench.sh"
patience_s=60
mkfifo "$work/hand" "$work/keys"

# A balance of no maker: grams with a comma, a sequence of signs, "calm" at rest.
cat >"$work/odd.toml" <<'TOML'
title = "Odd balance"
family = "line-ascii"
role = "balance"
[line]
send_ending = "CR"
decimal_sign = "comma"
[timing]
answer_s = 1
retries = 2
silence_s = 5
bad_lines = 2
[[reading]]
pattern = "pan; {mass:9.2} {unit} ; calm"
stable = true
[[reading]]
pattern = "pan; {mass:9.2} {unit} ; sway"
[[reading]]
pattern = "pan; too much"
overload = true
TOML
sed -e "s|\"generic-balance-print\"|\"$work/odd.toml\"|" "$source/templates/benches/virtual-bench.toml" >"$work/odd-bench.toml"
grep -q odd.toml "$work/odd-bench.toml" || failed "the virtual bench names another balance than this test knows"
served() {  # bench
  rm -f "$work/bench.toml"
  "$tipwright" serve --bench "$1" --gauge demo-bucket-200-twin --out "$work/bench.toml" --speed 10 --hand <"$work/hand" >"$work/served" &
  server=$!
  exec 3>"$work/hand"
  for _ in $(seq 100); do
    [ -s "$work/bench.toml" ] && break
    sleep 0.1
  done
}
ended() {
  exec 3>&-
  kill "$server"
  wait "$server" 2>/dev/null || true
  server=
}
heard() {  # words, how often
  for _ in $(seq 300); do
    [ "$(grep -c -- "$1" "$work/log" || true)" -ge "${2:-1}" ] && return
    sleep 0.1
  done
  failed "never heard: $1"
}

served "$work/odd-bench.toml"
timeout 120 "$tipwright" listen --bench "$work/bench.toml" --role balance --learn "$work/learned.toml" --mass-g 500 --for 1 \
  <"$work/keys" >"$work/out" 2>"$work/log" &
learner=$!
exec 4>"$work/keys"
heard "1 of 4"
echo >&4
heard "2 of 4"
echo "load 500" >&3
sleep 1
echo >&4
heard "3 of 4"
echo >&4
for load in 900 100 700 300 1000 200 800 400 600 150 950 350; do
  echo "load $load" >&3
  sleep 0.08
done
heard "Thank you" 3
heard "4 of 4"
echo "load 90000" >&3
sleep 1
echo >&4
wait "$learner" || failed "listen --learn"
exec 4>&-
grep -q "learned.toml: learned, " "$work/out" || { cat "$work/out"; failed "nothing was learned"; }
grep -q 'decimal_sign = "comma"' "$work/learned.toml" || { cat "$work/learned.toml"; failed "the comma"; }
echo "load 250" >&3
sleep 1
timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role balance --profile "$work/learned.toml" --for 2 >"$work/log" 2>&1 ||
  failed "the learned profile reads nothing"
grep -q 'stable, shown to 0.01 g' "$work/log" || failed "the learned profile reads no mass at rest"
grep -q ', 0 not' "$work/log" || failed "the learned profile does not read every line"
refuses 2 'something already' listen --bench "$work/bench.toml" --role balance --learn "$work/learned.toml"
# A profile that does not fit is told at length once, not at every line.
sed 's/calm/rest/' "$work/odd.toml" >"$work/wrong.toml"
timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role balance --profile "$work/wrong.toml" --for 1 >"$work/log" 2>&1 || true
[ "$(grep -c 'wants "; rest"\|wants "rest"\|wants ";' "$work/log")" -le 3 ] || failed "a misfit is told again and again"
grep -q 'as shown above' "$work/log" || failed "a misfit that was told is not named so"
ended

sed -e 's|"generic-balance-print"|"generic-balance-scpi"|' -e 's|"generic-climate-ascii"|"generic-climate-modbus"|' \
  -e 's|"generic-pump-ascii"|"generic-pump-modbus"|' "$source/templates/benches/virtual-bench.toml" >"$work/other-bench.toml"
served "$work/other-bench.toml"
for pair in balance:generic-balance-scpi climate:generic-climate-modbus; do
  role=${pair%%:*}
  timeout 60 "$tipwright" listen --bench "$work/bench.toml" --role "$role" --learn "$work/$role.toml" </dev/null >"$work/out" 2>"$work/log" ||
    failed "listen --learn of a shipped profile"
  grep -q "as ${pair##*:}, " "$work/out" || { cat "$work/out"; failed "$role is not known for what it is"; }
done
ended
refuses 2 'no link' listen --learn "$work/none.toml"
refuses 2 'only a real instrument' listen --learn "$work/none.toml" --link "replay $work/log"
[ ! -e "$work/none.toml" ] || failed "a profile was written of nothing"
echo "all checks passed"
