#!/usr/bin/env bash
# Makes the pages of the manual: section 1 by the program itself, section 5 from the texts on the files it reads and
# writes. Run from the source folder. Usage: manual.sh PROGRAM VERSION OUT
set -euo pipefail
program=$1 version=$2 out=$3
rm -rf "$out/man1" "$out/man5"
mkdir -p "$out/man1" "$out/man5"
# Nothing of whoever builds it: neither settings nor environment show in what is usual.
env -i PATH="$PATH" HOME=/nonexistent TIPWRIGHT_SETTINGS= TIPWRIGHT_TEMPLATES=templates "$program" manual "$out/man1"

# page NAME WHAT TEXT
page() {
  {
    printf '.TH %s 5 "" "tipwright %s" "tipwright"\n.SH NAME\n%s \\- %s\n' "${1^^}" "$version" "${1//-/\\-}" "$2"
    lowdown -Tman "$3"
    printf '.SH SEE ALSO\n.BR tipwright (1)\n'
  } >"$out/man5/$1.5"
}
page tipwright-files "gauges, kinds, plans, limits, benches and lanes" templates/README.md
page tipwright-settings "what a workshop says once, instead of on every command line" templates/settings.md
page tipwright-formats "the formats of files and their versions" templates/formats.md
page tipwright-profiles "how an instrument is asked and read" templates/instruments/README.md
page tipwright-tables "tables of measurements made elsewhere" templates/supplied/README.md
page tipwright-journal "everything that happened in a run" bench/journal/format.md
gzip -9nf "$out"/man1/* "$out"/man5/*
