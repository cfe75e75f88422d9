#!/usr/bin/env bash
# Camera raw files of a few kilobytes that claim up to gigapixels, in every container whose layout is
# known here: refused with a sentence about the size, before memory is asked for.
set -u
cd "$(dirname "$0")/../.." || exit 1
dump=$PWD/$BUILD/tests/outside/frame_dump
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cases=0 failures=0
# Little enough that no frame of 100 megapixels fits; programs with sanitizers cannot live in it.
most_kilobytes=150000
cd "$folder" || exit 1

fail() {
    failures=$((failures + 1))
    echo "FAILED: $1"
    sed 's/^/    /' said
}

make() { # FOLDER [WIDTH HEIGHT]
    mkdir "$1" && /usr/bin/python3 "$OLDPWD/tests/fuzz/make_raw.py" "$@" || exit 1
}

make good
(ulimit -v $most_kilobytes; "$dump" good/small.pef plane 0; exit $?) >/dev/null 2>&1 ||
    most_kilobytes=unlimited
for file in good/*; do
    cases=$((cases + 1))
    [ "$file" = good/small.cr3 ] || "$dump" "$file" plane 0 >answer 2>said || fail "$file is good"
done
for size in '59000 60000' '19000 20000' '60000 1000' '2000 1000'; do
    make "${size% *}" $size
    rm "${size% *}/small.k25" # states no size: LibRaw knows the camera's
    for file in "${size% *}"/*; do
        cases=$((cases + 1))
        (ulimit -v $most_kilobytes; exec "$dump" "$file" plane 0) >answer 2>said
        [ $? -eq 1 ] || fail "$file: exit code, expected 1"
        [ "$file" = "${size% *}/small.cr3" ] || grep -q "$file: the header states .* x .* pixels" said ||
            grep -q "small.raw: not a picture format" said ||
            fail "$file: not refused for its size"
    done
done
echo "$cases files, $failures failures, at most $most_kilobytes kB of memory"
[ $failures -eq 0 ]
