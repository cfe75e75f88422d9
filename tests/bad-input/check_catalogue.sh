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
[ "$(wc -l <said)" -eq 1 ] || fail 'bad rows are refused with more than a sentence'
build 3 'goes on with the others (line 6: declination 95 is outside -90..90)' some.csv
build 0 '1 of 50 rows is bad' some.csv --accept-bad-rows
table some.csv 100 '5,0,95,1'
build 0 '1 of 100 rows is bad' some.csv
sed 's/,0\.[0-9]*$/,/' "$good" | awk -F'\t' 'NR > 100 && NR % 3 == 0 { $3 = 99 } { OFS = "\t"; print }' >third.tsv
build 3 'third.tsv: 33.0 % of the rows are bad' third.tsv
build 0 'and 32' third.tsv --accept-bad-rows

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
build 0 '' good.gz
head -c 20000 good.gz >cut.gz
build 3 'cut.gz: the compressed file is cut short' cut.gz
{ head -c 20000 good.gz; head -c 2000 /dev/zero; tail -c +22001 good.gz; } >damaged.gz
build 3 'damaged.gz: cannot be read (' damaged.gz
printf 'BZh91AY' >packed.bz2
build 3 'packed.bz2: is packed with bzip2; unpack it first' packed.bz2
printf '\376\377\0r\0a' >wide.csv
build 3 'wide.csv: ' wide.csv
printf '<?xml version="1.0"?>\n<VOTABLE/>\n' >votable.xml
build 3 'votable.xml: the VOTable holds no table with rows' votable.xml
printf '<html><body/></html>\n' >page.xml
build 3 'page.xml: is XML, but not the VOTable that is expected: its root is <html>' page.xml

# VOTable. xml BODY: a document with the usual columns and that body in DATA.
xml() {
    printf '<VOTABLE><RESOURCE><TABLE name="t"><FIELD name="ra" datatype="double" unit="%s"/>' "${2:-deg}"
    printf '<FIELD name="dec" datatype="double" unit="deg"/><FIELD name="mag" datatype="float"/>'
    printf '<DATA>%s</DATA></TABLE></RESOURCE></VOTABLE>\n' "$1"
}
rows=$(awk 'BEGIN { for (i = 0; i < 200; i++)
    printf "<TR><TD>%.2f</TD><TD>%.2f</TD><TD>%.1f</TD></TR>", i * 77.7 % 360, i * 3.3 % 80, i % 70 / 10 }')
xml "<TABLEDATA>$rows</TABLEDATA>" >good.vot
build 0 '' good.vot
head -c 5000 good.vot >cut.vot
build 3 'cut.vot: line 1: the document is cut short' cut.vot
sed 's/<TR><TD>77.70/<TR><TR><TD>77.70/' good.vot >nested.vot
build 3 'nested.vot: line 1: the XML is damaged (mismatched tag)' nested.vot
xml "<TABLEDATA>$rows</TABLEDATA>" furlong >unit.vot
build 3 'unit.vot: column ra: unknown unit "furlong" of right ascension' unit.vot
xml "<TABLEDATA>$rows<TR><TD>1</TD></TR></TABLEDATA>" >mixed.vot
build 0 'row 201: expected 3 cells, found 1' mixed.vot
xml '<BINARY><STREAM encoding="base64">QFZAAAAAAAA=</STREAM></BINARY>' >cut2.vot
build 3 'cut2.vot: the rows of table t end within a row' cut2.vot
xml '<BINARY2><STREAM encoding="base64">!!</STREAM></BINARY2>' >base.vot
build 3 'base.vot: the rows hold what is not base64' base.vot
xml '<BINARY2><STREAM href="http://example.org/rows"/></BINARY2>' >away.vot
build 3 'away.vot: the rows of table t lie outside the document, which is not followed' away.vot
printf '<!DOCTYPE VOTABLE [<!ENTITY a "b">]>\n<VOTABLE/>\n' >entity.vot
build 3 'entity.vot: declares entities of its own' entity.vot
{ printf '<VOTABLE a="'; head -c 200000000 /dev/zero | tr '\0' x; } | gzip >long.vot
build 3 'long.vot: line 1: a tag or a comment is longer than 4 MB' long.vot
{ printf '<VOTABLE><RESOURCE><TABLE>'; head -c 17000000 /dev/zero | tr '\0' x | sed 's/x\{17\}/<FIELD name="a"\/>/g'; } >wide.vot
build 3 'wide.vot: expected at most 1024 columns' wide.vot
sed 's/\(<TABLE.*<\/TABLE>\)/\1\1/' good.vot >two.vot
build 3 'two.vot: holds several tables of stars, t and t among them; choose one with --table' two.vot
build 0 '' two.vot --table 2
build 3 'no table "x" with rows among 2' two.vot --table x
build 3 'good.vot: names its columns itself; --columns is for text' good.vot --columns ra,dec,mag
build 3 'is text, which holds one table; --table is for others' "$good" --table x

