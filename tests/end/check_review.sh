#!/usr/bin/env bash
# A rendered night with cloud, a lost focus, a knock, a re-centring and dark frames: review must tell
# each at its frame and nothing else. Then what can happen to the files and the log.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/sample.sh
build=$(cd "${BUILD:-build}" && pwd)
alidade=$build/alidade
export ALIDADE_CATALOGS=$PWD/catalogs ALIDADE_INDEX=$build/hipparcos.alidx
work=$(mktemp -d) || exit 1
trap 'chmod -R u+w "$work"; rm -rf "$work"' EXIT
night=$work/night cases=0 failures=0
mkdir "$night" "$night/calibration"

expect() { # WHAT COMMAND...
    local what=$1
    shift
    cases=$((cases + 1))
    "$@" || { failures=$((failures + 1)); echo "failed: $what"; }
}

batch() { # NAME START FRAMES AZIMUTH ALTITUDE OPTION...
    local name=$1 start=$2 frames=$3 azimuth=$4 altitude=$5
    shift 5
    "$build/demo/render" --latitude 50 --longitude 10 --zone 60 --focal 250 --pixel 24.6 \
        --size 900x600 --exposure 2 --fwhm 2.2 --interval 5 --azimuth "$azimuth" \
        --altitude "$altitude" --start "2026-02-24T$start" --frames "$frames" "$@" >/dev/null ||
        { echo "nothing rendered"; exit 1; }
}

batch a 19:31:00 8 201.2 31.5 --seed 1 --out "$night/a%02d.jpg"
batch b 19:31:40 3 201.2 31.5 --seed 2 --cloud 3 --out "$night/b%02d.jpg"
batch c 19:31:55 6 201.2 31.5 --seed 3 --out "$night/c%02d.jpg"
batch c 19:32:05 1 201.2 31.5 --seed 33 --satellites 1 --out "$night/c03.jpg"
batch d 19:34:30 6 202.0 31.3 --seed 4 --out "$night/d%02d.jpg"
batch e 19:35:00 3 202.0 31.3 --seed 5 --fwhm 4.4 --out "$night/e%02d.jpg"
batch f 19:35:15 6 202.0 31.3 --seed 6 --out "$night/f%02d.jpg"
batch g 19:35:45 6 202.05 31.48 --seed 7 --out "$night/g%02d.jpg"
batch h 19:40:00 3 200 31 --seed 8 --cap --out "$night/calibration/dark%02d.fits"

"$alidade" review "$night" --csv "$work/a.csv" --list "$work/a.txt" --html "$work/a.html" \
    >"$work/a.out" || { cat "$work/a.out"; echo "review failed"; exit 1; }
awk -F, 'NR > 1 { n = split($1, part, "/"); print substr(part[n], 1, 1), $2 }' "$work/a.csv" |
    sort | uniq -c | tr -s ' ' | tr '\n' ';' >"$work/verdicts"
expect "verdicts: $(cat "$work/verdicts")" \
    [ "$(cat "$work/verdicts")" = " 8 a keep; 3 b drop; 6 c keep; 3 d apart; 6 d keep; 3 e drop; 6 f keep; 6 g keep;" ]
sed -n 's/^  \(events  \|        \)  *\([0-9][0-9:]*\) *\(to [0-9:]*\)* *\(.*\)/\2 \4/p' "$work/a.out" |
    sed 's/, .*//; s/ by [0-9.]*.*//' >"$work/events"
cat >"$work/events.want" <<'WANT'
20:31:40 cloud or haze
20:34:30 re-centred
20:35:00 out of focus or dew
20:35:45 the tripod was moved
WANT
expect "events" diff "$work/events" "$work/events.want"
expect "the frame that a satellite crossed is told of, and kept" \
    grep -q '^  crossed   1 frame, by satellites or aeroplanes: c03.jpg$' "$work/a.out"
expect "list" [ "$(grep -c . "$work/a.txt")" = 32 ]
expect "darks are matched by exposure" grep -q 'darks     3 of 50 for the' "$work/a.out"
# The altitude rose by 0.18, the azimuth by 0.05 x cos 31 = 0.043: 11.1'.
expect "the knock is measured" grep -q "the tripod was moved by 11'" "$work/a.out"

