#!/usr/bin/env bash
# Names in 200 fields: none touches another or is clipped, and clear pixels stay as they are.
set -u
here=$(cd "$(dirname "$0")" && pwd)
exec "${BUILD:-build}/tests/end/names_in_fields" "$here/../../catalogs"
