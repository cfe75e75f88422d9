#!/usr/bin/env bash
# Replays the kept inputs of each kind on the reader of that kind alone, and some hundred copies of
# them damaged at places that are the same each time.
set -eu
corpus=tests/fuzz/corpus/frame
run() { # READER COPIES FILE...
    printf '%s: ' "$1"
    "$BUILD/tests/fuzz/fuzz_$1" --damaged "${@:2}"
}
run raw 60 $corpus/*.{dng,cr3,crw,iiq,mrw,orf,pef,raf,raw,rw2}
run tiff 30 $corpus/*.tif
run png 60 $corpus/*.png
run jpeg 60 $corpus/*.jpg
run fits 20 $corpus/*.fits
corpus=tests/fuzz/corpus/catalogue
run votable 200 $corpus/*.vot
run description 200 $corpus/*.mrt
# Of the TZ Database, which is in the public domain.
run zone 200 tests/fuzz/corpus/zone/*.tzif
run page 300 tests/fuzz/corpus/page/*.http
