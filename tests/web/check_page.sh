#!/usr/bin/env bash
# The page in a real browser, where it is built: tests/web/page.js.
bash tests/web/built.sh node chromium || exit
exec node tests/web/page.js "${BUILD:-build}"
