#!/usr/bin/env bash
# Times, memory and sizes of the programs as a user meets them.
# usage: tests/bench/speed.sh BUILD_DIR NUMBERS [long]
# The large catalogues take a quarter of an hour and 9 GB of room in TMPDIR: only with long.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$1 numbers=$2 extent=${3:-usual}
speed=$build/tests/bench/speed
index=$build/hipparcos.alidx
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

note() { # KEY VALUE
    printf '%s\t%s\n' "$1" "$2" >>"$numbers"
}

# KEY COMMAND...: what the command took, under that name; its own words are not wanted.
measure() {
    "$speed" --numbers "$numbers" --key "$@" | grep -a "^$1: "
}

value() { # KEY: noted last
    awk -F '\t' -v key="$1" '$1 == key { value = $2 } END { print value }' "$numbers"
}

# 24 megapixels, 250 mm, 2 s.
for kind in jpg png fits dng; do
    "$build/demo/render" --ra 20h58m --dec 44.3 --out "$work/frame.$kind" >/dev/null
done
rounds=5
[ "$extent" = long ] && rounds=9
"$speed" --alidade "$build/alidade" --index "$index" --numbers "$numbers" --rounds $rounds \
    compare "$work"/frame.{jpg,png,fits,dng}
"$speed" --index "$index" --numbers "$numbers" open
measure solve_raw run -- "$build/alidade" solve "$work/frame.dng" --index "$index"
"$build/tests/bench/bench_drawing" "$work/frame.png" catalogs "$work" "$numbers"

# The best of three: the goal is about this program, not about what else the machine does.
for round in 1 2 3; do
    measure build_bundled run -- "$build/alidade-index" build catalogs/stars.tsv \
        --output "$work/bundled.alidx"
done
least() { # KEY: the smallest of those noted
    awk -F '\t' -v key="$1" '$1 == key && (!n++ || $2 < best) { best = $2 } END { print best }' \
        "$numbers"
}
note speed.build_best_s "$(least speed.build_bundled.wall_s)"
note speed.build_half_cpu_s "$(least speed.build_bundled.cpu_s | awk '{ print $1 / 2 }')"
note speed.index_mb "$(awk -v bytes="$(stat -c %s "$index")" 'BEGIN { print bytes / 1e6 }')"

# A finished mosaic of 100 megapixels, 40 degrees wide, with some 20,000 stars to the depth that is
# told, of which nothing is known.
"$build/demo/render" --ra 20h40m --dec 38 --up 20 --focal 62 --pixel 3.76 --size 12000x8300 \
    --exposure 3 --stacked 15 --fwhm 3 --sky 20.5 --clean --bare --objects catalogs/objects.tsv \
    --out "$work/mosaic.jpg" | sed 's/.*: //'
measure mosaic run -- "$build/alidade" solve "$work/mosaic.jpg" --index "$index"
rm "$work/mosaic.jpg"
[ "$extent" = long ] || exit 0

# All stars are kept; by default an index has the brightest 30 of each square degree alone.
build_large() { # NAME STARS
    "$build/tests/bench/make_catalogue" "$2" >"$work/large.csv"
    measure "$1" run -- "$build/alidade-index" build "$work/large.csv" \
        --density 100000 --output "$work/large.alidx"
    stat -c %s "$work/large.csv" "$work/large.alidx" |
        awk '{ printf "  %.0f MB", $1 / 1e6 } END { print " of table and index" }'
    note speed.bytes_a_star "$(stat -c %s "$work/large.alidx" | awk -v stars="$2" '{ print $1 / stars }')"
    rm -f "$work"/large.*
}

room=$(df --output=avail -k "$work" | tail -1)
if [ "$room" -lt 9000000 ]; then
    echo "large catalogues: left out, they need 9 GB in $work"
    exit 0
fi
build_large build_2_5m 2500000
build_large build_25m 25000000
for what in cpu_s wall_s; do
    note "speed.growth_$what" "$(awk -v a="$(value speed.build_2_5m.$what)" \
        -v b="$(value speed.build_25m.$what)" 'BEGIN { print b / a / 10 }')"
done
