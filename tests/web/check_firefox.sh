#!/usr/bin/env bash
# The page in Firefox, where that is: opens, solves a frame, says the same as the program.
bash tests/web/built.sh node firefox-esr || exit
exec node tests/web/firefox.js "${BUILD:-build}"
