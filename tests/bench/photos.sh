#!/usr/bin/env bash
# Real photographs that may not be given away: looked for beside the project, left out when they are
# not there. p01-p15 show the sky, the others do not.
# usage: tests/bench/photos.sh BUILD_DIR NUMBERS
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$1 numbers=$2 folder=../shared/photos
if ! ls $folder/p01.* >/dev/null 2>&1; then
    echo "photographs: left out, $folder is not there"
    exit 0
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

solved() { # NAME FRAME...
    local name=$1
    shift
    "$build/alidade" solve --json --index "$build/hipparcos.alidx" "$@" >"$work/$name" || true
    sed -nE 's/.*"frame": "([^"]*)", "solved": false, "why": "([^"]*)".*/  \1: \2/p' \
        "$work/$name" >&2
    grep -c '"solved": true' "$work/$name" || true
}

stars=() others=()
for photo in "$folder"/p[0-9][0-9].*; do
    case ${photo##*/} in
    p0?.* | p1[0-5].*) stars+=("$photo") ;;
    *) others+=("$photo") ;;
    esac
done
found=$(solved as-they-are "${stars[@]}")
false=$(solved without-sky "${others[@]}" 2>/dev/null)
printf 'photos.missed\t%d\nphotos.false\t%d\n' $((${#stars[@]} - found)) "$false" >>"$numbers"
echo "photographs: $found of ${#stars[@]} solved; $false of ${#others[@]} without a sky"
if command -v exiftool >/dev/null; then
    exiftool -q -q -all= -o "$work/" "${stars[@]}"
    found=$(solved without-facts "$work"/p*.*)
    printf 'photos.missed_bare\t%d\n' $((${#stars[@]} - found)) >>"$numbers"
    echo "photographs without EXIF: $found of ${#stars[@]} solved"
fi
