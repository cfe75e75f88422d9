#!/usr/bin/env bash
# Runs the checks of this folder, one after the other, a line for each; exits 1 if one fails.
# usage: tests/faults/run.sh BUILD_DIR
set -u
cd "$(dirname "$0")/../.." || exit 1
export BUILD=$1 XDG_CONFIG_HOME=/dev/null
unset ALIDADE_RIG
failed=0
for check in tests/faults/check_*; do
    case $check in
    *.py) said=$(/usr/bin/python3 "$check" 2>&1) ;;
    *) said=$(bash "$check" 2>&1) ;;
    esac
    case $? in
    0) echo "ok    $check: ${said##*$'\n'}" ;;
    77) echo "skip  $check: ${said##*$'\n'}" ;;
    *)
        echo "FAIL  $check"
        printf '%s\n' "$said"
        failed=1
        ;;
    esac
done
exit $failed
