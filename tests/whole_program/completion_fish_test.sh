#!/usr/bin/env bash
# The completion of fish, as somebody at a terminal meets it. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
shell=fish
. "$source/tests/support/completion.sh"
