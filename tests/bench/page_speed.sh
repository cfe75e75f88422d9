#!/usr/bin/env bash
# The page in a real browser, where it is built: start, answers, memory, download.
# usage: tests/bench/page_speed.sh BUILD_DIR NUMBERS
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$1 numbers=$2
BUILD=$build bash tests/web/built.sh node chromium || { [ $? -eq 77 ] && exit 0; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# The field of the README's evening, 200 mm: 6 megapixels, and 24 of a raw file.
"$build/demo/render" --ra 83.8 --dec -5.4 --focal 200 --pixel 7.8 --size 3000x2000 --out "$work/six.jpg" >/dev/null
"$build/demo/render" --ra 20h58m --dec 44.3 --out "$work/raw.dng" >/dev/null
node tests/web/measure.js "$build" "$work/six.jpg" "$work/raw.dng" "$numbers"
