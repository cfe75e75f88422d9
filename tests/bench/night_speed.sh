#!/usr/bin/env bash
# What it takes to review a night of small frames: frames a second, what each step takes of it, the gain
# by a second thread, the memory of a frame's record, and what a night of ten times as many takes over
# this one; camera raw files of 24 megapixels a second; and what a stack of both takes.
# usage: tests/bench/night_speed.sh BUILD_DIR NUMBERS
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$(cd "$1" && pwd) numbers=$2
export ALIDADE_INDEX=$build/hipparcos.alidx
frames=2000 raws=16
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

"$build/demo/render" --start 2026-02-24T19:31:00 --azimuth 200 --altitude 31 --focal 250 --pixel 24.6 \
    --size 900x600 --fwhm 2.2 --frames 20 --interval 5 --out "$work/%02d.jpg" >/dev/null
# Copies of a few frames, each with a tail of its own that no reader minds, so that none is taken for
# another.
copies() { # FOLDER COUNT STEP FILE...
    local folder=$work/$1 count=$2 step=$3
    shift 3
    local file=("$@") i
    mkdir "$folder"
    for ((i = 0; i < count; i += step)); do
        cp "${file[i / step % $#]}" "$folder/$(printf %05d "$i").${1##*.}"
        printf %05d "$i" >>"$folder/$(printf %05d "$i").${1##*.}"
    done
}
copies many $frames 1 "$work"/[0-2][0-9].jpg
copies few $frames 10 "$work"/[0-2][0-9].jpg

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

# The same lines ten times, as of other frames: what the record of one takes, without any picture.
awk '{ for (i = 0; i < 10; i++) { line = $0; sub(/"frame": "/, "&" i, line)
       sub(/"digest": "./, "\"digest\": \"" i, line); print line } }' "$work/log" >"$work/tenfold"
lines() { # KEY FILE
    "$build/tests/bench/speed" --numbers "$numbers" --key "$1" run -- "$build/alidade" review \
        --from "$work/$2" | grep -a "^$1: "
}
lines night_lines log
lines night_tenfold tenfold
bytes=$(awk -v few="$(value speed.night_lines.most_mb)" -v many="$(value speed.night_tenfold.most_mb)" \
    -v frames="$frames" 'BEGIN { print (many - few) * 1048576 / (9 * frames) }')
note speed.night_record_bytes "$bytes"
ratio speed.night_growth "$(awk -v most="$(value speed.night_many.most_mb)" -v bytes="$bytes" \
    -v frames="$frames" 'BEGIN { print most + 9 * frames * bytes / 1048576 }')" \
    "$(value speed.night_many.most_mb)"
for step in read detect match health; do
    share=$(sed -nE "s/.*\"elapsed_ms\": .*\"$step\": ([0-9.]+).*\"total\": ([0-9.]+).*/\1 \2/p" \
        "$work/log" | awk '{ a += $1; b += $2 } END { print 100 * a / b }')
    note "speed.night_$step" "$share"
    printf '  %s %.0f %%' "$step" "$share"
done
echo

"$build/demo/render" --start 2026-02-24T19:31:00 --azimuth 200 --altitude 31 --frames 4 --interval 5 \
    --out "$work/raw-%02d.dng" >/dev/null
copies raws $raws 1 "$work"/raw-*.dng
review night_raws raws 2
ratio speed.raws_per_s "$raws" "$(value speed.night_raws.wall_s)"

# What a stack of these takes over solving them, and the memory of a stack of the large ones; of what is
# in their middle.
target=5h19m50s,-7d06m
stack() { # KEY FILE...
    "$build/tests/bench/stack_cost" --index "$ALIDADE_INDEX" --numbers "$numbers" --key "$1" --target "$target" \
        --rounds 6 "${@:2}"
}
stack small "$work"/[0-2][0-9].jpg
stack raws "$work"/raw-*.dng
"$build/tests/bench/speed" --numbers "$numbers" --key stack_raws run -- "$build/alidade" watch "$work/raws" --once \
    --target "$target" --place 50,10 --stack "$work/stack.fits" --stack "$work/stack.png" | grep -a '^stack_raws: '
