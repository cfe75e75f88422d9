#!/usr/bin/env bash
# One rule for all commands that take a name: one that nothing has is a wrong command line (2), a
# table that is missing is an input that cannot be read (3), whatever the command is.
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$(realpath "${BUILD:-build}")
catalogs=$(realpath catalogs)
export ALIDADE_INDEX=$build/hipparcos.alidx
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder" || exit 1
export XDG_CONFIG_HOME=$folder
unset ALIDADE_RIG
mkdir no-stars nothing night
cp "$catalogs"/*.tsv no-stars && rm no-stars/stars.tsv
"$build/demo/render" --stars "$catalogs/stars.tsv" --ra 83.8 --dec -5.4 --focal 135 --pixel 32 \
    --size 450x300 --exposure 1 --tracked --out night/frame.png >/dev/null || exit 1
cases=0 failures=0

expect() { # CODE TEXT CATALOGS ARGUMENT...
    local expected=$1 text=$2 code
    export ALIDADE_CATALOGS=$3
    shift 3
    cases=$((cases + 1))
    timeout "${PATIENCE:-60}" "$build/alidade" "$@" >said 2>&1 </dev/null
    code=$?
    if [ $code -ne "$expected" ] || ! grep -qF -e "$text" said; then
        failures=$((failures + 1))
        echo "FAILED: $*: exit code $code, expected $expected and \"$text\""
        sed 's/^/    /' said
    fi
}

night=(--focal 250 --place 50,10 --date 2026-02-24)
everywhere() { # CODE TEXT CATALOGS NAME
    expect "$1" "$2" "$3" object "$4"
    expect "$1" "$2" "$3" plan "${night[@]}" --target "$4"
    expect "$1" "$2" "$3" aim night/frame.png --target "$4"
    expect "$1" "$2" "$3" watch night --once --target "$4"
    expect "$1" "$2" "$3" review night --target "$4"
}

everywhere 2 'near to it: Orion Nebula' "$catalogs" 'Orion Nebular x'
everywhere 2 'end at 120416' "$catalogs" 'HIP 130000'
everywhere 3 'stars.tsv' "$folder/no-stars" 'HIP 5'
everywhere 3 'constellations.tsv' "$folder/nothing" 'M 42'
[ -e night/alidade-night.jsonl ] && { failures=$((failures + 1)); echo "FAILED: a log was begun"; }
echo "$cases cases, $failures failures"
[ $failures -eq 0 ]
