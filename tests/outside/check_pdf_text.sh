#!/usr/bin/env bash
# The words on the field card and on a chart, in several scripts, as Poppler's pdftotext reads them
# out of the PDF: what it reads can be searched and copied.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "${BUILD:-build}" && pwd)
export ALIDADE_CATALOGS=$here/../../catalogs ALIDADE_INDEX=$build/hipparcos.alidx
command -v pdftotext >/dev/null || { echo "pdftotext is not here"; exit 77; }
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0 read=0

cat >rig.ini <<'INI'
[body Otter]
pixels = 6000x4000
pixel = 3.7

[lens Long]
focal = 250
aperture = 4

[place Ñandú ἄρκτος Сад سديم]
latitude = 50
longitude = 10
utc offset = +01:00
INI
"$build/alidade" plan --rig rig.ini --date 2026-02-24 --target "Orion Nebula" --card card.pdf \
    >/dev/null || exit 1
"$build/alidade" object Arcturus --frame-of 20,36x24 -o capitals.pdf >/dev/null || exit 1
"$build/alidade" object "M 31" --frame-of 135,22.2x14.8 -o chart.pdf >/dev/null || exit 1

# FILE WORDS...: each on one line of the text, but for blanks, whose width a reader has to guess.
expect() {
    local file=$1 words
    shift
    pdftotext "$file" text.txt && tr -d ' ' <text.txt >plain.txt || exit 1
    for words in "$@"; do
        read=$((read + 1))
        grep -qF -- "${words// /}" plain.txt ||
            { echo "$file: pdftotext does not read \"$words\""; failed=1; }
    done
}

expect card.pdf "Ñandú ἄρκτος Сад" سديم "Orion Nebula" "raw files" "Stabiliser off" "50.00° N" \
    "NGC 1977" "tape the ring"
expect capitals.pdf "BOÖTES"
expect chart.pdf "M 31 (Andromeda Galaxy)" "A N D R O M E D A" "μ And" "+42°" "18.8° wide, 12.6° high" "M 110"
[ "$failed" -eq 0 ] && echo "all $read texts of three PDFs are read by pdftotext"
exit "$failed"
