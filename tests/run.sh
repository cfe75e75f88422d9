#!/usr/bin/env bash
# Runs the unit tests, then every script in the folders named below; one line for each, the output of
# those that fail, and the sum at the end. A script is passed when it exits 0, skipped when 77.
# usage: tests/run.sh BUILD_DIR [FOLDER...]
set -u
cd "$(dirname "$0")/.." || exit 1
build=$1
shift
export BUILD=$build
# Nobody's own settings file has a say.
export XDG_CONFIG_HOME=/dev/null
unset ALIDADE_RIG
passed=0 failed=0 skipped=0
out=$(mktemp)
trap 'rm -f "$out"' EXIT

run_unit() {
    "$build/tests/unit/run" >"$out" 2>&1
    local line checks failures errors
    line=$(grep -E '^[0-9]+%: Checks' "$out")
    grep -vE '^Running suite|:P:' "$out"
    checks=$(sed -E 's/.*Checks: ([0-9]+).*/\1/' <<<"$line")
    failures=$(sed -E 's/.*Failures: ([0-9]+).*/\1/' <<<"$line")
    errors=$(sed -E 's/.*Errors: ([0-9]+).*/\1/' <<<"$line")
    if [ -z "$line" ]; then
        failed=$((failed + 1))
        return
    fi
    passed=$((passed + checks - failures - errors))
    failed=$((failed + failures + errors))
}

run_script() {
    local start=$SECONDS code
    case $1 in
    *.py) /usr/bin/python3 "$1" >"$out" 2>&1 ;;
    *) bash "$1" >"$out" 2>&1 ;;
    esac
    code=$?
    case $code in
    0) passed=$((passed + 1)); echo "ok    $1 ($((SECONDS - start)) s): $(tail -n 1 "$out")" ;;
    77) skipped=$((skipped + 1)); echo "skip  $1: $(tail -n 1 "$out")" ;;
    *) failed=$((failed + 1)); echo "FAIL  $1 (exit $code)"; cat "$out" ;;
    esac
}

run_unit
for folder in "$@"; do
    for script in "tests/$folder"/check_*; do
        [ -e "$script" ] && run_script "$script"
    done
done
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
