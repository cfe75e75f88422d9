#!/usr/bin/env bash
# Brings the data that the checks in this folder compare with into BUILD_DIR/outside, unless they
# are there already:
#   bsc/BSC               Yale Bright Star Catalogue, 5th rev. (Debian package xplanet)
#   swe/sefstars.txt      fixed stars with ICRS positions (Debian package swe-basic-data)
#   tycho/tycho2t3_*.jpg  six cube faces of the sky drawn from Tycho-2 (npm package @cesium/engine)
# Nothing is installed. What cannot be had is left out, without an error: the checks that need it
# say that they skip.
# usage: tests/outside/fetch.sh BUILD_DIR
set -u
outside=${1:?usage: fetch.sh BUILD_DIR}/outside
mkdir -p "$outside" || exit 0
outside=$(cd "$outside" && pwd)
scratch=$(mktemp -d) || exit 0
trap 'rm -rf "$scratch"' EXIT

# Copies the one file of a Debian package that is wanted, under a name of ours.
from_debian() { # PACKAGE PATH TARGET
    local target=$outside/$3
    [ -s "$target" ] && return
    command -v apt-get >/dev/null && command -v dpkg-deb >/dev/null || return
    (cd "$scratch" && timeout 120 apt-get -q -q download "$1") || return
    dpkg-deb -x "$scratch/$1"_*.deb "$scratch/$1" || return
    mkdir -p "${target%/*}" && cp "$scratch/$1/$2" "$target.part" && mv "$target.part" "$target"
}

tycho_faces() {
    local folder=$outside/tycho inside=package/Source/Assets/Textures/SkyBox face
    [ "$(ls "$folder"/tycho2t3_80_*.jpg 2>/dev/null | wc -l)" -eq 6 ] && return
    command -v npm >/dev/null || return
    (cd "$scratch" && timeout 300 npm pack --silent @cesium/engine@24.0.0) || return
    for face in px mx py my pz mz; do
        tar -xzf "$scratch"/cesium-engine-24.0.0.tgz -C "$scratch" \
            "$inside/tycho2t3_80_$face.jpg" || return
    done
    mkdir -p "$folder" && mv "$scratch/$inside"/tycho2t3_80_*.jpg "$folder"
}

{
    from_debian xplanet usr/share/xplanet/stars/BSC bsc/BSC
    from_debian swe-basic-data usr/share/libswe/ephe/sefstars.txt swe/sefstars.txt
    tycho_faces
} >/dev/null 2>&1
exit 0
