#!/usr/bin/env bash
# Whether there is a page to check: exits with 77 and a sentence if not.
# usage: tests/web/built.sh PROGRAM...      which are needed besides
page=${BUILD:-build}/web/alidade.html
if [ ! -e "$page" ]; then
    echo "the page is not built (make web)"
    exit 77
fi
newer=$(find src index-build catalogs -type f -newer "$page" ! -path 'src/page/*' ! -path 'src/manual/*' | head -1)
if [ -n "$newer" ]; then
    echo "the page is older than $newer (make web)"
    exit 77
fi
for program in "$@"; do
    command -v "$program" >/dev/null || { echo "there is no $program here"; exit 77; }
done
