#!/usr/bin/env bash
# All checks of the page: run.sh BUILD. The rules of accessibility that axe-core (npm) knows are
# checked if it can be installed. WEB_LONG=1 compares the answers to 200 frames, and to photographs.
set -u
cd "$(dirname "$0")/../.." || exit 1
export BUILD=$1
failed=0
axe=$BUILD/web/axe
if [ ! -e "$axe/node_modules/axe-core" ] && command -v npm >/dev/null; then
    mkdir -p "$axe" && (cd "$axe" && npm install --silent --no-audit --no-fund axe-core >/dev/null 2>&1)
fi
for check in "/usr/bin/python3 tests/web/check_same_answers.py" "bash tests/web/check_page.sh" \
    "bash tests/web/check_firefox.sh" "bash tests/web/check_judged_anew.sh"; do
    $check
    case $? in
    0) echo "ok    $check" ;;
    77) echo "skip  $check" ;;
    *) echo "FAIL  $check"; failed=$((failed + 1)) ;;
    esac
done
[ "$failed" -eq 0 ]
