#!/usr/bin/env bash
# Measures every number that the project promises, prints them as one table with goal, value and
# verdict, and what is worse than in the last version; BUILD_DIR/bench.json holds the same. Exits
# with 1 if a goal is missed, a figure is worse, or something could not be measured.
# usage: tests/bench/run.sh BUILD_DIR [long|usual] [MEASURE...]
#   long              the long statistics too: hours
#   MEASURE           only lists, deep, frames, coverage, zones, detection, difficult, health, photos, speed, night, refusals,
#                     fisheyes, trails, false, nosky, or page, where that is built;
#                     scale, which is left to the long statistics
#   ATTEMPTS=50000    in the environment: attempts on lists without an answer
#   SCALE_FRAMES=2000 the same: frames that are spread over processes
set -uo pipefail
cd "$(dirname "$0")/../.." || exit 1
build=$1 extent=${2:-usual}
shift $(($# > 2 ? 2 : $#))
bench=$build/tests/bench
numbers=$build/bench-numbers.tsv
index=(--index "$build/hipparcos.alidx" --numbers "$numbers")
failed=0
rm -f "$numbers"

# Each program says what it found; what fails with a message stays without a number below.
run() {
    local start=$SECONDS
    echo "== $*"
    "$@" || { [ $? -eq 1 ] || failed=1; }
    echo "-- $((SECONDS - start)) s"
    echo
}

shown=()
[ $# -gt 0 ] && shown=(--measured)
[ "$extent" = long ] && shown+=(--long)
# How much of each, for some 15 minutes on two processors, or for the long statistics.
case $extent in
usual) frames=300 coverage=60 zones=100 difficult=20 attempts=400 refusals=24 fisheyes=20 trails=20 nosky=40 ;;
long) frames=1000 coverage=1000 zones=600 difficult=40 attempts=100000 refusals=150 fisheyes=200 trails=200 nosky=5000 ;;
*) echo "expected long or usual in place of $extent" >&2; exit 2 ;;
esac
if [ $# -eq 0 ]; then
    set -- lists deep frames coverage zones detection difficult health photos speed night refusals fisheyes trails false nosky page
    [ "$extent" = long ] && set -- "$@" scale
fi
for measure in "$@"; do
    case $measure in
    lists) run "$bench/lists" "${index[@]}" --failed ;;
    deep) run "$bench/deep" --numbers "$numbers" --failed ;;
    zones) run "$bench/zones" "${index[@]}" --frames $zones --failed ;;
    coverage) run "$bench/coverage" "${index[@]}" --frames $coverage ;;
    frames) run "$bench/frames" "${index[@]}" --frames $frames ;;
    detection) run "$bench/detection" --each 4 --numbers "$numbers" ;;
    difficult) run "$bench/difficult" "${index[@]}" --each $difficult ;;
    health) run "$bench/bench_health" "${index[@]}" ;;
    photos) run bash tests/bench/photos.sh "$build" "$numbers" ;;
    speed) run bash tests/bench/speed.sh "$build" "$numbers" "$extent" ;;
    night) run bash tests/bench/night_speed.sh "$build" "$numbers" ;;
    refusals) run "$bench/refusals" "${index[@]}" --each $refusals ;;
    fisheyes) run "$bench/fisheyes" "${index[@]}" --each $fisheyes ;;
    trails) run "$bench/trails" "${index[@]}" --pictures $trails ;;
    false) run "$bench/false_answers" "${index[@]}" --attempts "${ATTEMPTS:-$attempts}" ;;
    nosky) run "$bench/no_sky" "${index[@]}" --pictures $nosky ;;
    page) run bash tests/bench/page_speed.sh "$build" "$numbers" ;;
    scale) run bash tests/scale/check_cluster.sh "$build" "${SCALE_FRAMES:-100000}" "$numbers" ;;
    *) echo "no measure is called $measure" >&2; exit 2 ;;
    esac
done

/usr/bin/python3 tests/bench/table.py tests/bench/goals.txt "$numbers" tests/bench/kept.json \
    "$build/bench.json" "${shown[@]}" || failed=1
exit $failed
