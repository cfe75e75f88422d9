#!/usr/bin/env bash
# What check_frames.sh leaves: files cut and damaged at many places, things that are no files,
# pictures with nothing or too little in them, one bad frame among good ones, odd names, options at
# and beyond their ends, and every way for an output to fail. No command may crash or hang; each
# ends with its documented exit code, and says one sentence that names the culprit.
set -u
. "$(dirname "$0")/scratch_folder.sh"
mkdir out

fail() {
    failures=$((failures + 1))
    echo "FAILED: $1"
    sed 's/^/    /' said
}

# run ARGUMENT...: leaves the exit code in $code, and answer, said; a crash or a hang is a failure.
run() {
    cases=$((cases + 1))
    timeout "$patience" "$program" "$@" >answer 2>said </dev/null
    code=$?
    [ $code -le 4 ] || fail "$*: ended with $code"
    [ -z "$(ls -A out)" ] || fail "$*: left $(ls -A out) behind"
    [ $code -lt 2 ] || [ "$(grep -c '^alidade' said)" -eq 1 ] || fail "$*: not one sentence"
}

# expect CODES TEXT ARGUMENT...: one of the exit codes (as in "1 3"), and a piece of what is said.
expect() {
    local codes=$1 text=$2
    shift 2
    run "$@"
    case " $codes " in
    *" $code "*) ;;
    *) fail "$*: exit code $code, expected $codes" ;;
    esac
    grep -qF -e "$text" said answer || fail "$*: does not say \"$text\""
}

for format in jpg png fits; do
    "$render" --stars "$stars" --ra 83.8 --dec -3 --up 20 --focal 100 --pixel 16 --size 450x300 \
        --exposure 2 --tracked --out "good.$format" >/dev/null ||
        { echo "no frame to try on"; exit 1; }
done
expect 0 'in Orion' solve good.jpg

# Cut at many lengths: whatever is missing, the file is named.
for format in jpg png fits; do
    size=$(stat -c %s "good.$format")
    for part in 1 7 40 100 300 600 900 990; do
        head -c $((size * part / 1000 + 1)) "good.$format" >"cut.$format"
        expect 3 "cut.$format" solve "cut.$format"
    done
done

# Damaged: 30 bytes changed anywhere, most of them in the part where the shape is told.
for seed in $(seq 1 16); do
    for format in jpg png fits; do
        /usr/bin/python3 - "good.$format" "harm.$format" "$seed" <<'PY'
import random, sys
data, dice = bytearray(open(sys.argv[1], 'rb').read()), random.Random(int(sys.argv[3]))
for _ in range(30):
    data[dice.randrange(len(data) if dice.random() < 0.3 else 3000)] = dice.randrange(256)
open(sys.argv[2], 'wb').write(data)
PY
        run solve --near 10,80 --within 1 --strict "harm.$format"
        [ $code -lt 2 ] || grep -qF "harm.$format" said || fail "harm.$format: not named"
    done
done

# No files, or not to be had.
mkfifo fifo.jpg
expect 3 'fifo.jpg' solve fifo.jpg
expect 3 '/dev/zero' solve /dev/zero
ln -s loop.jpg loop.jpg
expect 3 'loop.jpg' solve loop.jpg
expect 3 'good.jpg/deeper.jpg' solve good.jpg/deeper.jpg
long=$(printf 'x%.0s' $(seq 300)).jpg
expect 3 "${long:0:200}" solve "$long"
expect 3 '' solve ''
if [ "$(id -u)" -ne 0 ]; then
    cp good.jpg locked.jpg
    chmod 000 locked.jpg
    expect 3 'locked.jpg' solve locked.jpg
fi

# Sizes that cannot be.
/usr/bin/python3 - <<'PY'
import struct, zlib
def chunk(name, body):
    return struct.pack('>I', len(body)) + name + body + struct.pack('>I', zlib.crc32(name + body))
def png(name, width, height, rows):
    open(name, 'wb').write(b'\x89PNG\r\n\x1a\n' + chunk(b'IHDR', struct.pack('>IIBBBBB', width,
        height, 8, 0, 0, 0, 0)) + chunk(b'IDAT', zlib.compress(rows)) + chunk(b'IEND', b''))
def grey(name, width, height, value):
    png(name, width, height, b''.join(b'\0' + bytes(value(x, y) for x in range(width))
                                      for y in range(height)))
