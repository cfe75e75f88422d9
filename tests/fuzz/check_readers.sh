#!/usr/bin/env bash
# Replays the kept inputs of each kind on the target of that kind alone, and some hundred copies of
# them damaged at places that are the same each time.
set -eu
. tests/fuzz/inputs.sh
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export TMPDIR=$work TABLES=$work/tables
fuzz_short_tables "$TABLES"
declare -A copies=([raw]=60 [tiff]=30 [png]=60 [jpeg]=60 [fits]=20 [header]=60 [page]=300
    [index]=60 [night]=10)
for target in $(fuzz_targets); do
    [ "$target" = frame ] && continue # check_frame.sh
    mapfile -t inputs < <(fuzz_inputs "$target")
    printf '%s: ' "$target"
    "$BUILD/tests/fuzz/fuzz_$target" --damaged "${copies[$target]:-200}" "${inputs[@]}"
done
