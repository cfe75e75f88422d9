#!/usr/bin/env bash
# The library knows no options of the command line: a page or another program says the same
# sentences. Texts that name one stand in src/cli; only what reads and describes options, in
# src/base, and style sheets have two hyphens before a word.
set -u
cd "$(dirname "$0")/../.." || exit 1
found=$(grep -rnE '"[^"]*--(%s|[a-z])' src --include=*.c --include=*.h |
    grep -vE '^src/(cli|manual|page|web)/|^src/base/(options|command|outputs)[a-z_]*\.[ch]:' |
    grep -vE '^src/draw/night_page.*(var\(--|[{;"]--[a-z]+:|style=)')
[ -z "$found" ] || { printf 'options in texts of the library:\n%s\n' "$found"; exit 1; }
echo "no text of the library names an option"