png('wide.png', 2000000000, 2, b'')
png('large.png', 59999, 59999, b'')
png('nothing.png', 0, 100, b'')
def fits(name, *axes):
    cards = [('SIMPLE', 'T'), ('BITPIX', 16), ('NAXIS', len(axes))]
    cards += [('NAXIS%d' % (i + 1), size) for i, size in enumerate(axes)]
    head = ''.join('%-8s= %20s%50s' % (*card, '') for card in cards) + 'END'
    open(name, 'wb').write(head.ljust(2880).encode() + b'\0' * 2880)
fits('huge.fits', 1000000000, 1000000000)
fits('negative.fits', -10, 10)
fits('empty.fits')
# A street by day: sky, houses, windows.
grey('day.png', 600, 400, lambda x, y: 230 - y // 4 if y < 150 + 60 * (x // 120 % 3) else
     40 + 90 * (12 < x % 40 < 30 and 15 < y % 50 < 40) + (x * 7 + y * 13) % 9)
spots = ((100, 90), (400, 200), (250, 320))
grey('three.png', 600, 400, lambda x, y: min(255, 20 + (x * 31 + y * 17) % 5 + max(
    int(200 * 2.718 ** (-((x - a) ** 2 + (y - b) ** 2) / 4.0)) for a, b in spots)))
PY
for name in wide.png large.png nothing.png huge.fits negative.fits empty.fits; do
    expect 3 "$name" solve "$name"
done

# Nothing to solve.
expect 1 'day.png: no solution' solve day.png
expect 1 'three.png: no solution: only ' solve three.png

# Among good ones: every frame gets its answer, in order, and the worst decides.
echo "only words" >words.png
expect 3 'words.png' solve --threads 2 good.jpg words.png three.png good.png
[ "$(grep -oE '^[a-z]+\.[a-z]+:' answer | tr -d '\n')" = good.jpg:words.png:three.png:good.png: ] ||
    fail "answers of four frames: $(cat answer)"
expect 1 'no solution: only ' solve good.jpg three.png good.png
expect 3 'words.png' solve --json --threads 2 good.jpg words.png three.png good.png
/usr/bin/python3 - <<'PY' || fail "the JSON of four frames"
import json
rows = [json.loads(line) for line in open('answer')]
assert [r['frame'] for r in rows] == ['good.jpg', 'words.png', 'three.png', 'good.png']
assert [r['solved'] for r in rows] == [True, False, False, True]
assert all(('why' in r) != r['solved'] for r in rows)
PY

# Odd names come through JSON whole.
odd=$'a "quoted"\tname\\ \303\251 \n two.jpg'
cp good.jpg "$odd"
expect 0 'solved' solve --json "$odd"
/usr/bin/python3 - "$odd" <<'PY' || fail "the JSON of an odd name"
import json, sys
lines = open('answer').read().splitlines()
assert len(lines) == 1 and json.loads(lines[0])['frame'] == sys.argv[1]
PY
latin=$'caf\351.jpg'
cp good.jpg "$latin"
expect 0 'solved' solve --json "$latin"
/usr/bin/python3 -c 'import json; json.loads(open("answer", encoding="utf-8").read())' ||
    fail "the JSON of a name that is not UTF-8"
cp good.jpg ./-v.jpg
expect 0 'in Orion' solve -- -v.jpg

