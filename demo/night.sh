#!/usr/bin/env bash
# A whole night in 300 small frames, one every 2 s, followed by `alidade watch`: three batches, a
# cloud, a satellite, a knock against the tripod, a few dark frames, and a focus that drifts. What is
# said of it must be said within two frames of where it is due, and nothing else. With "calm" 80
# frames of which there is nothing to be said. Exits with 1 if an answer is wrong.
# usage: demo/night.sh BUILD_DIR FOLDER [calm]
set -u
here=$(cd "$(dirname "$0")" && pwd) || exit 1
build=$(cd "${1:?usage: demo/night.sh BUILD_DIR FOLDER [calm]}" && pwd) || exit 1
mkdir -p "${2:?usage: demo/night.sh BUILD_DIR FOLDER [calm]}" && cd "$2" || exit 1
export ALIDADE_CATALOGS=${ALIDADE_CATALOGS:-$here/../catalogs} XDG_CONFIG_HOME=$PWD/none
unset ALIDADE_RIG
site=(--place 50,10 --zone +01:00)
azimuth=195.2 altitude=33.5
rm -rf frames && mkdir frames

fail() {
    printf 'night: %s\n' "$*" >&2
    exit 1
}

# Frames first..last; the moment of frame n is 2 n seconds after 19:30, and later by a pause for each
# re-centring.
pause=0
expose() { # FIRST LAST OPTION...
    local first=$1 last=$2 start
    shift 2
    start=$(date -u -d "2026-02-24 19:30:00 UTC + $((2 * first + pause)) seconds" +%FT%T)
    "$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" --focal 200 --aperture 2.8 \
        --pixel 16 --size 900x600 --exposure 1 --interval 2 --zone 60 --start "$start" \
        --azimuth "$azimuth" --altitude "$altitude" --frames $((last - first + 1)) --seed "$first" \
        "$@" --out "part-%d.jpg" >/dev/null || fail "frames $first to $last could not be rendered"
    local n
    for ((n = first; n <= last; n++)); do
        if [ "$first" = "$last" ]; then # one frame: its name is taken as it is
            mv "part-%d.jpg" "frames/$(printf 'night-%03d.jpg' "$n")"
        else
            mv "part-$((n - first + 1)).jpg" "frames/$(printf 'night-%03d.jpg' "$n")"
        fi
    done
}

# Turns the head by what is advised on a frame, for the next 100 frames.
recentre() { # FRAME
    local move
    move=$("$build/alidade" aim "frames/$1" --target "Orion Nebula" --batch 100 --cadence 2 \
        --settle 30 "${site[@]}" --json) || fail "no advice on $1"
    read -r azimuth altitude < <(sed -nE \
        's/.*"lead": \{[^{]*"pan_right_deg": ([-0-9.]+), "tilt_up_deg": ([-0-9.]+).*/\1 \2/p' \
        <<<"$move" | awk -v az="$azimuth" -v alt="$altitude" '{ print az + $1, alt + $2 }')
    pause=$((pause + 30))
}

watch() { # ARGUMENT...
    "$build/alidade" watch frames --target "Orion Nebula" --batch 100 --cadence 2 "${site[@]}" \
        --once "$@"
}

# Alerts of the JSON lines as "frame kind", against the list on stdin: "frame kind", each within two
# frames, in any order, and no other.
compare_alerts() { # FILE
    sed -nE 's/.*"alert": "([^"]*)".*"at": "[^"]*-([0-9]+)\.jpg".*/\2 \1/p' "$1" >told.txt
    awk 'FILENAME == "-" { kind[NR] = $2; at[NR] = $1; due = NR; next }
        {
            for (i = 1; i <= due; i++)
                if (!met[i] && kind[i] == $2 && $1 - at[i] <= 2 && at[i] - $1 <= 2) break
            if (i > due) { print "said, though it was not due: " $2 " at frame " $1; bad = 1 }
            met[i] = 1
        }
        END {
            for (i = 1; i <= due; i++)
                if (!met[i]) { print "not said: " kind[i] " at frame " at[i]; bad = 1 }
            exit bad
        }' - told.txt
}

if [ "${3:-}" = calm ]; then
    expose 1 80
    watch --json >night.jsonl || fail "exit code $? of a calm night"
    [ "$(grep -c '"solved": true' night.jsonl)" = 80 ] || fail "calm frames that do not solve"
    compare_alerts night.jsonl </dev/null || fail "alerts in a calm night"
    grep -q '"streaks"' night.jsonl && fail "a satellite in a calm night"
    echo "80 frames of a calm night: nothing to be said"
    exit 0
fi

expose 1 40
expose 41 50 --cloud 1.5
expose 51 69
expose 70 70 --satellites 1
expose 71 100
recentre night-100.jpg
expose 101 149
azimuth=$(awk -v az="$azimuth" 'BEGIN { print az + 0.08 }')
expose 150 179
expose 180 184 --cap
expose 185 200
recentre night-200.jpg
expose 201 230
# The ring turns: four frames, and the stars are half as wide again.
for n in 231 232 233 234; do
    expose $n $n --fwhm "$(awk -v n=$n 'BEGIN { w = 2.8 + 0.45 * (n - 230); print w < 4.4 ? w : 4.4 }')"
done
expose 235 300 --fwhm 4.4

watch --json >night.jsonl || fail "exit code $? of the night"
compare_alerts night.jsonl <<'DUE' || fail "alerts at the wrong frames"
041 cloud
051 clear
088 near-edge
099 recentre
101 centred
150 knocked
180 no-sky
185 light
188 near-edge
199 recentre
201 centred
232 focus
257 focus
289 near-edge
299 recentre
DUE
crossed=$(sed -nE 's/.*"frame": "[^"]*-([0-9]+)\.jpg".*"streaks".*/\1/p' night.jsonl | tr '\n' ' ')
[ "$crossed" = "070 " ] || fail "a satellite in frames $crossed, not in 070"
lines=$(wc -l <frames/alidade-night.jsonl)
[ "$lines" = 300 ] || fail "$lines lines in the log, not 300"
watch --json >again.jsonl || fail "exit code $? when all is in the log"
[ ! -s again.jsonl ] || fail "frames of the log are solved again"
median=$(sed -nE 's/.*"match": ([0-9.]+).*/\1/p' frames/alidade-night.jsonl | sort -n |
    awk '{ ms[NR] = $1 } END { print ms[int((NR + 1) / 2)] }')
echo "300 frames: every event was told within 2 frames and nothing else, the satellite is \
noted; $(grep -c '"solved": true' \
    frames/alidade-night.jsonl) solved, half of them matched within $median ms"
