#!/usr/bin/env bash
# What is made again after a change, in a copy of the tree: a source that the index builder does not
# use leaves the index alone, so does a comment in one that it uses. Another way of choosing quads,
# another index format and another catalogue make it again.
set -u
[ "${BUILD:-build}" = build ] || { echo "only for the folder build: its dependencies name it"; exit 77; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset MAKELEVEL MAKEFLAGS
mkdir "$work/build" &&
    cp -a Makefile .ci src index-build demo catalogs "$work" &&
    cp -a build/.[a-z]* build/*.a build/alidade build/alidade-index build/hipparcos.alidx build/src \
        build/index-build build/manual-alidade* build/man build/completions "$work/build" && cd "$work" || exit 1

failed=0
# The index is made again, or not, by the change that was just made; and then no more.
expect() { # yes|no WHAT
    local before after
    before=$(stat -c %y build/hipparcos.alidx)
    make >made.txt 2>&1 || { cat made.txt; exit 1; }
    after=no
    [ "$before" = "$(stat -c %y build/hipparcos.alidx)" ] || after=yes
    [ "$after" = "$1" ] || { echo "index made again: $after, expected $1: $2"; cat made.txt; failed=1; }
    make >made.txt 2>&1
    [ -s made.txt ] && { echo "make finds something to do twice: $2"; cat made.txt; failed=1; }
}
# Sed's success says nothing of a match.
change() { # FILE SED-SCRIPT
    local before
    before=$(cksum <"$1")
    sed -i "$2" "$1"
    [ "$before" != "$(cksum <"$1")" ] || { echo "$1: nothing to change by $2"; exit 1; }
}

expect no "nothing changed"
change catalogs/stars.tsv '10000,$d'
expect yes "fewer stars in catalogs/stars.tsv"
drawing=$(find src/draw -name '*.c' | sort | head -n 1)
touch "$drawing"
expect no "$drawing touched"
change index-build/choose_quads.c '1i /* a comment */'
expect no "a comment in choose_quads.c"
change index-build/choose_quads.c 's/widest = [0-9.]*/widest = 0.3/'
expect yes "narrower quads in choose_quads.c"
[ "$failed" -eq 0 ] && echo "the index follows its builder and its catalogue, nothing else"
exit "$failed"