# Nothing is measured twice, and a log that was cut anywhere is taken up.
log=$night/alidade-night.jsonl
expect "a line a frame" [ "$(wc -l <"$log")" = 41 ]
cp "$log" "$work/whole.jsonl"
"$alidade" review "$night" >"$work/b.out"
expect "the same answer again" cmp "$work/a.out" "$work/b.out"
expect "nothing measured again" cmp "$log" "$work/whole.jsonl"
for size in 1 1000 20000 40001; do
    head -c "$size" "$work/whole.jsonl" >"$log"
    "$alidade" review "$night" --csv "$work/b.csv" >"$work/b.out"
    expect "the same after $size bytes of the log" cmp "$work/a.csv" "$work/b.csv"
    expect "no line lost or doubled after $size bytes" [ "$(wc -l <"$log")" = 41 ]
done
# Killed at random moments; a log that has become whole makes room for a new one.
RANDOM=20260224
names_of() { # LOG: of its whole lines
    sed -n 's/^{"frame": "\([^"]*\)".*}$/\1/p' "$1"
}
rm -f "$log"
whole=0 logs=0 doubled=0 changed=0 kills=$(sample 16)
for kill in $(seq "$kills"); do
    "$alidade" review "$night" >/dev/null 2>&1 &
    sleep "0.$((RANDOM % 40 + 5))"
    kill -9 $! 2>/dev/null
    wait $! 2>/dev/null
    [ -e "$log" ] || continue
    [ -z "$(names_of "$log" | sort | uniq -d)" ] || doubled=$((doubled + 1))
    if [ "$(names_of "$log" | wc -l)" = 41 ] || [ "$kill" = "$kills" ]; then
        "$alidade" review "$night" --csv "$work/b.csv" >"$work/b.out"
        cmp -s "$work/a.csv" "$work/b.csv" || changed=$((changed + 1))
        [ "$(names_of "$log" | sort -u | wc -l) $(wc -l <"$log")" = "41 41" ] && whole=$((whole + 1))
        logs=$((logs + 1))
        rm "$log"
    fi
done
expect "$kills kills: the same answer in the end, $changed times not" [ "$changed" = 0 ]
expect "$kills kills: each frame once in all $whole logs" [ "$whole" = "$logs" ]
expect "$kills kills: no frame doubled, $doubled times" [ "$doubled" = 0 ]
"$alidade" review "$night" >"$work/b.out"

# A file that is replaced is measured anew.
batch a 19:31:05 1 201.2 31.5 --seed 22 --out "$night/a02.jpg"
"$alidade" review "$night" >"$work/b.out"
expect "a replaced file has a second line" [ "$(wc -l <"$log")" = 42 ]
rm "$night/a02.jpg" && batch a 19:31:05 1 201.2 31.5 --seed 2 --out "$night/a02.jpg"

# Pieces measured apart, in any order, one line twice, one torn.
find "$night" -name '*.jpg' -o -name '*.fits' | sort -r | split -l 15 - "$work/part."
for part in "$work"/part.a?; do
    xargs "$alidade" solve --json <"$part" >"$part.jsonl"
done
head -n 2 "$work/part.aa.jsonl" >>"$work/part.ab.jsonl"
printf '{"frame": "torn' >>"$work/part.ac.jsonl"
"$alidade" review --from "$work"/part.a?.jsonl --csv "$work/c.csv" >"$work/c.out" 2>"$work/c.err"
"$alidade" review "$night" --csv "$work/b.csv" >"$work/b.out"
expect "pieces make the same table" cmp "$work/b.csv" "$work/c.csv"
expect "the torn line is told" grep -q '1 line could not be read' "$work/c.err"

# A clock that was set back by an hour amid the night: nothing is lost, and the frames stay two groups.
mkdir "$work/back"
cp -p "$night"/a0[1-4].jpg "$work/back"
batch back 18:31:20 4 201.2 31.5 --seed 9 --out "$work/back/b%02d.jpg"
"$alidade" review "$work/back" --csv "$work/d.csv" >"$work/d.out"
expect "a clock that was set back" [ "$(grep -c ',keep,' "$work/d.csv")" = 8 ]

# Files that vanish while they are measured, or are cut short, are told of, and the rest is answered.
mkdir "$work/restless"
cp -p "$night"/[abc]*.jpg "$work/restless"
"$alidade" review "$work/restless" --threads 1 --csv "$work/e.csv" >"$work/e.out" 2>"$work/e.err" &
process=$!
for _ in $(seq 100); do
    [ -s "$work/restless/alidade-night.jsonl" ] && break
    sleep 0.02
