#!/usr/bin/env bash
# Checks the page: run.sh BUILD. The rules of accessibility that axe-core (npm) knows are checked if
# it can be installed.
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$1 failed=0
axe=$build/web/axe
if [ ! -e "$axe/node_modules/axe-core" ] && command -v npm >/dev/null; then
    mkdir -p "$axe" && (cd "$axe" && npm install --silent --no-audit --no-fund axe-core >/dev/null 2>&1)
fi
for check in "/usr/bin/python3 tests/web/check_same_answers.py $build" "node tests/web/check_page.js $build"; do
    $check
    case $? in
    0) echo "ok    $check" ;;
    77) echo "skip  $check" ;;
    *) echo "FAIL  $check"; failed=$((failed + 1)) ;;
    esac
done
[ "$failed" -eq 0 ]
