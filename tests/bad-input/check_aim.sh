#!/usr/bin/env bash
# Places, times, targets and movements that `alidade aim` must not take for good: each ends with its
# documented exit code and a sentence that says what is wrong, or goes on without what it cannot use.
set -u
. "$(dirname "$0")/scratch_folder.sh"

complain() {
    failures=$((failures + 1))
    echo "FAILED: $1"
    sed 's/^/    /' said
}

expect() { # CODE TEXT ARGUMENT...
    local expected=$1 text=$2 code
    shift 2
    cases=$((cases + 1))
    timeout "${PATIENCE:-120}" "$program" aim "$@" >said 2>&1 </dev/null
    code=$?
    if [ $code -ne "$expected" ] || ! grep -qF -e "$text" said; then
        complain "$*: exit code $code, expected $expected and \"$text\""
    fi
}

lacks() { # TEXT: that the last answer must not hold
    cases=$((cases + 1))
    if grep -qF -e "$1" said; then
        complain "it says \"$1\""
    fi
}

photograph() { # FILE START AZIMUTH ALTITUDE OPTION...
    local file=$1 start=$2 azimuth=$3 altitude=$4
    shift 4
    "$render" --stars "$ALIDADE_CATALOGS/stars.tsv" --focal 250 --aperture 4 --pixel 29.6 \
        --size 750x500 --exposure 2 --latitude 50 --longitude 10 --start "2026-02-24T$start" \
        --azimuth "$azimuth" --altitude "$altitude" --out "$file" "$@" >/dev/null || exit 1
}

photograph a.jpg 19:30:00 195 33 --zone 60
photograph b.jpg 19:31:00 195 33 --zone 60
photograph bare.jpg 19:30:00 195 33 --bare
photograph back.jpg 19:32:00 195 33 --zone 60 --clock-error -600
photograph panned.jpg 19:33:00 201 33 --zone 60
photograph both.jpg 19:33:00 200 40 --zone 60
photograph nudged.jpg 19:33:00 195.3 33 --zone 60
here=(--place 50,10 --zone +01:00)
orion=(--target "M 42")

# Places.
expect 2 "--place: expected a latitude of -90 to 90, not 95" a.jpg "${orion[@]}" --place 95,10
expect 2 "--place: expected a longitude of -180 to 180, not 200" a.jpg "${orion[@]}" --place 50,200
expect 3 "rig.ini: cannot be opened" a.jpg "${orion[@]}" --place "Moon base"
expect 0 "for pan and tilt give --place" a.jpg "${orion[@]}" --zone +01:00

# Times.
for time in 0000-01-01T00:00:00 20000-01-01T00:00:00 2026-02-30T20:00:00 yesterday; do
    expect 2 "--time: expected a time of 1800 to 2200" a.jpg "${orion[@]}" --time $time
done
expect 2 "--time is of one frame, not of 2" a.jpg b.jpg "${orion[@]}" \
    --time 2026-02-24T20:30:00
for offset in 15:00 -15 -14:01 1:99 +1:5 001:00 5.5 x -- +-1 1:2:3; do
    expect 2 "--zone: \"$offset\" is no time zone" a.jpg "${orion[@]}" "--zone=$offset"
done
expect 2 "did you mean Europe/Berlin?" a.jpg "${orion[@]}" --zone Europe/Berln
TZDIR=/nowhere expect 3 "install the package tzdata" a.jpg "${orion[@]}" --zone Europe/Berlin
expect 0 "the camera's: CET (UTC+01:00)" a.jpg "${orion[@]}" --place 50,10 --zone Europe/Berlin
expect 2 "--clock-error" a.jpg "${orion[@]}" --clock-error soon
expect 2 "--pressure" a.jpg "${orion[@]}" --pressure 2000
expect 0 "give the clock's --zone" a.jpg "${orion[@]}" --place 50,10
expect 0 "for pan and tilt give --time" bare.jpg "${orion[@]}" --place 50,10
lacks "until"
expect 0 "pan" bare.jpg --target Rigel --place 50,10 --time 2026-02-24T20:30:00+01:00
# A clock by which the Sun would be up is not believed; nor is a place.
expect 0 "the Sun would have been at" a.jpg "${orion[@]}" --place 50,10 --zone +10:00
lacks "looks"
expect 0 "the Sun would have been at" a.jpg "${orion[@]}" --place 50,-170 --zone +01:00
# Nor is one by which a level camera would have leaned as it does in an hour.
photograph fast.jpg 19:30:00 195 33 --zone 60 --roll 1 --clock-error 3600
photograph leaning.jpg 19:30:00 195 33 --zone 60 --roll 2
expect 0 "the camera's clock seems an hour ahead (summer time?)" fast.jpg "${orion[@]}" "${here[@]}"
expect 0 '"clock_doubt": {"by": "level", "fast_s": 3600,' fast.jpg "${orion[@]}" "${here[@]}" --json
expect 0 "pan" fast.jpg "${orion[@]}" "${here[@]}" --clock-error 3600
lacks "seems"
expect 0 "pan" leaning.jpg "${orion[@]}" "${here[@]}"
lacks "seems"

# Series: the clock set back in between, and a frame without a time.
expect 0 "it jumped back by 600 s" a.jpg b.jpg back.jpg "${orion[@]}"
expect 0 "2 frames in" a.jpg bare.jpg b.jpg "${orion[@]}"
expect 0 "the tripod was not disturbed" b.jpg a.jpg "${orion[@]}"
expect 0 "the tripod was disturbed before panned.jpg" a.jpg b.jpg panned.jpg "${orion[@]}"
expect 3 "missing.jpg" a.jpg missing.jpg b.jpg "${orion[@]}"

