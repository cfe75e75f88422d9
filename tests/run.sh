#!/usr/bin/env bash
# Runs the suites of the unit tests and every script in the folders named below, several at once; one
# line for each in a fixed order, the output of those that fail, and the sum at the end. A script is
# passed when it exits 0, skipped when 77. With --sampled only those that draw their cases by lot, of
# which SAMPLE_TIMES says how many.
# usage: tests/run.sh BUILD_DIR [--sampled] [FOLDER...]
set -u
cd "$(dirname "$0")/.." || exit 1
export BUILD=$1
shift
sampled=
[ "${1:-}" = --sampled ] && sampled=1 && shift
# Nobody's own settings file has a say.
export XDG_CONFIG_HOME=/dev/null
unset ALIDADE_RIG
# A test that hangs is to end; one that waits for a busy machine is not.
export CK_TIMEOUT_MULTIPLIER=${CK_TIMEOUT_MULTIPLIER:-10}
passed=0 failed=0 skipped=0
work=$(mktemp -d)
pool=
trap '[ -n "$pool" ] && kill "$pool" 2>/dev/null; rm -rf "$work"' EXIT

# Leaves what a job says in NUMBER.out, and in NUMBER.end its exit code, how long it took and how much of
# a processor.
run_job() { # NUMBER JOB
    local start=$SECONDS code
    case $2 in
    suite:*) "$BUILD/tests/unit/run" "${2#suite:}" ;;
    *.py) /usr/bin/python3 "$2" ;;
    *) bash "$2" ;;
    esac >"$work/$1.out" 2>&1
    code=$?
    times >"$work/$1.times"
    echo "$code $((SECONDS - start)) $(awk -F '[ms ]+' 'NR == 2 {
        printf "%.1f", 60 * ($1 + $3) + $2 + $4 }' "$work/$1.times")" >"$work/$1.part"
    mv "$work/$1.part" "$work/$1.end"
}
export -f run_job
export work

# Waits for a job and sets code, seconds and processor; without a result, if the pool has died.
await() { # NUMBER
    local living=1
    code=1 seconds=0 processor=0
    until [ -e "$work/$1.end" ]; do
        [ "$living" = 1 ] || return
        kill -0 "$pool" 2>/dev/null || living=0
        sleep 0.1
    done
    read -r code seconds processor <"$work/$1.end"
}

count_suite() { # NUMBER SUITE
    local sum
    sum=$(sed -nE 's/^[0-9]+%: Checks: ([0-9]+), Failures: ([0-9]+), Errors: ([0-9]+)$/\1 \2 \3/p' \
        "$work/$1.out")
    read -r checks failures errors <<<"${sum:-0 0 0}"
    if [ "$code" -ne 0 ] && [ $((failures + errors)) -eq 0 ]; then # it died, or leaks at its end
        failed=$((failed + 1))
        echo "FAIL  suite $2 (exit $code)"
        cat "$work/$1.out"
        return
    fi
    passed=$((passed + checks - failures - errors))
    failed=$((failed + failures + errors))
    [ "$seconds" -gt 20 ] && echo "suite $2 takes $seconds s"
    grep -vE '^Running suite|:P:|^100%' "$work/$1.out"
}

count_script() { # NUMBER SCRIPT
    local last
    last=$(tail -n 1 "$work/$1.out" 2>/dev/null)
    case $code in
    0) passed=$((passed + 1)); echo "ok    $2 ($seconds s): $last" ;;
    77) skipped=$((skipped + 1)); echo "skip  $2: $last" ;;
    *) failed=$((failed + 1)); echo "FAIL  $2 (exit $code)"; cat "$work/$1.out" ;;
    esac
}

# What takes longest is started first, so that no processor waits for the other at the end: by how
# long each job took here the last time, in a new tree by this list.
longest='bad-input/check_watch.sh tree/check_rebuild.sh bad-input/check_outputs.sh
    bad-input/check_odd_frames.sh end/check_false_answers.sh end/check_health.sh
    end/check_frames_solve.sh end/check_night.sh suite:one_voice suite:plan_thresholds suite:solve
    end/check_review.sh end/check_lists.sh outside/check_sun_moon.py outside/check_lens.py
    bad-input/check_plan.sh suite:health suite:job_watch suite:job_plan bad-input/check_aim.sh'
in_order_of_start() {
    local number name listed took
    declare -A before
    while read -r took _ name; do
        before[$name]=$took
    done < <(cat "$BUILD/tests/took" 2>/dev/null)
    for number in "${!jobs[@]}"; do
        name=${jobs[number]#tests/}
        [[ $longest =~ (^|[[:space:]])"$name"($|[[:space:]]) ]] && listed=60 || listed=0
        echo "${before[$name]:-$listed} $number"
    done | sort -k 1,1nr -k 2,2n | while read -r _ number; do
        printf '%s\0%s\0' "$number" "${jobs[number]}"
    done
}

is_wanted() { # FILE
    [ -e "$1" ] && { [ -z "$sampled" ] || grep -qE '"sample[.]h"|sample[.]sh|SAMPLE_TIMES' "$1"; }
}

jobs=()
for suite in $(sed -E 's/SUITE\((.*)\)/\1/' "$BUILD/tests/unit/suites.inc"); do
    is_wanted "tests/unit/test_$suite.c" && jobs+=("suite:$suite")
done
suites=${#jobs[@]}
for folder in "$@"; do
    for script in "tests/$folder"/check_*; do
        is_wanted "$script" && jobs+=("$script")
    done
done
# One more than there are processors: a job that watches a folder or a kill waits most of its time.
in_order_of_start | xargs -0 -n 2 -P $(($(nproc) + 1)) bash -c 'run_job "$@"' _ &
pool=$!

took=
for number in "${!jobs[@]}"; do
    await "$number"
    took+="$seconds $processor ${jobs[number]#tests/}"$'\n'
    if [ "$number" -lt "$suites" ]; then
        count_suite "$number" "${jobs[number]#suite:}"
    else
        [ "$number" -eq "$suites" ] && echo "unit tests: $passed passed, $failed failed"
        count_script "$number" "${jobs[number]}"
    fi
done
[ -n "$sampled" ] || printf '%s' "$took" >"$BUILD/tests/took"
printf '%s' "$took" | sort -k 2,2nr | awk '{ all += $2; if (NR <= 8) most = most sprintf(", %s %.0f", $3, $2) }
    END { printf "%.0f s of processor time%s\n", all, most }'
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
