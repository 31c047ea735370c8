#!/usr/bin/env bash
# The completion of zsh, as somebody at a terminal meets it. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
shell=zsh
. "$source/tests/support/completion.sh"
