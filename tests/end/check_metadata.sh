#!/usr/bin/env bash
# A frame whose metadata tell the focal length and the camera, but nothing of its pixels: the scale
# comes from the size of that camera's sensor, also after a resize, and not after a crop.
set -u
cd "$(dirname "$0")/../.." || exit 1
alidade=$PWD/$BUILD/alidade
command -v exiftool >/dev/null || { echo "exiftool is not here"; exit 77; }
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
failures=0

# The first camera in the table with a sensor near that of the renderer's usual one.
IFS=$'\t' read -r maker model crop < <(awk -F '\t' '$3 > 1.5 && $3 < 1.65' catalogs/bodies.tsv)
pixel=$(awk -v crop="$crop" 'BEGIN { printf "%.5f", 43266.6 / crop / sqrt(1500^2 + 1000^2) }')
"$BUILD/demo/render" --ra 84 --dec -3 --up 20 --focal 50 --pixel "$pixel" --size 1500x1000 \
    --exposure 1 --tracked --distortion 0 --out "$folder/plain.jpg" >/dev/null || exit 1

say() { # FILE ARGUMENTS...
    exiftool -q -overwrite_original -all= "$1" &&
        exiftool -q -overwrite_original -Make="$maker" -Model="$model" "${@:2}" "$1"
}
expect() { # FILE PATTERN WHAT
    "$alidade" solve --verbose --strict "$1" >"$folder/answer" 2>&1
    if ! grep -qE -- "$2" "$folder/answer"; then
        echo "$3: expected '$2' in"
        cat "$folder/answer"
        failures=$((failures + 1))
    fi
}

/usr/bin/python3 - "$folder" <<'PY' &&
import sys
from PIL import Image
folder = sys.argv[1]
plain = Image.open(folder + "/plain.jpg")
plain.resize((750, 500)).save(folder + "/half.jpg", quality=92)
plain.crop((250, 0, 1250, 1000)).save(folder + "/square.jpg", quality=92)
PY
    cp "$folder/plain.jpg" "$folder/equivalent.jpg" || exit 1
say "$folder/plain.jpg" -FocalLength=50
expect "$folder/plain.jpg" "size of this camera's sensor\)" "the whole picture"
expect "$folder/plain.jpg" 'chance of error' "a solution within the bounds that follow"
say "$folder/half.jpg" -FocalLength=50 -ExifImageWidth=1500 -ExifImageHeight=1000
expect "$folder/half.jpg" "size of this camera's sensor, picture resized" "half its size"
say "$folder/square.jpg" -FocalLength=50 -ExifImageWidth=1500 -ExifImageHeight=1000
expect "$folder/square.jpg" "hint +none" "a crop has no pitch"
say "$folder/equivalent.jpg" -FocalLength=50 -FocalLengthIn35mmFormat=80 -ExifImageWidth=1500 \
    -ExifImageHeight=1000
expect "$folder/equivalent.jpg" "pixel .*35 mm equivalent" "an equivalent focal length goes first"
[ "$failures" -eq 0 ] && echo "the scale of a $crop crop camera found from its name"
[ "$failures" -eq 0 ]
