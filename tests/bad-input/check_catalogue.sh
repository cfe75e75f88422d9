#!/bin/sh
# Bad catalogues, command lines and outputs for alidade-index: each must end with the right exit code
# and a sentence that says what is wrong, in seconds, and leave no file behind.
#
# BUILD names the build folder (build by default).

set -u
cd "$(dirname "$0")/../.." || exit 1
program=$(realpath "${BUILD:-build}/alidade-index")
whole=$(realpath catalogs/stars.tsv)
good=good.tsv
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder" || exit 1
mkdir out
head -10000 "$whole" >good.tsv
cases=0
failures=0

fail() {
    failures=$((failures + 1))
    echo "FAILED: $1"
    sed 's/^/    /' said
}

# expect CODE TEXT ARGUMENTS...: the exit code, and a piece of what is said on stderr.
expect() {
    code=$1 text=$2
    shift 2
    cases=$((cases + 1))
    timeout 60 "$program" "$@" >answer 2>said
    got=$?
    [ $got -eq "$code" ] || fail "$*: exit code $got, expected $code"
    [ -z "$text" ] || grep -qF -e "$text" said || fail "$*: does not say \"$text\""
    [ "$(grep -c 'alidade-index' said)" -le 2 ] || fail "$*: says more than it should"
    if [ "$code" -ne 0 ]; then
        [ -z "$(ls -A out)" ] || fail "$*: left $(ls -A out) behind"
        [ ! -s answer ] || fail "$*: answered on stdout"
    fi
    rm -rf out/*
}

build() {
    code=$1 text=$2
    shift 2
    expect "$code" "$text" build "$@" -o out/new.alidx
}

# table NAME ROWS BAD: a good table of that many rows with BAD put in as line 6.
table() {
    awk -v rows="$2" -v bad="$3" 'BEGIN {
        print "id,ra,dec,vmag"
        for (i = 1; i <= rows; i++) {
            if (i == 5) print bad
            else printf "%d,%.4f,%.4f,%.2f\n", i, i * 137.5 % 360, 90 - i * 180 / (rows + 1), i % 90 / 10
        }
    }' >"$1"
}

# Rows. One bad row in a thousand is told and left out.
for row in '5,400,0,1:right ascension 400 is outside 0..360' \
    '5,0,95,1:declination 95 is outside -90..90' \
    '5,0,0,:no magnitude' \
    '5,NaN,0,1:no right ascension' \
    '5,0,0,bright:magnitude "bright" is not a number' \
    '5,0:expected 4 cells, found 2' \
    '5,0,0,1,2,3:expected 4 cells, found 6'; do
    table some.csv 1000 "${row%%:*}"
    build 0 "line 6: ${row#*:}" some.csv
done
table some.csv 1000 "$(printf '5,\001\002,0,1')"
build 0 'line 6: binary data' some.csv
printf '5,0,0' | tr -d '\n' >tail.txt
table some.csv 1000 '5,0,0,1' && cat tail.txt >>some.csv
build 0 'line 1002: expected 4 cells, found 3' some.csv

# Above one in a hundred it stops, unless told to go on.
table some.csv 50 '5,0,95,1'
build 3 'some.csv: 2.0 % of the rows are bad, expected at most 1 %; --accept-bad-rows' some.csv
build 0 '1 of 50 rows are bad' some.csv --accept-bad-rows
table some.csv 100 '5,0,95,1'
build 0 '1 of 100 rows are bad' some.csv
sed 's/,0\.[0-9]*$/,/' "$good" | awk -F'\t' 'NR > 100 && NR % 3 == 0 { $3 = 99 } { OFS = "\t"; print }' >third.tsv
build 3 'and 32' third.tsv

# Files.
printf 'ra,dec,mag\n' >header.csv
build 3 'header.csv: the table has no rows' header.csv
: >empty.csv
build 3 'empty.csv: the file is empty' empty.csv
build 3 'missing.csv: cannot be opened' missing.csv
build 3 'is a folder' out
mkfifo pipe
build 3 'pipe: is not a plain file' pipe
printf '1,2,3\n4,5,6\n' >bare.csv
build 3 'bare.csv: line 1: expected the names of the columns, found numbers' bare.csv
printf 'x,y,z\n4,5,6\n' >names.csv
build 3 'no column looks like the right ascension ("ra_deg" would); name it with --ra; there are: x, y, z' names.csv
build 3 'no column "w"; there are: x, y, z' names.csv --ra w
head -c 100000 /dev/urandom >noise.csv
build 3 'noise.csv: ' noise.csv
tail -c 100000 "$program" >program.csv
build 3 'program.csv: ' program.csv
head -c 300000 /dev/zero >zeros.csv
build 3 'zeros.csv: line 1: expected a text table with a header row, found binary data' zeros.csv
gzip -c "$good" >good.gz
build 3 'good.gz: is compressed; unpack it first' good.gz
printf '\376\377\0r\0a' >wide.csv
build 3 'wide.csv: ' wide.csv
printf '<?xml version="1.0"?>\n<VOTABLE/>\n' >votable.xml
build 3 'votable.xml: is XML' votable.xml
printf 'SIMPLE  =                    T' >short.fits
build 3 'short.fits: ' short.fits
{ printf 'SIMPLE  =                    T'; head -c 8000 /dev/zero; } >zeros.fits
build 3 'zeros.fits: header 1' zeros.fits
for name in '~nobody.fits' ' lead.fits' 'a.fits[1]' '!a.fits'; do
    {
        printf '%-80s' 'SIMPLE  =                    T' 'BITPIX  =                    8' \
            'NAXIS   =                    0' 'END'
        printf '%2560s' ''
    } >"$name"
    build 3 "$name: the FITS file holds no table" "$name"
done
{ printf 'ra,dec,mag\n1,2,3\n'; head -c 30000000 /dev/zero | tr '\0' ','; printf '\n4,5,6\n'; } >long.csv
build 3 'line 3: expected 3 cells, found at least 256' long.csv
printf 'ra,dec,mag\n1,2,3\n4,5,6\n7,8,9\n' >three.csv
build 3 '3 usable stars are too few' three.csv
build 3 'all 3 stars are beyond the magnitudes wanted' three.csv --faintest 1
build 3 'cannot be moved to another epoch' "$good" --epoch 2024
build 3 'says that it is in deg, so --ra-hours is wrong' "$good" --ra-hours

# What is odd but good.
awk 'BEGIN { printf "\357\273\277\"ra\" ; \"dec\" ; \"mag\"\r\n"
    for (i = 1; i < 500; i++) printf "\"%.3f\"; %.3f ;%.1f\r\n", i * 7.77 % 360, i % 180 - 90, i / 100
    printf "1;2;3" }' >odd.csv
build 0 '' odd.csv
awk 'BEGIN { print "ra,dec,mag"
    for (i = 1; i < 2000; i++) printf "%.4f,%.3f,%.1f\n", i * 0.777 % 24, i % 180 - 90, i / 400 }' >hours.csv
build 0 'hours.csv: warning: no right ascension is above 23.95, though the stars spread over the sky: they look like hours, but were taken as degrees; try --ra-hours' hours.csv

# Command lines.
expect 2 'a command is missing'
expect 2 'unknown command biuld; did you mean build?' biuld
expect 2 'CATALOGUE... is missing' build -o out/x
expect 2 '--output FILE is needed' build "$good"
expect 2 'unknown option --faintst; did you mean --faintest?' build "$good" -o out/x --faintst 3
expect 2 '--faintest: expected a number from -30 to 30, not "dim"' build "$good" -o out/x --faintest dim
expect 2 '--neighbours: expected a whole number from 3 to 15, not "2"' build "$good" -o out/x --neighbours 2
expect 2 '--epoch needs a value: YEAR' build "$good" -o out/x --epoch
expect 2 'is one too many' show a b
cp "$good" same.tsv
expect 2 'the index would overwrite its own catalogue' build same.tsv -o ./same.tsv
cmp -s "$good" same.tsv || fail 'the catalogue was overwritten'

# Outputs.
expect 4 'nowhere/x.alidx: cannot be written' build "$good" -o nowhere/x.alidx
expect 4 'out: is a folder' build "$good" -o out
small() {
    (ulimit -f 1000; "$program" build "$good" -o out/new.alidx) >answer 2>said
}
small
[ $? -eq 4 ] || fail 'a file beyond its limit is not exit code 4'
[ -z "$(ls -A out)" ] || fail 'a file beyond its limit left something behind'
"$program" build "$good" -o h.alidx >answer 2>said || fail 'the good catalogue does not build'
grep -q "$(printf '\r')" said && fail 'progress was shown without a terminal'
cp h.alidx out/kept.alidx
(ulimit -f 1000; "$program" build "$good" -o out/kept.alidx) >answer 2>said
cmp -s h.alidx out/kept.alidx || fail 'a failed build touched the index that was there'
rm -rf out/*
if (ulimit -v 100000; "$program" --version) >answer 2>said; then
    (ulimit -v 100000; "$program" build "$whole" -o out/new.alidx) >answer 2>said
    [ $? -eq 3 ] || fail 'out of memory is not exit code 3'
    grep -q 'out of memory' said || fail 'out of memory is not said'
    [ -z "$(ls -A out)" ] || fail 'running out of memory left something behind'
else
    echo 'skipped: running out of memory (a sanitizer needs more address space than the limit)'
fi
if [ -w /dev/full ]; then
    for words in 'show h.alidx' 'show --json h.alidx' 'check h.alidx' '--help' 'build --help'; do
        "$program" $words >/dev/full 2>said
        [ $? -eq 4 ] || fail "$words to a full disk is not exit code 4"
        grep -q 'cannot write the answer' said || fail "$words to a full disk is not told"
    done
fi
{ sleep 0.3; "$program" show h.alidx 2>said; echo $? >code; } | :
[ "$(cat code)" -eq 4 ] || fail 'a closed pipe is not exit code 4'

# Indexes.
head -c 1000000 h.alidx >cut.alidx
for command in show check; do
    expect 3 'cut.alidx: the index says it has' $command cut.alidx
    expect 3 'not an index' $command "$good"
    expect 3 'cannot be opened' $command missing.alidx
    expect 3 'empty.csv: the file is empty' $command empty.csv
done
size=$(wc -c <h.alidx)
for at in 300 5000 200000 400000 1000000 5000000 $((size - 1000)); do
    { head -c $at h.alidx; printf '\125\252\125\252'; tail -c +$((at + 5)) h.alidx; } >spoilt.alidx
    expect 3 'spoilt.alidx: ' check spoilt.alidx
    timeout 60 "$program" show spoilt.alidx >answer 2>said
    [ $? -le 3 ] || fail "show of an index spoilt at $at"
done

echo "$cases cases, $failures failures"
[ $failures -eq 0 ]
