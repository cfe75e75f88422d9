#!/usr/bin/env bash
# Replays what the long campaigns kept (make fuzz-long).
set -eu
. tests/fuzz/inputs.sh
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export TMPDIR=$work TABLES=$work/tables
fuzz_short_tables "$TABLES"
shopt -s nullglob
for archive in tests/fuzz/corpus/campaign/*.tar.xz; do
    target=$(basename "$archive" .tar.xz)
    mkdir "$work/$target"
    tar -xJf "$archive" -C "$work/$target"
    printf '%s: ' "$target"
    "$BUILD/tests/fuzz/fuzz_$target" "$work/$target"/*
done
size=$(du -sb tests/fuzz/corpus | cut -f1)
[ "$size" -le 2097152 ] || { echo "the kept inputs take $size bytes, more than 2 MB"; exit 1; }
echo "the kept inputs take $size bytes"
