#!/usr/bin/env bash
# The star list of a frame is the same to the last bit whatever compiled the finder: as the Makefile
# does it, without optimising, for all that this processor can do, and by clang where there is one.
set -u
cd "$(dirname "$0")/../.." || exit 1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$BUILD/demo/render" --ra 305 --dec 40 --focal 100 --pixel 6 --size 2000x1500 --exposure 3 \
    --out "$work/trails.fits" >/dev/null || exit 1
"$BUILD/demo/render" --ra 84 --dec -5 --focal 100 --pixel 6 --size 2000x1500 --exposure 3 --tracked \
    --out "$work/round.fits" >/dev/null || exit 1

list() { # PROGRAM
    "$1" "$work/trails.fits" && "$1" "$work/round.fits"
}
list "$BUILD/tests/outside/star_samples" >"$work/expected" || exit 1
stars=$(wc -l <"$work/expected")
[ "$stars" -gt 500 ] || { echo "only $stars stars"; exit 1; }

packages='cfitsio wcslib erfa libpng libjpeg libtiff-4 libraw_r libexif inih json-c cairo zlib'
libraries=$(pkg-config --libs $packages | sed 's/-fopenmp//g')
ways=0
for compiler in "cc -O0" "cc -O3 -march=native" "clang -O3 -march=native"; do
    command -v "${compiler%% *}" >/dev/null || continue
    mkdir -p "$work/objects"
    for source in src/stars/*.c src/base/elementary.c src/base/median.c \
        tests/outside/star_samples.c; do
        $compiler -std=c11 -ffp-contract=off -D_POSIX_C_SOURCE=200809L -Isrc -I. -c "$source" \
            -o "$work/objects/$(basename "$source").o" || exit 1
    done
    c++ "$work"/objects/*.o "$BUILD/libalidade.a" $libraries -lm -lpthread -o "$work/other" ||
        exit 1
    list "$work/other" >"$work/found" || exit 1
    cmp "$work/expected" "$work/found" || { echo "$compiler finds other stars"; exit 1; }
    ways=$((ways + 1))
    rm -rf "$work/objects"
done
echo "$stars stars, the same to the last bit, compiled in $((ways + 1)) ways"
