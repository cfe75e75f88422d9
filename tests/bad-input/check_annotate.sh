#!/usr/bin/env bash
# What annotate and object say to outputs, frames and options that are wrong: the right exit code, one
# sentence, and no file left behind.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "${BUILD:-build}" && pwd)
export ALIDADE_CATALOGS=$here/../../catalogs
work=$(mktemp -d) || exit 1
trap 'chmod -R u+w "$work"; rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0 tried=0

"$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" --ra 83.82 --dec -5.39 --focal 135 \
    --pixel 20 --size 900x600 --exposure 2 --tracked --clean --out good.png >/dev/null || exit 1
/usr/bin/python3 - <<'PY' || exit 1
import struct, zlib
def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
with open("pixel.png", "wb") as out:
    out.write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
              + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b""))
PY
mkdir locked folder.png && chmod a-w locked
before=$(ls -A | sort | tr '\n' ' ')

# CODE WORDS COMMAND...: the exit code, and words that stdout or stderr must hold.
expect() {
    local code=$1 words=$2 said got
    shift 2
    tried=$((tried + 1))
    said=$("$build/alidade" "$@" 2>&1)
    got=$?
    if [ "$got" -ne "$code" ] || ! grep -qF -- "$words" <<<"$said"; then
        echo "alidade $*: exit code $got, expected $code and \"$words\"; it said: $said"
        failed=1
    fi
    if [ "$(ls -A | sort | tr '\n' ' ')" != "$before" ] || [ -n "$(ls -A locked)" ]; then
        echo "alidade $*: left something behind: $(ls -A)"
        failed=1
    fi
}

expect 4 "none/out.png" annotate good.png -o none/out.png
[ "$(id -u)" -eq 0 ] || expect 4 "locked/out.png" annotate good.png -o locked/out.png
expect 4 "is a folder" annotate good.png -o folder.png
expect 2 "ends in .png" annotate good.png -o out.tif
expect 2 "ends in .png" annotate good.png -o out
expect 2 "transparency" annotate good.png --alone -o out.jpg
expect 2 "overwrite the frame" annotate good.png -o good.png
expect 2 "no layer is called \"gird\"" annotate good.png -o out.png --show gird
expect 2 "no layer is called \"\"" annotate good.png -o out.png --hide grid,
expect 2 "night" annotate good.png -o out.png --theme blue
expect 2 "expected a time" annotate good.png -o out.png --time yesterday
expect 2 "of which zone" annotate good.png -o out.png --time 2026-02-24T20:30
expect 2 "is no time zone" annotate good.png -o out.png --zone Nowhere
expect 2 "latitude of -90 to 90" annotate good.png -o out.png --place 95,10
expect 2 "of which zone" object "M 42" -o chart.png --time 2026-02-24T20:30
expect 2 "a focal length like" annotate good.png -o out.png --frame-of 300,36
expect 2 "does not say its own focal length" annotate good.png -o out.png --frame-of 300
for kind in png jpg svg pdf; do
    expect 1 "no solution" annotate pixel.png -o out.$kind
done
expect 3 "absent.png" annotate absent.png -o out.png
expect 2 "near to it" object "Orion Nebulla"
expect 2 "name of an object" object
expect 2 "without a name" object "M 42" --in good.png
expect 2 "--csv goes with --in" object "M 42" --csv
expect 2 "ends in .png" object "M 42" -o chart.gif
expect 4 "none/chart.svg" object "M 42" -o none/chart.svg
expect 1 "no solution" object --in pixel.png
expect 3 "absent.png" object --in absent.png

# Without any font there is nothing to write the names in.
printf '<fontconfig><dir>/no/fonts/here</dir></fontconfig>' >fonts.conf
before=$(ls -A | sort | tr '\n' ' ')
export FONTCONFIG_FILE=$work/fonts.conf
for kind in png svg pdf; do
    expect 4 "no font on this system" annotate good.png -o out.$kind
done
[ "$failed" -eq 0 ] && echo "$tried wrong requests refused without a trace"
exit "$failed"
