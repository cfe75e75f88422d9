#!/usr/bin/env bash
# Good frames from all over the sky must be called good, every one, and the figures must be as near
# to the truth as is promised.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/sample.sh
numbers=$(mktemp)
trap 'rm -f "$numbers"' EXIT
"$BUILD/tests/bench/bench_health" --frames "$(sample 40)" --index "$BUILD/hipparcos.alidx" --numbers "$numbers" ||
    exit 1
# At 95 % of the frames: widths to 8 % (their median to 5 %), trails to 0.5 px, zero points to twice
# their stated error and a little for chance.
awk -F '\t' '
    { value[$1] = $2 }
    function limit(key, most) {
        if (!(key in value) || value[key] > most) {
            print key ": " value[key] ", expected at most " most
            bad = 1
        }
    }
    END {
        limit("health.width_median", 0.05)
        limit("health.width_95", 0.08)
        limit("health.elongation_95", 0.05)
        limit("health.trail_95", 0.5)
        limit("health.zero_in_errors_95", 2.5)
        printf "%d good frames, %d called otherwise\n", value["health.good_frames"],
               value["health.false_verdicts"]
        exit bad
    }' "$numbers"