# Targets.
expect 2 "--target is missing" a.jpg
expect 2 "the Sun is no target" a.jpg --target Sun
expect 2 "the Sun is no target" a.jpg --target "the sun" "${here[@]}"
expect 1 "Jupiter moves among the stars" a.jpg --target Jupiter
expect 1 "Saturn moves among the stars" a.jpg --target Saturn
expect 2 "comets are in no table" a.jpg --target "Comet of the Year"
expect 2 "in one word, like 83.8,-5.4" a.jpg --target 83.8 -5.4
expect 0 "never rises at this place" a.jpg --target "10,-70" "${here[@]}"
expect 0 "Vega is 1° below the horizon" a.jpg --target Vega "${here[@]}"
lacks "never rises"

# Where the Sun is then (its place on that day: RA 22h32m, Dec -9d10m; handbook formulas, from
# memory), nothing is advised.
expect 1 "the Sun is there" a.jpg --target "338.0,-9.2" "${here[@]}"
expect 1 "the Sun is there" a.jpg --target "338.0,-9.2"
expect 1 '"sun"' a.jpg --target "338.0,-9.2" --json

# How many frames: what cannot count photons, or does not tell enough, says so.
photograph deep.fits 19:30:00 195 33
for stack in 0 -3 many 1.5; do
    expect 2 "--stack" a.jpg "${orion[@]}" --stack $stack
done
expect 2 "--snr" a.jpg "${orion[@]}" --snr 0
expect 2 "--black" a.jpg "${orion[@]}" --black dark
expect 0 "use the camera's raw file" a.jpg "${orion[@]}" --stack 100
expect 0 "give --black" deep.fits "${orion[@]}" --stack 100
expect 0 "cannot be right: give --black" deep.fits "${orion[@]}" --stack 100 --black 60000
expect 0 "S/N 1 takes" deep.fits "${orion[@]}" --stack 100 --black 2048
expect 0 "stars rather than" deep.fits --target "M 45" --stack 100 --black 2048
expect 0 "name an object" deep.fits --target 83.8,-5.4 --snr 3
expect 0 '"known": false' a.jpg "${orion[@]}" --snr 3 --json

# Skylines.
printf '[place Garden]\nlatitude = 50\nlongitude = 10\nskyline = 180:40 220:40\n' >garden.ini
garden=(--place Garden --rig garden.ini)
expect 0 "behind the skyline" a.jpg "${orion[@]}" "${garden[@]}" --zone +01:00
expect 2 "learning a skyline needs the time in UTC" a.jpg --learn-skyline "${garden[@]}"
expect 2 "learning a skyline needs a place of the settings file" a.jpg --learn-skyline "${here[@]}"
expect 1 "nothing is kept" a.jpg --learn-skyline "${garden[@]}" --zone +01:00
expect 2 "not both" a.jpg b.jpg --learn-skyline --learn-head pan "${garden[@]}" --zone +01:00
printf '[place Garden]\nskyline = 180:95\n' >wrong.ini
expect 3 "wrong.ini: line 2: skyline: expected points like" a.jpg "${orion[@]}" --place Garden \
    --rig wrong.ini

# Heads.
expect 2 "--learn-head: expected pan or tilt" a.jpg b.jpg --learn-head roll
expect 1 "needs two solved frames" a.jpg --learn-head pan "${here[@]}"
expect 2 "needs the place and the time" a.jpg panned.jpg --learn-head pan
expect 2 "needs the place and the time" a.jpg panned.jpg --learn-head pan --place 50,10
expect 1 "turned by only" a.jpg b.jpg --learn-head pan "${here[@]}"
expect 1 "turned by only 0." a.jpg nudged.jpg --learn-head pan "${here[@]}"
expect 1 "something else was moved too" a.jpg both.jpg --learn-head pan "${here[@]}"
expect 0 "kept     in new/folder/rig.ini" a.jpg panned.jpg --learn-head pan "${here[@]}" \
    --rig new/folder/rig.ini
expect 0 "with the axes of tripod" a.jpg --target "M 42" "${here[@]}" --rig new/folder/rig.ini \
    --head tripod
: >empty.ini
expect 0 "kept     in empty.ini" a.jpg panned.jpg --learn-head pan "${here[@]}" --rig empty.ini
expect 3 "missing.ini" a.jpg panned.jpg --learn-head pan --place Garden --zone +00:00 \
    --rig missing.ini
expect 1 "something else was moved too" a.jpg panned.jpg --learn-head tilt "${here[@]}"
expect 3 "rig.ini: cannot be opened" a.jpg "${orion[@]}" --head Ball "${here[@]}"
[ ! -e config ] || complain "a head was kept that was not learned"
expect 0 "kept" a.jpg panned.jpg --learn-head pan "${here[@]}" --head "Old one"
expect 0 "with the axes of Old one" a.jpg "${orion[@]}" "${here[@]}"
expect 2 "Ball" a.jpg "${orion[@]}" --head Ball "${here[@]}"
expect 2 "Moon base" a.jpg "${orion[@]}" --place "Moon base"
expect 0 "of another night" a.jpg "${orion[@]}" --place 50,10 --time 2026-02-26T20:30:00+01:00
XDG_CONFIG_HOME=/dev/null expect 4 "cannot be written" a.jpg panned.jpg --learn-head pan "${here[@]}"

echo "$cases cases, $failures failed"
[ "$failures" -eq 0 ]
