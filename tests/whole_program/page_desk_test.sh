#!/usr/bin/env bash
# The page's desk asked over HTTP as a browser without script does: see page_desk_test.py. Arguments: the program, the
# source folder.
exec python3 "$(dirname "${BASH_SOURCE[0]}")/page_desk_test.py" "$1" "$2"
