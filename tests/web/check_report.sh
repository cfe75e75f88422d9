#!/usr/bin/env bash
# A night's report with the engine in it: tests/web/report.js.
bash tests/web/built.sh node chromium || exit
exec node tests/web/report.js "${BUILD:-build}"
