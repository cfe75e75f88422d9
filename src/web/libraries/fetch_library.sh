#!/usr/bin/env bash
# Brings the source of one library of sources.tsv: from a folder of archives if it is there, else
# from Debian with apt-get, checked against its hash, with Debian's patches where those are to be
# had (apt-get checks their signature).
# usage: fetch_library.sh NAME FOLDER [ARCHIVES]     unpacks into FOLDER/NAME
set -eu
name=$1 folder=$2 archives=${3:-}
table=$(dirname "$0")/sources.tsv
IFS=$'\t' read -r _ package archive hash < <(grep -P "^$name\t" "$table")
mkdir -p "$folder/archives"
folder=$(cd "$folder" && pwd)
cd "$folder/archives"

# Debian's list of sources, in a folder of our own: the system's stays as it is.
apt_here() {
    local apt=$folder/apt
    if [ ! -e "$apt/ready" ]; then
        mkdir -p "$apt/parts" "$apt/lists/partial" "$apt/cache/archives/partial"
        . /etc/os-release
        local keys=/usr/share/keyrings/debian-archive-keyring.gpg
        for suite in "$VERSION_CODENAME" "$VERSION_CODENAME-updates"; do
            echo "deb-src [signed-by=$keys] http://deb.debian.org/debian $suite main"
        done >"$apt/parts/sources.list"
        echo "deb-src [signed-by=$keys] http://deb.debian.org/debian-security $VERSION_CODENAME-security main" \
            >>"$apt/parts/sources.list"
    fi
    set -- apt-get -qq -o Dir::Etc::SourceList="$apt/parts/sources.list" -o Dir::Etc::SourceParts=/dev/null \
        -o Dir::State::Lists="$apt/lists" -o Dir::Cache="$apt/cache" "$@"
    "$@"
}

is_right() { # FILE
    [ "$(sha256sum "$1" | cut -d' ' -f1)" = "$hash" ]
}

from_debian() {
    (
        flock 9
        [ -e "$folder/apt/ready" ] || { apt_here update && touch "$folder/apt/ready"; }
        . /etc/os-release
        apt_here source --download-only "$package" ||
            apt_here source --download-only "$package/$VERSION_CODENAME" ||
            apt_here source --download-only --tar-only "$package/$VERSION_CODENAME"
    ) 9>"$folder/lock" >"$folder/$name.log" 2>&1
}

patches=
if [ -n "$archives" ] && [ -e "$archives/$archive" ]; then
    cp "$archives/$archive" .
elif { [ -e "$archive" ] && is_right "$archive"; } || { from_debian && [ -e "$archive" ]; }; then
    patches=$(ls "${archive%.orig.tar.*}"-*.debian.tar.* 2>/dev/null | tail -1)
else
    echo "web: the source of $package is not to be had from Debian: put $archive into a folder and give SOURCES=FOLDER" >&2
    exit 1
fi
if ! is_right "$archive"; then
    echo "web: $archive is another file than the one that is expected (SHA-256 $hash)" >&2
    exit 1
fi

rm -rf "${folder:?}/$name.new" "${folder:?}/$name"
mkdir "$folder/$name.new"
tar xf "$archive" -C "$folder/$name.new" --strip-components=1
cd "$folder/$name.new"
if [ -n "$patches" ]; then
    tar xf "$folder/archives/$patches" debian/patches 2>/dev/null || true
    if [ -e debian/patches/series ]; then
        grep -v '^#' debian/patches/series | while read -r patch _; do
            [ -z "$patch" ] || patch -s -p1 <"debian/patches/$patch"
        done
    fi
fi
mv "$folder/$name.new" "$folder/$name"
