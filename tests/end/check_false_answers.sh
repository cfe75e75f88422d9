#!/usr/bin/env bash
# Pictures of something else, and lists without an answer, must get none, and the stated chance must be
# true: of 100 attempts one may end below 0.01, as many more as would happen once in a million runs if it
# were just true (Poisson's law).
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/sample.sh
attempts=$(sample 60)
numbers=$(mktemp)
trap 'rm -f "$numbers"' EXIT
"$BUILD/tests/bench/no_sky" --pictures "$(sample 8)" --index "$BUILD/hipparcos.alidx" || exit 1
"$BUILD/tests/bench/false_answers" --attempts $attempts --index "$BUILD/hipparcos.alidx" \
    --numbers "$numbers" --close || exit 1
awk -F '\t' -v attempts=$attempts '
    { value[$1] = $2 }
    function most_of(mean, chance,    count, term, beyond) {
        term = exp(-mean)
        beyond = 1 - term
        for (count = 0; beyond > chance; beyond -= term)
            term *= mean / ++count
        return count
    }
    END {
        below = value["false.below_1e-2"]
        most = most_of(attempts / 100, 1e-6)
        printf "%d attempts: %d accepted, %d with a best chance below 0.01 (at most %d)\n", attempts,
            value["false.accepted"], below, most
        exit !(value["false.attempts"] == attempts && value["false.accepted"] == 0 && below <= most)
    }' "$numbers"
