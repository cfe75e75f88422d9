#!/usr/bin/env bash
# File names that would speak to the terminal: none gets there as it is, from no command, on neither
# stream, and none makes a line of its own. The files keep their names in lists and JSON.
set -u
. "$(dirname "$0")/scratch_folder.sh"
"$render" --ra 83.8 --dec -5.4 --focal 250 --pixel 22 --size 1000x667 --exposure 2 --seed 1 \
    --stars "$stars" --out good.jpg >said 2>&1 || { cat said; exit 1; }

# A colour, a title of the window, a line feed, a carriage return, a bell, C1's CSI, a turned
# direction, a byte that is no UTF-8.
names=($'\e[31mred' $'\e]0;title\a' $'a\nforged: fine' $'a\rb' $'bell\a' $'csi\xc2\x9b31m' $'dir\xe2\x80\xaegpj' $'odd\xff')

# Lines of the command's output: control characters, half characters and turns are none of them.
check_clean() { # FILE WHAT
    if LC_ALL=C grep -qP '[\x00-\x08\x0b-\x1f\x7f]|\xc2[\x80-\x9f]|\xe2\x80[\xaa-\xae]' "$1" ||
        grep -q '^forged' "$1" || ! iconv -f UTF-8 -t UTF-8 "$1" >/dev/null 2>&1; then
        failures=$((failures + 1))
        echo "FAILED: $2"
        LC_ALL=C sed 's/^/    /' "$1" | cat -v
    fi
}

try() { # ARGUMENT...
    cases=$((cases + 1))
    timeout "$patience" "$program" "$@" >answer 2>said </dev/null
    check_clean answer "answer of $1 ($2)"
    check_clean said "complaint of $1 ($2)"
}

mkdir night
for name in "${names[@]}"; do
    cp good.jpg "$name.jpg"
    cp good.jpg "night/$name.jpg"
    try solve "$name.jpg"
    try solve "$name none.jpg"
    try aim "$name.jpg" --target "M 42"
    try annotate "$name.jpg" -o "$name.png"
    try object --in "$name.jpg"
    try object "$name"
    try solve good.jpg --index "$name"
    try solve good.jpg --rig "$name"
    try plan --place 50,10 --focal 250 --target "$name"
done
try review night
try watch night --target "M 42" --once
[ "$failures" -eq 0 ] && echo "$cases commands with names that speak to terminals"
exit $((failures > 0))