# Fixed width and its description.
rule='----------------------------------------'
describe() { # ROWS...
    printf 'Byte-by-byte Description of file: stars.dat\n%s\n Bytes Format Units Label Explanations\n%s\n' $rule $rule
    printf '%s\n' "$@"
    printf '%s\n' $rule
}
awk 'BEGIN { for (i = 0; i < 200; i++)
    printf "%8.4f %8.4f %5.2f\n", i * 77.7 % 360, i * 3.3 % 80, i % 70 / 10 }' >stars.dat
describe '1- 8 F8.4 deg RAdeg right ascension' '10- 17 F8.4 deg DEdeg declination' '19- 23 F5.2 mag Vmag magnitude' >good.txt
build 0 '' stars.dat --describe good.txt
cp good.txt ReadMe
build 0 '' stars.dat
rm ReadMe
build 3 'stars.dat: line 1: expected the names of the columns, found numbers; name those' stars.dat
build 0 '' stars.dat --columns ra,dec,mag
build 3 'stars.dat: line 1: expected 4 cells as --columns says, found 3' stars.dat --columns ra,dec,mag,hip
build 3 'stars.dat: column ra: unknown unit "furlong" of right ascension' stars.dat --columns ra:furlong,dec,mag
build 3 'no column looks like the magnitude' stars.dat --columns ra,dec,x
head -c 150 good.txt >cut.txt
build 3 'cut.txt: line 4: expected rows of bytes, format, unit and label' stars.dat --describe cut.txt
describe '1- 8 F8.4 furlong RAdeg x' '10- 17 F8.4 deg DEdeg x' '19- 23 F5.2 mag Vmag x' >unit.txt
build 3 'stars.dat: column RAdeg: unknown unit "furlong" of right ascension' stars.dat --describe unit.txt
describe '1- 8 F8.4 deg RAdeg x' '17- 10 F8.4 deg DEdeg x' >back.txt
build 3 'back.txt: line 6: expected bytes, format, unit and label of a column' stars.dat --describe back.txt
{ describe '1- 8 F8.4 deg RAdeg x'; describe '1- 8 F8.4 deg RAdeg x'; } | sed 's/stars.dat/other.dat/' >two.txt
build 3 'two.txt: describes 2 files, but none of them is stars.dat' stars.dat --describe two.txt
build 3 'expected a line "Byte-by-byte Description of file: ...", found none' stars.dat --describe good.vot
{ describe | head -4; awk 'BEGIN { for (i = 1; i <= 1000000; i++) print i " I1 --- c" i }'; } >wide.txt
build 3 'expected at most 1024 columns, found more' stars.dat --describe wide.txt
{ cat stars.dat; awk 'BEGIN { for (i = 0; i < 9; i++) print "words instead of numbers" }'; } >mixed.dat
build 3 'mixed.dat: 4.3 % of the rows are bad' mixed.dat --describe good.txt

