#!/usr/bin/env bash
# What it takes to review a night of small frames: frames a second, what each step takes of it, the gain
# by a second thread, and whether memory grows with the night.
# usage: tests/bench/night_speed.sh BUILD_DIR NUMBERS [quick]
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(cd "$1" && pwd) numbers=$2 quick=${3:-}
export ALIDADE_INDEX=$build/hipparcos.alidx
frames=2000
[ "$quick" ] && frames=300
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

"$build/demo/render" --start 2026-02-24T19:31:00 --azimuth 200 --altitude 31 --focal 250 --pixel 24.6 \
    --size 900x600 --fwhm 2.2 --frames 20 --interval 5 --out "$work/%02d.jpg" >/dev/null
mkdir "$work/many" "$work/few"
for ((i = 0; i < frames; i++)); do
    ln "$work/$(printf %02d $((i % 20 + 1))).jpg" "$work/many/$(printf %05d "$i").jpg"
    ((i % 10)) || ln "$work/$(printf %02d $((i / 10 % 20 + 1))).jpg" "$work/few/$(printf %05d "$i").jpg"
done

note() { # KEY VALUE
    printf '%s\t%s\n' "$1" "$2" >>"$numbers"
}
value() { # KEY: noted last
    awk -F '\t' -v key="$1" '$1 == key { value = $2 } END { print value }' "$numbers"
}
review() { # KEY FOLDER THREADS: from the start, without what an earlier run kept
    rm -f "$work/log"
    "$build/tests/bench/speed" --numbers "$numbers" --key "$1" run -- "$build/alidade" review \
        "$work/$2" --threads "$3" --log "$work/log" | grep -a "^$1: "
}
ratio() { # KEY NUMERATOR DENOMINATOR
    note "$1" "$(awk -v a="$2" -v b="$3" 'BEGIN { print a / b }')"
}

# One thread and two on a tenth of the night; the whole of it only for its rate and its memory.
review night_one few 1
review night_two few 2
review night_many many 2
ratio speed.night_per_s "$frames" "$(value speed.night_many.wall_s)"
ratio speed.night_gain "$(value speed.night_one.wall_s)" "$(value speed.night_two.wall_s)"
ratio speed.night_growth "$(value speed.night_many.most_mb)" "$(value speed.night_two.most_mb)"
for step in read detect match health; do
    share=$(sed -nE "s/.*\"elapsed_ms\": .*\"$step\": ([0-9.]+).*\"total\": ([0-9.]+).*/\1 \2/p" \
        "$work/log" | awk '{ a += $1; b += $2 } END { print 100 * a / b }')
    note "speed.night_$step" "$share"
    printf '  %s %.0f %%' "$step" "$share"
done
echo
