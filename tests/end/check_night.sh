#!/usr/bin/env bash
# A rendered night of 300 frames, and a calm one, as `alidade watch` sees them: what it says, at which
# frames, and that it says nothing else. The nights are those of the demo.
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$(realpath "${BUILD:-build}")
export ALIDADE_INDEX=$build/hipparcos.alidx
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
bash demo/night.sh "$build" "$folder/calm" calm || exit 1
bash demo/night.sh "$build" "$folder/night" || exit 1
