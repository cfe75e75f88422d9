#!/usr/bin/env bash
# Rendered photographs from pixels to the answer. Frames depend on nothing but their numbers. The
# marks allow one frame of each kind to fail, and residuals a tenth above what was measured (1.15
# times what photons and the catalogue allow); `make bench` measures a thousand frames.
set -u
cd "$(dirname "$0")/../.." || exit 1
numbers=$(mktemp)
trap 'rm -f "$numbers"' EXIT
"$BUILD/tests/bench/frames" --quick --index "$BUILD/hipparcos.alidx" --numbers "$numbers" || exit 1
awk -F '\t' '
    { value[$1] = $2; if ($1 ~ /[.]wrong$/ && $2 > 0) bad = bad "\n" $1 " " $2 }
    function least(key, mark) {
        if (!(key in value) || !(value[key] >= mark)) bad = bad "\n" key " " value[key] " < " mark
    }
    function most(key, mark) {
        if (!(key in value) || !(value[key] <= mark)) bad = bad "\n" key " " value[key] " > " mark
    }
    END {
        least("frames.blind.right_percent", 96)
        least("frames.narrow.right_percent", 83)
        least("frames.stack.right_percent", 75)
        most("frames.strange_percent", 1)
        most("frames.blind.residual_over_allowed", 1.27)
        most("frames.blind.wcs_px_95", 0.3)
        if (bad) print bad
        printf "%.0f %% of frames solved, residuals %.2f times what is allowed\n",
            value["frames.blind.right_percent"], value["frames.blind.residual_over_allowed"]
        exit bad != ""
    }' "$numbers"
