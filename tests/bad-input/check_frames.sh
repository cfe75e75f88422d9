#!/usr/bin/env bash
# Bad frames, indexes, targets, options and outputs for alidade: each ends with its documented exit code,
# one sentence on stderr that names the file or option, and nothing half-written.
set -u
. "$(dirname "$0")/scratch_folder.sh"
mkdir out

fail() {
    failures=$((failures + 1))
    echo "FAILED: $1"
    sed 's/^/    /' said
}

# expect CODE TEXT ARGUMENT...: the exit code, and a piece of what is said, on stderr or, for an honest
# no, on stdout.
expect() {
    local code=$1 text=$2 got
    shift 2
    cases=$((cases + 1))
    timeout "$patience" "$program" "$@" >answer 2>said
    got=$?
    [ $got -eq "$code" ] || fail "$*: exit code $got, expected $code"
    grep -qF -e "$text" said answer || fail "$*: does not say \"$text\""
    [ "$code" -lt 2 ] || [ "$(grep -c '^alidade' said)" -eq 1 ] ||
        fail "$*: not one sentence on stderr"
    [ -z "$(ls -A out)" ] || fail "$*: left $(ls -A out) behind"
}

grey() { # NAME WIDTH HEIGHT BYTE
    { printf 'P5\n%d %d\n255\n' "$2" "$3"; head -c $(($2 * $3)) /dev/zero | tr '\0' "$4"; } >g.pgm
    /usr/bin/python3 - "$1" <<'PY'
import struct, sys, zlib
data = open('g.pgm', 'rb').read()
_, size, _, pixels = data.split(b'\n', 3)
width, height = map(int, size.split())
rows = b''.join(b'\0' + pixels[i * width:(i + 1) * width] for i in range(height))
def chunk(name, body):
    return struct.pack('>I', len(body)) + name + body + struct.pack('>I', zlib.crc32(name + body))
open(sys.argv[1], 'wb').write(b'\x89PNG\r\n\x1a\n' + chunk(b'IHDR', struct.pack('>IIBBBBB', width,
    height, 8, 0, 0, 0, 0)) + chunk(b'IDAT', zlib.compress(rows)) + chunk(b'IEND', b''))
PY
}

"$render" --stars "$stars" --ra 83.8 --dec -3 --up 20 --focal 100 --pixel 8 --size 1500x1000 \
    --exposure 2 --out good.jpg >/dev/null || { echo "no frame to try on"; exit 1; }
"$render" --stars "$stars" --ra 83.8 --dec -3 --up 20 --focal 100 --pixel 8 --size 1500x1000 \
    --exposure 2 --out good.fits >/dev/null || { echo "no frame to try on"; exit 1; }

# Frames
: >empty.jpg
mkdir folder.png
head -c 20000 good.jpg >cut.jpg
cp good.fits wrong-name.jpg
echo "only words" >words.png
head -c 3000 good.fits >cut.fits
grey black.png 800 600 '\000'
grey white.png 800 600 '\377'
grey one.png 1 1 '\200'
/usr/bin/python3 - <<'PY'
def card(text):
    return text.ljust(80).encode()
import struct
head = b''.join(card(c) for c in ['SIMPLE  =                    T', 'BITPIX  =                  -32',
    'NAXIS   =                    2', 'NAXIS1  =                  200', 'NAXIS2  =                  100',
    'END']).ljust(2880)
body = struct.pack('>f', float('nan')) * 20000
open('nan.fits', 'wb').write(head + body + b'\0' * (-len(body) % 2880))
PY
expect 0 'fine.png' annotate good.jpg --output fine.png
rm -f fine.png
expect 3 'empty.jpg' solve empty.jpg
expect 3 'missing.jpg' solve missing.jpg
expect 3 'folder.png' solve folder.png
expect 3 'cut.jpg' solve cut.jpg
expect 3 'cut.fits' solve cut.fits
expect 3 'words.png' solve words.png
expect 0 'wrong-name.jpg' solve wrong-name.jpg
expect 1 'black.png: no solution' solve black.png
expect 1 'white.png: no solution' solve white.png
expect 1 'one.png: no solution' solve one.png
expect 1 'nan.fits: no solution' solve nan.fits
expect 3 'good.jpg' solve empty.jpg good.jpg
expect 3 '"solved": true' solve --json empty.jpg good.jpg

# Indexes
head -c 5000000 "$index" >cut.alidx
{ head -c 12 "$index"; printf '\011'; tail -c +14 "$index"; } >version.alidx
{ head -c 8 "$index"; printf '\001\002\003\004'; tail -c +13 "$index"; } >order.alidx
expect 3 'none.alidx' solve --index none.alidx good.jpg
expect 3 'cut short' solve --index cut.alidx good.jpg
expect 3 'version 9' solve --index version.alidx good.jpg
expect 3 'byte order' solve --index order.alidx good.jpg
expect 3 'not an index' solve --index good.jpg good.jpg

# Targets and options
expect 2 'NGC 99999' aim --target 'NGC 99999' good.jpg
expect 2 'Andromeda Galaxy' aim --target 'andromda galaxy' good.jpg
expect 2 'target' aim good.jpg
expect 1 'not in the frame' aim --require --target 'M 31' good.jpg
expect 2 'sparkle' solve --sparkle good.jpg
expect 2 'scale' solve --scale -3 good.jpg
expect 2 'near' solve --near 12 good.jpg
expect 2 'focal' solve --focal long good.jpg
expect 2 '' solve
expect 2 'fly' fly good.jpg

# Outputs
expect 4 'nowhere' annotate good.jpg --output nowhere/a.png
expect 1 'no solution' annotate black.png --output out/black.png
expect 2 'a.bmp' annotate good.jpg --output out/a.bmp
expect 4 'nowhere' solve --header nowhere/a.fits good.jpg
cases=$((cases + 1))
"$program" solve good.jpg >/dev/full 2>said
[ $? -eq 4 ] || fail "a full disk behind stdout: not exit code 4"

echo "$cases cases, $failures failures"
[ $failures -eq 0 ]
