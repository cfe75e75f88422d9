#!/usr/bin/env bash
# solve, review, watch and its page on 1 to 64 threads under ThreadSanitizer: nothing of this program
# may be reported, and answers are the same on any number of threads. What libraries do is listed in
# elsewhere.txt, with reasons. Pictures are read in this process, so that their readers are looked at.
# usage: tests/threads/check_threads.sh BUILD_DIR     (of a build with -fsanitize=thread)
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$(realpath "$1")
export ALIDADE_CATALOGS=$PWD/catalogs ALIDADE_INDEX=$build/hipparcos.alidx XDG_CONFIG_HOME=/dev/null
export TSAN_OPTIONS="suppressions=$PWD/tests/threads/elsewhere.txt exitcode=66 halt_on_error=0"
unset ALIDADE_RIG
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder" || exit 1
mkdir night
"$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" --focal 135 --aperture 2.8 --pixel 32 \
    --size 450x300 --exposure 1 --interval 2 --start 2026-02-24T19:30:00 --azimuth 195 --altitude 33 \
    --frames 12 --out night/f-%d.jpg >/dev/null || exit 1
# Other readers than that of JPEG, some of which keep globals.
cp "$OLDPWD"/tests/fuzz/corpus/frame/{bayer.dng,rice.fits,rgba16.png,tiled.tif,small.orf,small.rw2} night
failed=0

try() { # COMMAND...: its answer is in answer
    timeout 280 "$build/alidade" "$@" >answer 2>said </dev/null
    local code=$?
    if [ $code -gt 3 ] || grep -q 'WARNING: ThreadSanitizer' said; then
        failed=$((failed + 1))
        echo "FAILED ($code): $*"
        grep -A 25 'WARNING: ThreadSanitizer' said | head -n 60
    fi
}
same() { # WHAT
    sed -E 's/"elapsed_ms": \{[^}]*\}//' answer | sort >"$1-now"
    [ -e "$1-first" ] || cp "$1-now" "$1-first"
    cmp -s "$1-first" "$1-now" || { failed=$((failed + 1)); echo "FAILED: $1 on $threads threads answers otherwise"; }
}
for threads in ${THREADS:-1 2 8 64}; do
    try solve --json --no-cage --threads "$threads" night/*
    same solve
    try review night --no-cage --threads "$threads" --log "review-$threads.jsonl" --csv "r-$threads.csv" --replace
    try watch night --once --no-cage --threads "$threads" --target "M 42" --log "watch-$threads.jsonl"
done
for csv in r-*.csv; do
    cmp -s "$(ls r-*.csv | head -n 1)" "$csv" || { failed=$((failed + 1)); echo "FAILED: $csv is another review"; }
done

# The page, asked by several at once while frames come.
mkdir live
"$build/alidade" watch live --no-cage --target "M 42" --page 127.0.0.1:0 >answer 2>said &
watch=$!
port=
for _ in $(seq 100); do
    port=$(grep -ohE 'http://127.0.0.1:[0-9]+[^ ]*' answer said | head -n 1)
    [ -n "$port" ] && break
    sleep 0.1
done
for n in $(seq 6); do
    cp night/f-$n.jpg live/f.tmp && mv live/f.tmp "live/f-$n.jpg"
    for _ in 1 2 3 4; do curl -s --max-time 5 "${port%/}/state" >/dev/null & done
    sleep 1
done
kill -TERM $watch
wait $watch
grep -q 'WARNING: ThreadSanitizer' said && { failed=$((failed + 1)); grep -A 25 'WARNING: Thread' said | head -n 60; }
echo "threads: $failed failed"
[ $failed -eq 0 ]
