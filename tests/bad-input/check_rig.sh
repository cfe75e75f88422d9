#!/usr/bin/env bash
# Settings files of bodies, lenses and places, as `alidade solve` meets them: good ones make the
# hint, bad ones are named with the line, and none is needed.
set -u
. "$(dirname "$0")/scratch_folder.sh"
mkdir -p config/alidade

expect() { # CODE TEXT ARGUMENT...
    local expected=$1 text=$2 code
    shift 2
    cases=$((cases + 1))
    timeout "${PATIENCE:-120}" "$program" "$@" >said 2>&1 </dev/null
    code=$?
    if [ $code -ne "$expected" ] || ! grep -qF -e "$text" said; then
        failures=$((failures + 1))
        echo "FAILED: $*: exit code $code, expected $expected and \"$text\""
        sed 's/^/    /' said
    fi
}

# Without EXIF, so that a hint can only come from the settings.
for size in 1200x800 600x400 600x600; do
    "$render" --stars "$ALIDADE_CATALOGS/stars.tsv" --ra 83.8 --dec -3 --up 20 --focal 100 \
        --pixel "$([ $size = 1200x800 ] && echo 8 || echo 16)" --size $size --exposure 2 --tracked \
        --bare --out $size.png >/dev/null || { echo "no frame to try on"; exit 1; }
done
expect 0 'hint     none' solve 1200x800.png -v
: >config/alidade/rig.ini
expect 0 'hint     none' solve 1200x800.png -v
cat >config/alidade/rig.ini <<'INI'
[body Otter]
pixels = 1200x800
pixel = 8
[body Heron]
pixels = 6000x4000
pixel = 3.7
[lens Long]
focal = 100
[lens Longer]
focal = 400
[defaults]
body = Otter
lens = Long
INI
expect 0 'hint     scale 16.5"/px within 5 %: focal length 100 mm (settings file), pixel 8 um (settings file)' solve 1200x800.png -v
expect 0 'hint     scale 33"/px within 5 %: focal length 100 mm (settings file), pixel 16 um (settings file, resized)' solve 600x400.png -v
expect 0 'hint     none' solve 600x600.png -v # cut, nobody knows from what
expect 0 'hint     scale 4.125"/px' solve 1200x800.png -v --lens Longer # wrong, and not believed
expect 0 'hint     scale 15"/px within 10 %: focal length 110 mm (as given), pixel 8 um (settings file)' solve 1200x800.png -v --focal 110
expect 0 'hint     scale 76.32"/px' solve 600x400.png -v --body Heron
expect 2 'rig.ini: the settings file has no body named "Crow"; there is Otter, Heron' \
    solve 1200x800.png --body Crow
expect 3 'absent.ini: cannot be opened' solve 1200x800.png --rig absent.ini
expect 3 '.: is a folder' solve 1200x800.png --rig .
printf '[place A]\nlatitude = 95\n' >bad.ini
expect 3 'bad.ini: line 2: latitude: expected a latitude' solve 1200x800.png --rig bad.ini
ALIDADE_RIG=bad.ini expect 3 'bad.ini: line 2' solve 1200x800.png
printf '[defaults]\nindex = none.alidx\n' >deep.ini
expect 3 'deep.ini: [defaults] index: none.alidx: cannot be opened' solve 1200x800.png --rig deep.ini
expect 0 'hint     none' solve 1200x800.png -v --rig deep.ini --index "$ALIDADE_INDEX"
printf '[lens A]\nfocal = 5\n[lens A]\nfocal = 5\n' >config/alidade/rig.ini
expect 3 'rig.ini: line 3: a second lens named "A"' solve 1200x800.png
head -c 3000 /dev/urandom >noise.ini
expect 3 'noise.ini: line ' solve 1200x800.png --rig noise.ini
head -c 3000000 /dev/zero >large.ini
expect 3 'large.ini: is too large' solve 1200x800.png --rig large.ini

echo "$cases command lines with settings files, $failures wrong"
[ $failures -eq 0 ]
