#!/usr/bin/env bash
# A night's report with the engine in it: tests/web/judged_anew.js.
bash tests/web/built.sh node chromium || exit
exec node tests/web/judged_anew.js "${BUILD:-build}"
