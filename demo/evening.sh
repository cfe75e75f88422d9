#!/usr/bin/env bash
# The frames of the evening that README.md goes through in seven steps, small and few: a test frame,
# one after the camera was turned, a batch, the batch after re-centring, a stack. The camera is
# turned by what `alidade aim` advises.
# usage: demo/evening.sh BUILD_DIR FOLDER
set -u
here=$(cd "$(dirname "$0")" && pwd) || exit 1
build=$(cd "${1:?usage: demo/evening.sh BUILD_DIR FOLDER}" && pwd) || exit 1
rm -rf "${2:?usage: demo/evening.sh BUILD_DIR FOLDER}" && mkdir -p "$2/frames" "$2/later" &&
    cd "$2" || exit 1
export ALIDADE_CATALOGS=$here/../catalogs XDG_CONFIG_HOME=$PWD/none ALIDADE_RIG=$PWD/rig.ini
export ALIDADE_INDEX=$build/hipparcos.alidx

cat >rig.ini <<'INI'
[body Otter]
pixels = 900x600
pixel = 16
model = Alidade demo camera
read noise = 5

[lens Long]
focal = 200
aperture = 2.8

[place Garden]
latitude = 50 N
longitude = 10 E
zone = Europe/Berlin
bortle = 6
INI

azimuth=197.5 altitude=31.5 seed=1
expose() { # FIRST-MOMENT FRAMES NAME
    "$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" \
        --objects "$ALIDADE_CATALOGS/objects.tsv" --focal 200 --aperture 2.8 --pixel 16 \
        --size 900x600 --exposure 2 --interval 8 --moon 0.25 --latitude 50 --longitude 10 --zone 60 \
        --start "2026-02-24T$1" --azimuth "$azimuth" --altitude "$altitude" --frames "$2" \
        --seed "$seed" --out "$3" >/dev/null || exit 1
    seed=$((seed + 100))
}

# Turns the head by a move that aim advises on a frame.
turn() { # KEY FRAME OPTION...
    local key=$1 frame=$2 move
    shift 2
    move=$("$build/alidade" aim "$frame" --target "Orion Nebula" --json "$@") || exit 1
    read -r azimuth altitude < <(/usr/bin/python3 -c '
import json, sys
move = json.loads(sys.argv[1])[sys.argv[2]]
print(float(sys.argv[3]) + move["pan_right_deg"], float(sys.argv[4]) + move["tilt_up_deg"])
' "$move" "$key" "$azimuth" "$altitude")
}

expose 19:30:00 1 test.jpg
turn move test.jpg
expose 19:31:00 1 turned.jpg
expose 19:32:00 30 "frames/eve-1%02d.jpg"
turn lead "frames/eve-130.jpg" --batch 30 --cadence 8 --settle 60
expose 19:37:00 30 "later/eve-2%02d.jpg"
"$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" \
    --objects "$ALIDADE_CATALOGS/objects.tsv" --focal 200 --aperture 2.8 --pixel 9.6 \
    --size 1500x1000 --exposure 2 --ra 83.9 --dec -5.3 --up 10 --stacked 60 --clean --bare --seed 6 \
    --out stack.png >/dev/null || exit 1