# Many columns, mixed ones, and blanks.
awk 'BEGIN { print "id,ra,dec,mag"; for (i = 0; i < 200; i++) print i (i % 2 ? "," : ";") i ",5," i / 50 }' >parted.csv
build 3 'parted.csv: 50.0 % of the rows are bad' parted.csv
[ "$(wc -l <said)" -eq 1 ] || fail 'mixed columns are refused with more than a sentence'
awk 'BEGIN { for (i = 0; i < 1000000; i++) printf "c%d,", i; print "ra,dec,mag"; print "1,2,3" }' >million.csv
build 3 'million.csv: line 1: expected at most 1024 columns' million.csv
{ echo '# ra dec mag'; cat stars.dat; } >blanks.txt
build 0 '' blanks.txt
{ echo 'ra dec mag'; sed 's/ *$/ 7/' stars.dat; } >blanks.txt
build 3 'blanks.txt: line 1: 3 columns are named, but the row below has 4 cells' blanks.txt
{ echo 'ra,dec,mag:'; sed 's/  */,/g; s/^,//' stars.dat; } >colon.csv
build 0 '' colon.csv
{ echo 'ra,dec,mag'; awk '{ print NR * 7.7 % 360 "," NR % 80 ",5" }' stars.dat; } >equal.csv
build 3 'equal.csv: all stars have magnitude 5, but an index needs to know which are brighter' equal.csv
printf '<!DOCTYPE VOTABLE SYSTEM "http://example.org/VOTable.dtd">\n' >typed.vot
cat good.vot >>typed.vot
build 0 '' typed.vot
iconv -f UTF-8 -t UTF-16 good.vot >utf16.vot
build 0 '' utf16.vot
printf 'SIMPLE  =                    T' >short.fits
gzip -c short.fits >short.fits.gz
build 3 'short.fits.gz: the FITS file cannot be opened' short.fits.gz
head -c 30 short.fits.gz >cut.fits.gz
build 3 'cut.fits.gz: the compressed file is cut short' cut.fits.gz
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
build 3 'line 3: expected 3 cells, found at least 1025' long.csv
printf 'ra,dec,mag\n1,2,3\n4,5,6\n7,8,9\n' >three.csv
build 3 '3 usable stars are too few' three.csv
build 3 'all 3 stars are beyond the magnitudes wanted' three.csv --faintest 1
printf 'ra,dec,mag\n1,2,3\n1,2.001,4\n1.001,2,5\n1,2.002,6\n1.002,2,7\n' >close.csv
build 3 'no four of the 5 stars make a quad' close.csv
build 3 'cannot be moved to another epoch' "$good" --epoch 2024
build 3 'says that it is in deg, so --ra-hours is wrong' "$good" --ra-hours

# What is odd but good.
awk 'BEGIN { printf "\357\273\277\"ra\" ; \"dec\" ; \"mag\"\r\n"
    for (i = 1; i < 500; i++) printf "\"%.3f\"; %.3f ;%.1f\r\n", i * 7.77 % 360, i % 180 - 90, i / 100
    printf "1;2;3" }' >odd.csv
build 0 '' odd.csv
awk 'BEGIN { print "ra,dec,mag"
    for (i = 1; i < 2000; i++) printf "%.4f,%.3f,%.1f\n", i * 0.777 % 24, i % 180 - 90, i / 400 }' >hours.csv
build 3 'hours.csv: no right ascension is above 23.95, and nothing says whether they are hours or degrees; say it with --ra ra:h or --ra ra:deg' hours.csv
build 0 '' hours.csv --ra ra:h

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
cp good.txt same.txt
expect 2 'would overwrite its description' build stars.dat --describe same.txt -o ./same.txt
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
if (ulimit -v 50000; "$program" --version) >answer 2>said; then
    (ulimit -v 50000; "$program" build "$whole" -o out/new.alidx) >answer 2>said
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
