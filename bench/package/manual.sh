#!/usr/bin/env bash
# Makes the pages of the manual: section 1 by the program itself, section 5 from the texts on the files it reads and
# writes, section 7 from what README says of everyday work. Run from the source folder. Usage: manual.sh PROGRAM VERSION OUT
set -euo pipefail
program=$1 version=$2 out=$3
rm -rf "$out/man1" "$out/man5" "$out/man7"
mkdir -p "$out/man1" "$out/man5" "$out/man7"
# Nothing of whoever builds it: neither settings nor environment show in what is usual.
env -i PATH="$PATH" HOME=/nonexistent TIPWRIGHT_SETTINGS= TIPWRIGHT_TEMPLATES=templates "$program" manual "$out/man1"

# page NAME WHAT TEXT [SECTION]
page() {
  local section=${4-5}
  {
    printf '.TH %s %s "" "tipwright %s" "tipwright"\n.SH NAME\n%s \\- %s\n' "${1^^}" "$section" "$version" "${1//-/\\-}" "$2"
    lowdown -Tman "$3"
    printf '.SH SEE ALSO\n.BR tipwright (1)\n'
  } >"$out/man$section/$1.$section"
}
page tipwright-files "gauges, kinds, plans, limits, benches and lanes" templates/README.md
page tipwright-settings "what a workshop says once, instead of on every command line" templates/settings.md
page tipwright-formats "the formats of files and their versions" templates/formats.md
page tipwright-profiles "how an instrument is asked and read" templates/instruments/README.md
page tipwright-tables "tables of measurements made elsewhere" templates/supplied/README.md
page tipwright-journal "everything that happened in a run" bench/journal/format.md
# README without what is for whoever has the source; its texts are pages here.
awk '/^On Debian 12, with nothing but a clone|^### From three kinds to a choice/ { skip = 1 }
  /^A check gauge, calibrated again/ { skip = 0 }
  /^## / { skip = /^## Figures/ }
  !skip' README.md |
  sed -e '1s/.*/# A day at the bench/' -e '/^    bash \(bench\|tests\)\//d' -e 's/^The program is `build.* after `bench\/demo.sh`\. //' \
    -e 's/`templates\/README.md`/tipwright-files(5)/g; s/`templates\/instruments\/README.md`/tipwright-profiles(5)/g' \
    -e 's/`templates\/supplied\/README.md`/tipwright-tables(5)/g; s/`templates\/settings.md`/tipwright-settings(5)/g' >"$out/workshop.md"
page tipwright-workshop "everyday work at the bench, from morning to certificate" "$out/workshop.md" 7
rm "$out/workshop.md"
gzip -9nf "$out"/man1/* "$out"/man5/* "$out"/man7/*
