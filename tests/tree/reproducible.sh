#!/usr/bin/env bash
# Builds and installs what is committed twice, in folders with names of different length, at different
# times and under different settings of the shell, and compares all files byte by byte.
# usage: tests/tree/reproducible.sh
set -u
cd "$(dirname "$0")/../.." || exit 1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset MAKELEVEL MAKEFLAGS
make_one() { # FOLDER SETTING...
    local folder=$work/$1
    shift
    mkdir -p "$folder" && git archive HEAD | tar -x -C "$folder" || exit 1
    (cd "$folder" && env "$@" make PREFIX=/usr DESTDIR="$folder/root" install) >"$work/log.txt" 2>&1 ||
        { tail -20 "$work/log.txt"; exit 1; }
}
make_one first TZ=UTC LC_ALL=C.UTF-8
make_one a-folder-with-another-name/second TZ=Asia/Tokyo LC_ALL=C LANG=C USER=somebody
if difference=$(diff -rq "$work/first/root" "$work/a-folder-with-another-name/second/root"); then
    echo "the same twice: $(find "$work/first/root" -type f | wc -l) files," \
        "$(cat "$work"/first/root/usr/bin/* | sha256sum | cut -c1-16) the programs"
else
    echo "not the same twice:"
    echo "$difference"
    exit 1
fi