done
rm "$work/restless/c06.jpg" && truncate -s 5000 "$work/restless/c05.jpg"
wait $process
expect "files that vanish do not stop it" [ $? -eq 0 ]
expect "and have their rows" [ "$(grep -cE 'c0[56].jpg,drop,unread,' "$work/e.csv")" = 2 ]
expect "the others too" [ "$(wc -l <"$work/e.csv")" = 18 ]

# Logs that cannot grow, or may not be written: the answer is the same, and nothing is kept in halves.
mkdir "$work/full" "$work/locked"
cp -p "$night"/a*.jpg "$work/full" && cp -p "$night"/a*.jpg "$work/locked"
"$alidade" review "$work/full" --log "$work/full.jsonl" --csv "$work/f.csv" >"$work/f.out"
(ulimit -f 8 && "$alidade" review "$work/full" >"$work/g.out" 2>"$work/g.err")
expect "a log that cannot grow does not stop it" [ $? -eq 0 ]
expect "that is told once" [ "$(grep -c 'the log cannot be written' "$work/g.err")" = 1 ]
expect "the answer is the same" cmp "$work/f.out" "$work/g.out"
expect "its lines are whole" [ "$(tail -c 1 "$work/full/alidade-night.jsonl" | wc -l)" = 1 ]
"$alidade" review "$work/full" --csv "$work/g.csv" >"$work/g.out"
expect "the rest follows later" \
    [ "$(names_of "$work/full/alidade-night.jsonl" | sort -u | wc -l)" = 8 ]
expect "with the same table" cmp "$work/f.csv" "$work/g.csv"
humbly() { # root may write anywhere
    if [ "$(id -u)" -eq 0 ]; then
        setpriv --reuid=65534 --regid=65534 --clear-groups "$@"
    else
        "$@"
    fi
}
chmod 755 "$work" && chmod a-w "$work/locked"
if humbly test -x "$alidade" 2>/dev/null; then
    humbly "$alidade" review "$work/locked" >"$work/h.out" 2>"$work/h.err"
    expect "a card that is write-protected: the answer" [ $? -eq 0 ]
    expect "and that nothing is kept" grep -q 'nothing will be kept for the next time' "$work/h.err"
fi

# Names that would be markup, broken files, a log that cannot be written.
odd=$work/odd
mkdir "$odd"
cp "$night/a01.jpg" "$odd/<script>alert(1)<"$'\n'">.jpg"
cp "$night/a03.jpg" "$odd/\"onload=\"x"$'\xff'".jpg"
head -c 3000 "$night/a04.jpg" >"$odd/half.jpg"
: >"$odd/empty.jpg"
"$alidade" review "$odd" --html "$work/odd.html" --list "$work/odd.txt" >"$work/odd.out" 2>"$work/odd.err"
expect "broken files do not stop it" [ $? -eq 0 ]
expect "no markup from names" [ "$(grep -ci '<script\|onload="' "$work/odd.html")" = 0 ]
expect "a name with a line break is told" grep -q 'with a line break left out' "$work/odd.err"
expect "the page asks for nothing" [ "$(grep -cE '(src|href)="?(https?:|//|file:)|url\(|<script|@import' "$work/a.html")" = 0 ]
mkdir "$odd/sub" && "$alidade" review "$odd" --log /dev/full >/dev/null 2>"$work/err"
expect "a log that is asked for and cannot be: 4" [ $? -eq 4 ]
"$alidade" review "$work/none" >/dev/null 2>"$work/err"
expect "no folder: 3" [ $? -eq 3 ]
"$alidade" review "$odd/sub" >/dev/null 2>"$work/err"
expect "an empty folder: 3" [ $? -eq 3 ]
"$alidade" review --from "$night/a01.jpg" >/dev/null 2>"$work/err"
expect "a picture is no file of lines: 3" [ $? -eq 3 ]
"$alidade" review "$night" --stars 70 >/dev/null 2>"$work/err"
expect "a rule needs two numbers: 2" [ $? -eq 2 ]
"$alidade" review "$night" --csv "$work/none/x.csv" >/dev/null 2>"$work/err"
expect "a table that cannot be written: 4" [ $? -eq 4 ]
"$alidade" review "$night/calibration" >/dev/null 2>"$work/err"
expect "no frame of the sky: 1" [ $? -eq 1 ]

echo "$cases cases, $failures failures"
[ "$failures" -eq 0 ]
