#!/usr/bin/env bash
# The completion of bash, as somebody at a terminal meets it. Arguments: the program, the source folder.
set -euo pipefail
tipwright=$1
source=$2
shell=bash
. "$source/tests/support/completion.sh"
