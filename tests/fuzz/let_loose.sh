#!/usr/bin/env bash
# Lets libFuzzer loose on the readers, one after the other, beginning with the kept inputs and those
# that earlier runs found. What crashes, leaks, hangs or takes too much memory lies in
# BUILD_DIR/found, and the exit code is 1.
# usage: tests/fuzz/let_loose.sh BUILD_DIR [READER...]     (description fits frame jpeg
#        page png raw tiff votable zone)
#   SECONDS_EACH=60   in the environment: how long for each reader
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$1
shift
[ $# -gt 0 ] || set -- description fits frame jpeg page png raw tiff votable zone
declare -A kinds=([fits]='fits|gz' [frame]='*' [jpeg]=jpg [png]=png [tiff]=tif
    [raw]='dng|cr3|mrw|orf|pef|raf|rw2' [description]=mrt [votable]=vot [zone]=tzif [page]=http)
shopt -s extglob
found=$build/found
mkdir -p "$found"
export LSAN_OPTIONS=suppressions=$PWD/tests/leaks-elsewhere.txt:print_suppressions=0
export ASAN_OPTIONS=allocator_may_return_null=1

# The targets accept no larger input than this.
fuzz() { # READER
    local corpus=$build/corpus/$1
    mkdir -p "$corpus"
    cp -n tests/fuzz/corpus/*/*.@(${kinds[$1]}) "$corpus"
    "$build/tests/fuzz/fuzz_$1" -max_total_time="${SECONDS_EACH:-60}" -max_len=32768 -timeout=20 \
        -rss_limit_mb=2048 -artifact_prefix="$found/$1-" -print_final_stats=1 "$corpus" \
        >"$build/$1.log" 2>&1
    local code=$?
    printf '%-6s %s inputs tried, %s kept' "$1" \
        "$(sed -n 's/^stat::number_of_executed_units: *//p' "$build/$1.log")" \
        "$(ls "$corpus" | wc -l)"
    [ $code -eq 0 ] && echo || echo "; FAILED: see $build/$1.log"
    return $code
}

failed=0
for reader in "$@"; do
    fuzz "$reader" || failed=1
done
exit $failed
