#!/usr/bin/env bash
# Replays the kept inputs of each kind on the reader of that kind alone.
set -e
for kind in raw:dng tiff:tif png:png jpeg:jpg fits:fits; do
    printf '%s: ' "${kind%:*}"
    "$BUILD/tests/fuzz/fuzz_${kind%:*}" tests/fuzz/corpus/frame/*."${kind#*:}"
done
