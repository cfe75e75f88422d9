#!/usr/bin/env bash
# Lets libFuzzer loose on the targets, beginning with the kept inputs and those that earlier runs
# found. What crashes, leaks, hangs or takes too much memory lies in BUILD_DIR/found, and the exit
# code is 1. For each target: inputs tried, how many in a second of processor time, edges of the
# program that were reached, inputs kept.
# usage: tests/fuzz/let_loose.sh BUILD_DIR [TARGET...]     (without: all)
#   SECONDS_EACH=30   in the environment: how long for each target
#   AT_ONCE=1         how many run side by side
#   KEEP=             set: afterwards tests/fuzz/corpus/campaign gets what is worth keeping, at most
#                     KEEP kilobytes of each target
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/fuzz/inputs.sh
export build=$1
shift
[ $# -gt 0 ] || mapfile -t all < <(fuzz_targets)
[ $# -gt 0 ] || set -- "${all[@]}"
found=$build/found
mkdir -p "$found"
export LSAN_OPTIONS=suppressions=$PWD/tests/leaks-elsewhere.txt:print_suppressions=0
# What was freed is kept for less long than usual: memory that is always new costs more than a small
# input.
export ASAN_OPTIONS=allocator_may_return_null=1:quarantine_size_mb=8
# Inputs that become files are to reach no disk, and names to be held against few.
export TMPDIR=/dev/shm
[ -w $TMPDIR ] || TMPDIR=/tmp
export TABLES=$build/tables
fuzz_short_tables "$TABLES"

# The targets accept no larger input than this.
fuzz() { # TARGET
    local corpus=$build/corpus/$1 log=$build/$1.log code inputs
    mkdir -p "$corpus"
    mapfile -t inputs < <(fuzz_inputs "$1")
    cp -n "${inputs[@]}" "$corpus"
    local TIMEFORMAT='%U %S' time tried
    { time "$build/tests/fuzz/fuzz_$1" -max_total_time="${SECONDS_EACH:-30}" -max_len=32768 -timeout=60 \
        -rss_limit_mb=2048 -artifact_prefix="$build/found/$1-" -print_final_stats=1 "$corpus" \
        >"$log" 2>&1; } 2>"$log.time"
    code=$?
    read -r time < <(awk '{print $1 + $2}' "$log.time")
    tried=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
    printf '%-11s %9s inputs tried, %6.0f a second, %5s edges, %4s kept' "$1" "$tried" \
        "$(awk -v n="${tried:-0}" -v s="$time" 'BEGIN {print n / (s > 0 ? s : 1)}')" \
        "$(sed -nE 's/^#.* cov: ([0-9]+) .*/\1/p' "$log" | tail -n 1)" "$(ls "$corpus" | wc -l)"
    [ $code -eq 0 ] && echo || echo "; FAILED: see $log"
    [ $code -eq 0 ] && [ -n "${KEEP:-}" ] && keep "$1"
    return $code
}

# The least inputs that reach what all reach, the smallest first, in one archive: the same inputs
# make the same archive.
keep() { # TARGET
    local least=$build/least/$1 archive=tests/fuzz/corpus/campaign/$1.tar.xz
    rm -rf "$least"
    mkdir -p "$least" "${archive%/*}"
    "$build/tests/fuzz/fuzz_$1" -merge=1 -max_len=32768 -timeout=20 -rss_limit_mb=2048 \
        "$least" "$build/corpus/$1" >>"$build/$1.log" 2>&1 || return
    (cd "$least" && find . -type f -size -9k -printf '%s %f\n' | sort -n |
        awk -v most=$((KEEP * 4096)) '(sum += $1 + 1024) < most {print $2}' | LC_ALL=C sort |
        tar --create --mtime=@0 --owner=0 --group=0 --mode=644 --no-recursion --files-from=-) |
        xz -9 >"$archive"
    [ "$(wc -c <"$archive")" -le $((KEEP * 1024)) ] ||
        { echo "$archive is larger than $KEEP kB and is left out" >&2; rm "$archive"; }
}
export -f fuzz keep fuzz_inputs

printf '%s\n' "$@" | xargs -P "${AT_ONCE:-1}" -I{} bash -c 'fuzz {}' || exit 1
