#!/usr/bin/env bash
# `alidade plan` with wrong, odd and extreme settings: each ends with its documented exit code and
# one clear sentence, or with an honest answer.
set -u
cd "$(dirname "$0")/../.." || exit 1
program=$(realpath "${BUILD:-build}/alidade")
export ALIDADE_CATALOGS=$(realpath catalogs)
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder" || exit 1
export XDG_CONFIG_HOME=$folder TZ=UTC
unset ALIDADE_RIG
cases=0 failures=0

expect() { # CODE TEXT ARGUMENT...
    local expected=$1 text=$2 code
    shift 2
    cases=$((cases + 1))
    timeout "${PATIENCE:-60}" "$program" plan "$@" >said 2>&1 </dev/null
    code=$?
    if [ $code -ne "$expected" ] || ! tr -s ' \n' ' ' <said | grep -qF -e "$text"; then
        failures=$((failures + 1))
        echo "FAILED: plan $*: exit code $code, expected $expected and \"$text\""
        sed 's/^/    /' said
    fi
}

usual=(--focal 250 --place 50,10 --date 2026-02-24)
expect 0 'Best: M' "${usual[@]}"
expect 2 'needs a lens' --place 50,10
expect 2 'needs a place' --focal 250
expect 2 'latitude of -90 to 90, not 95' --focal 250 --place 95,10
expect 2 'longitude of -180 to 180, not 200' --focal 250 --place 50,200
expect 3 'rig.ini: cannot be opened' --focal 250 --place Garden
for date in 0000-01-01 20000-01-01 2026-02-30 2026-13-01 26-1-1 now 2026-02-24T20:00 1799-12-31; do
    expect 2 'a date like 2026-02-24' --focal 250 --place 50,10 --date $date
done
expect 0 'Best' --focal 250 --place 50,10 --date 1800-01-01
expect 0 'Best' --focal 250 --place 50,10 --date 2200-12-30
for offset in 15:00 -15 -14:01 1:99 +1:5 001:00 5.5 x -- +-1 1:2:3; do
    expect 2 "--zone: \"$offset\" is no time zone" "${usual[@]}" "--zone=$offset"
done
expect 2 'did you mean Europe/Berlin?' "${usual[@]}" --zone Berlin
expect 0 'clock at CEST (UTC+02:00)' --focal 250 --place 50,10 --date 2026-08-12 --zone Europe/Berlin
expect 0 'clock at UTC+01:00' --focal 250 --place 50,10 --date 2026-08-12 --zone +01:00
expect 0 'clocks go back at 03:00, times' --focal 250 --place 50,10 --date 2026-10-24 \
    --zone Europe/Berlin
expect 0 'clock at UTC-03:30' "${usual[@]}" --zone=-3:30
expect 2 'the Sun is no target: never point' "${usual[@]}" --target Sun
expect 0 'Moon: ' "${usual[@]}" --target 'the moon'
expect 2 'near to it: Orion Nebula' "${usual[@]}" --target 'Orion Nebular x'
expect 1 'NGC 5139 (Omega Centauri): it never rises here: 8° below' "${usual[@]}" --target 'ω Cen'
expect 1 'it never gets above 35° here' "${usual[@]}" --target 'M 42' --above 40
expect 1 'not above 30° while it is dark' --focal 250 --place 50,10 --date 2026-06-05 --target 'M 42'
expect 0 'too large for this lens' --focal 250 --place -30,10 --date 2026-01-05 --target LMC
expect 1 'Nothing to shoot: it does not get dark' --focal 250 --place 69.6,19 --date 2026-06-21
expect 1 'it does not get dark' --focal 250 --place 69.6,19 --date 2026-06-21 --target 'M 31'
expect 0 'all day, 24.0 h with the Sun below -18' --focal 250 --place 90,0 --date 2026-12-21
expect 0 'Sun below -18' --focal 250 --place -90,0 --date 2026-06-21
expect 1 'no night: the Sun does not set' --focal 250 --place -90,0 --date 2026-12-21
expect 0 'clock at UTC+12:00' --focal 250 --place -17.8,178 --date 2026-07-01
expect 0 'night 1 July 2026' --focal 250 --place -17.8,178 --date 2026-07-01 --zone +12:00
expect 0 'night 1 July 2026' --focal 250 --place -21,-175.2 --date 2026-07-01 --zone +13:00
expect 0 'find it' "${usual[@]}" --target 83.8,-5.4
expect 0 'find it' "${usual[@]}" --target Polaris
expect 2 'a focal length like 250, or 70-300 of a zoom, not "0"' "${usual[@]}" --focal 0
expect 2 'a size in mm like 36x24' "${usual[@]}" --sensor 36
expect 0 '36 x 24 mm' "${usual[@]}" --sensor 24x36
expect 0 '7200 x 0.5 s = 1 h of light' "${usual[@]}" --target M42 --exposure 0.5
expect 0 'stars trail 2.9 px' "${usual[@]}" --target M42 --trail 3
expect 0 '"targets": [' "${usual[@]}" --json --most 1
expect 0 'Best' --focal 1 --place 50,10 --date 2026-02-24
expect 0 'Best' --focal 20000 --sensor 1x1 --place 50,10 --date 2026-02-24
expect 3 'constellations.tsv: cannot be opened' "${usual[@]}" --catalogs "$folder"
expect 2 'a name that ends with .pdf or .png' "${usual[@]}" --target M42 --card card.gif
expect 2 '--card needs --target' "${usual[@]}" --card card.pdf
expect 2 '--red needs --card' "${usual[@]}" --target M42 --red
expect 4 'absent/card.pdf: cannot be written' "${usual[@]}" --target M42 --card absent/card.pdf
expect 1 'never rises here' "${usual[@]}" --target 'ω Cen' --card never.pdf
[ ! -e never.pdf ] || { echo "FAILED: a card of what never rises"; failures=$((failures + 1)); }
for card in one.pdf two.pdf one.png two.png; do
    expect 0 'find it' "${usual[@]}" --target M42 --card $card
done
cmp -s one.pdf two.pdf && cmp -s one.png two.png ||
    { echo "FAILED: two cards of one plan differ"; failures=$((failures + 1)); }
expect 0 'find it' "${usual[@]}" --target M42 --card red.png --red
cat >site.ini <<'INI'
[lens Long]
focal = 70-300
[place Garden]
latitude = 50.1
longitude = 10.2
utc offset = +01:00
bortle = 6
INI
expect 0 'Garden (50.10° N, 10.20° E), clock at UTC+01:00' --rig site.ini --date 2026-02-24
expect 0 '300 mm' --rig site.ini --date 2026-02-24
expect 0 '135 mm' --rig site.ini --date 2026-02-24 --focal 135
expect 2 'no place named "Yard"; there is Garden' --rig site.ini --place Yard

echo "$cases plans, $failures wrong"
[ $failures -eq 0 ]
