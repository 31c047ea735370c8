#!/usr/bin/env bash
# Writes templates/record.schema.json anew from the lists of fields that read and write a record. Argument: the build tree.
set -euo pipefail
cd "$(dirname "$0")/.."
tree=${1:-build/test}
ninja -C "$tree" write_schemas >&2
"$tree/tests/write_schemas" templates