# Names in which the library for FITS sees a meaning, or a shell: read, copied and written as they are.
for name in '~nobody.fits' '~.fits' ' lead.fits' 'trail.fits ' 'a[1].fits' 'a.fits[1]' 'a.fits+1' \
    '(b).fits' 'a.fits(b.fits)' '!a.fits' '@a.fits' 'a;b.fits' 'http:' 'mem:' 'stdin.fits' \
    'stdin' 'stdout' 'a*?.fits' '%41.fits' 'a.fits.gz' 'a.gz' 'a.fits.Z' 'a,b.fits' "a'b.fits" ./- \
    ./-.fits ./-.gz ftp:/a.fits mem:/a.fits root:/a.fits \
    'file:/a.fits[0]'; do
    case "$name" in [a-z]*:/*) mkdir -p "${name%/*}" ;; esac
    cp good.fits "$name"
    expect 0 'in Orion' solve "$name" --fits "$name.copy"
    cmp -s good.fits "$name" || fail "$name: has changed"
    cp "$name.copy" again.fits
    expect 0 'in Orion' solve again.fits --header "$name.wcs"
    [ -s "$name.wcs" ] || fail "$name.wcs: is missing"
    rm -rf "$name" "$name.copy" "$name.wcs" again.fits ftp: mem: root: file:
done

# Indexes
expect 3 'none.alidx' solve --index none.alidx good.jpg
: >empty.alidx
expect 3 'empty.alidx' solve --index empty.alidx good.jpg
expect 3 'out' solve --index out good.jpg
ALIDADE_INDEX=nowhere.alidx expect 3 'nowhere.alidx' solve good.jpg
cp "$index" harm.alidx
for seed in $(seq 1 5); do
    /usr/bin/python3 - "$seed" <<'PY'
import random, sys
dice = random.Random(int(sys.argv[1]))
with open('harm.alidx', 'r+b') as file:
    size = file.seek(0, 2)
    for _ in range(3000):
        file.seek(dice.randrange(448, size if dice.random() < 0.5 else 3000000))
        file.write(bytes([dice.randrange(256)]))
PY
    expect '0 1' 'good.jpg' solve --index harm.alidx good.jpg
done
expect 3 'nowhere' aim --target 'M 42' --catalogs nowhere good.jpg

# Options at their ends, nonsense in them, and too many or too few.
for option in '--scale 0' '--scale nan' '--scale inf' '--scale 1e999' '--scale 12x' '--scale=' \
    '--tolerance -1' '--tolerance nan' '--threads 0' '--threads -1' '--threads 2.5' \
    '--threads 99999999999999999999' '--within -1' '--within 181' '--near 400,0' '--near 0,91' \
    '--near nan,0' '--near ,' '--focal 0' '--pixel -2'; do
    set -- $option
    expect 2 "${1%=}" solve good.jpg "$@"
done
expect 2 '--scale' solve good.jpg --scale
expect 2 '--json' solve good.jpg --json=yes
expect 2 '-q' solve good.jpg -q
expect 2 'header' solve good.jpg good.png --header out/two.fits
expect 2 'output' annotate good.jpg
expect 2 'good.png' annotate good.jpg good.png --output out/two.png
expect 2 'FRAME' annotate --output out/none.png
for target in '' ' ' ',' '400,95' '83.8' '5h61m,0' "$(printf 'M%.0s' $(seq 1000))"; do
    expect 2 '' aim good.jpg --target "$target"
done
expect 2 '' ''
run
[ $code -eq 2 ] || fail "no command: exit code $code"

# Outputs
cp good.jpg kept.png
expect 4 'is a picture' annotate good.jpg --output kept.png
cmp -s good.jpg kept.png || fail "a picture was replaced by a drawing"
expect 3 'words.png' annotate words.png --output kept.png --replace
cmp -s good.jpg kept.png || fail "an output was touched though its frame was bad"
expect 1 'three.png' annotate three.png --output kept.png --replace
cmp -s good.jpg kept.png || fail "an output was touched though its frame has no solution"
expect 4 'folder.png' annotate good.jpg --output "$(mkdir folder.png && echo folder.png)"
expect 4 '/dev/full' solve good.jpg --header /dev/full
[ -c /dev/full ] || fail "/dev/full was replaced"
if [ "$(id -u)" -ne 0 ]; then
    chmod a-w out
    expect 4 'out/a.png' annotate good.jpg --output out/a.png
    expect 4 'out/a.fits' solve good.jpg --header out/a.fits
    chmod u+w out
fi
for command in 'solve good.jpg' 'solve --json good.jpg words.png' 'aim --target M42 good.jpg' \
    'solve --help' '--help' '--version'; do
    cases=$((cases + 1))
    timeout "$patience" "$program" $command >/dev/full 2>said
    code=$?
    [ $code -eq 4 ] || fail "$command with a full disk behind stdout: exit code $code"
    cases=$((cases + 1))
    timeout "$patience" "$program" $command >&- 2>said
    code=$?
    [ $code -eq 4 ] || fail "$command with stdout closed: exit code $code"
    # Whether the reader goes before or after the only write is a matter of luck.
    cases=$((cases + 1))
    { timeout "$patience" "$program" $command 2>said; echo $? >code; } | :
    case $(cat code) in
    0 | 3 | 4 | 141) ;;
    *) fail "$command into a closed pipe: exit code $(cat code)" ;;
    esac
done

echo "$cases cases, $failures failures"
[ $failures -eq 0 ]
