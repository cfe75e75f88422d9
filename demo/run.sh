#!/usr/bin/env bash
# One night at the tripod, from the first test frame to the annotated stack. The photographs are
# rendered from the star catalogue; all that is said about them comes from reading their pixels. The
# camera is turned by what `alidade aim` advises and by nothing else. Exits with 1 as soon as an
# answer is not what the night must bring.
# usage: demo/run.sh BUILD_DIR
set -u
here=$(cd "$(dirname "$0")" && pwd) || exit 1
build=$(cd "${1:?usage: demo/run.sh BUILD_DIR}" && pwd) || exit 1
PATH=$build:$PATH
export ALIDADE_CATALOGS=$here/../catalogs XDG_CONFIG_HOME=$here/out
rm -rf "$here/out"
mkdir -p "$here/out/truth" && cd "$here/out" || exit 1

fail() {
    printf 'demo: %s\n' "$*" >&2
    exit 1
}

say() { # LINE...
    printf '\n'
    printf '%s\n' "$@"
}

show_command() { # ARGUMENT...
    local word line='$'
    for word in "$@"; do
        [[ $word =~ ^[A-Za-z0-9_./=+,-]+$|^\>$ ]] || word=\"$word\"
        line+=" $word"
    done
    printf '\n%s\n' "$line"
}

# Runs a command as shown; its exit code must be the expected one.
run() { # CODE COMMAND...
    local expected=$1 code
    shift
    show_command "$@"
    "$@" 2>&1
    code=$?
    [ "$code" -eq 0 ] || printf '(exit code %d)\n' "$code"
    [ "$code" -eq "$expected" ] || fail "exit code $code of $1 $2, expected $expected"
}

# The same with the output in a file.
run_into() { # FILE COMMAND...
    local file=$1
    shift
    show_command "$@" ">" "$file"
    "$@" >"$file" || fail "exit code $? of $1 $2"
}

# Renders a picture. How, and where it really points, is told in the folder truth, which nothing
# reads before the end.
render() { # FILE OPTION...
    local file=$1
    shift
    {
        echo "render $* --out $file"
        "$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" "$@" \
            --wcs "truth/$file.fits" --out "$file"
    } >>truth/renders.txt || fail "$file could not be rendered"
}

value() { # KEY: the first number behind the key in the JSON on stdin
    sed -nE "s/.*\"$1\": (-?[0-9.]+).*/\1/p" | head -n 1
}

frame_line() { # FILE FRAME: the JSON of that frame
    grep -F "\"frame\": \"$2\"" "$1"
}

# The numbers come as NAME=VALUE and are awk's variables; so is the condition that must hold.
check() { # COMPLAINT CONDITION NAME=VALUE...
    local complaint=$1 condition=$2
    shift 2
    awk "${@/#/-v}" "BEGIN { exit !($condition) }" </dev/null || fail "$complaint: $*"
}

# A garden at 50 N, 10 E; half a Moon; a 250 mm lens at f/4 on a crop sensor; 2 s.
garden=(--latitude 50 --longitude 10 --zone 60)
camera=(--focal 250 --aperture 4 --pixel 3.7 --size 6000x4000 --exposure 2 --moon 0.25)
nebulae=(--objects "$ALIDADE_CATALOGS/objects.tsv")
azimuth=199 altitude=30 roll=0

photograph() { # FILE SEED TIME OPTION...: with the tripod as it stands
    local file=$1 seed=$2 time=$3
    shift 3
    render "$file" "${garden[@]}" "${camera[@]}" "${nebulae[@]}" --start "2026-02-24T$time" \
        --azimuth "$azimuth" --altitude "$altitude" --roll "$roll" --seed "$seed" "$@"
}

# Turns the head, whose base is level: a pan is a change of azimuth, a tilt one of altitude.
turn_head() { # PAN TILT, to the right and up, degrees
    read -r azimuth altitude < <(awk -v az="$azimuth" -v alt="$altitude" -v pan="$1" -v tilt="$2" \
        'BEGIN { printf "%.5f %.5f\n", (az + pan + 360) % 360, alt + tilt }')
}

within() { # KEY: what is in the braces behind that key in the JSON on stdin
    sed -nE "s/.*\"$1\": [{]([^}]*).*/\1/p" | head -n 1
}

mkdir alidade
cat >alidade/rig.ini <<'INI'
[place Garden]
latitude = 50 N
longitude = 10 E
zone = Europe/Berlin
INI

say "A night in a suburban garden, the Moon half lit. A 250 mm lens on a crop-sensor camera and a" \
    "plain tripod; exposures of 2 seconds. The Orion Nebula is wanted, and moonlight hides it." \
    "The settings file knows the garden, so that aim can speak of pan and tilt." \
    "(The commands run in demo/out, with the build folder on the PATH.)"

cat >garden.ini <<'INI'
[body Otter]
pixels = 6000x4000
pixel = 3.7
read noise = 5

[lens Long]
focal = 250
aperture = 4

[place Garden]
latitude = 50
longitude = 10
zone = Europe/Berlin
bortle = 6
INI
say "15:00:00  In the afternoon: what is the coming night good for, with what is in garden.ini?"
run 0 alidade plan --rig garden.ini --date 2026-02-24 --most 3
run 0 alidade plan --rig garden.ini --date 2026-02-24 --target "Orion Nebula" --card card.pdf \
    --save night-plan.json
alidade plan --rig garden.ini --date 2026-02-24 --target "Orion Nebula" --card card.png --json \
    >plan.json && alidade plan --rig garden.ini --date 2026-02-24 --target "Orion Nebula" \
    --card card-red.png --red >/dev/null || fail "no card"
check "the plan does not lead to the night's frames" "f == 1800 && b > 80 && b < 120 && h > 30" \
    f="$(value frames <plan.json)" b="$(value recentre_frames <plan.json)" \
    h="$(value altitude_deg <plan.json)"

say "20:30:00  A test frame, aimed by eye at what should be the place. What to shoot, and how, is in" \
    "night-plan.json beside it."
photograph test.dng 1 19:30:00
run 0 alidade solve test.dng --verbose
run 1 alidade aim test.dng --centre --require
run_into aim-1.json alidade aim test.dng --centre --json

say "20:30:20  The head has been panned and tilted by just that much; the next frame."
turn_head "$(within move <aim-1.json | value pan_right_deg)" \
    "$(within move <aim-1.json | value tilt_up_deg)"
photograph turned.dng 2 19:30:20
run 0 alidade aim turned.dng --centre --require
run_into aim-2.json alidade aim turned.dng --centre --json
check "the target is not within 2 % of the width of the middle" \
    "x * x + y * y * 4 / 9 < 0.02 * 0.02" \
    x="$(within from_middle <aim-2.json | value right_widths)" \
    y="$(within from_middle <aim-2.json | value up_heights)"

say "20:31:00  A batch begins, a frame every 3 seconds, the tripod untouched. Four of its frames:"
photograph batch-001.dng 101 19:31:00
photograph batch-050.dng 150 19:33:27
photograph batch-100.dng 200 19:35:57
photograph batch-200.dng 300 19:40:57
run_into batch.jsonl alidade solve --json batch-*.dng
first=$(frame_line batch.jsonl batch-001.dng | value ra_deg)
last=$(frame_line batch.jsonl batch-200.dng | value ra_deg)
awk -v a="$first" -v b="$last" 'BEGIN {
    printf "In 597 s the middle of the frame drifts from RA %.4f° to %.4f°: %.3f\" a second.\n",
        a, b, (b - a) * 3600 / 597 }'
check "the sky does not turn by 15.041 arcsec a second" \
    "(b - a) * 3600 / 597 > 15.03 && (b - a) * 3600 / 597 < 15.05" a="$first" b="$last"
run 1 alidade aim batch-*.dng --require

say "20:41:30  After 200 frames it has half left the picture. The next batch is that of the" \
    "plan, its first frame 33 seconds after frame 200, with the target centred on average."
run 0 alidade aim batch-200.dng --settle 33 --cadence 3
run_into aim-3.json alidade aim batch-200.dng --settle 33 --cadence 3 --json
turn_head "$(within lead <aim-3.json | value pan_right_deg)" \
    "$(within lead <aim-3.json | value tilt_up_deg)"
photograph lead-001.dng 401 19:41:30
photograph lead-050.dng 450 19:43:57
photograph lead-100.dng 500 19:46:27
run 0 alidade aim lead-*.dng --require
run_into lead.jsonl alidade aim lead-*.dng --json
check "the second batch is not centred" \
    "m * m < 0.01 * 0.01 && (a + b) ^ 2 < 0.02 * 0.02 && a < -0.1 && b > 0.1" \
    a="$(frame_line lead.jsonl lead-001.dng | within from_middle | value right_widths)" \
    m="$(frame_line lead.jsonl lead-050.dng | within from_middle | value right_widths)" \
    b="$(frame_line lead.jsonl lead-100.dng | within from_middle | value right_widths)"
run 0 alidade annotate lead-050.dng --output lead-050-annotated.png

say "20:50:00  An old 6-megapixel camera with a 35 mm lens, over the roofs."
render wide.jpg "${garden[@]}" "${nebulae[@]}" --focal 35 --aperture 2.8 --pixel 7.4 \
    --size 3000x2000 --exposure 8 --start 2026-02-24T19:50:00 --azimuth 203 --altitude 32 \
    --foreground 0.12 --seed 3
run 0 alidade annotate wide.jpg --output wide-annotated.png

say "21:10:00  Clouds; then the cap is on. Neither picture is talked into an answer."
photograph cloud.dng 4 20:10:00 --cloud 12 --sky 16.5
photograph cap.dng 5 20:15:00 --cap
run 1 alidade solve cloud.dng cap.dng

say "The next day: the second batch is stacked on its frame 50, with darks and flats, and" \
    "exported at half the size without a word about lens or time."
run_into middle.json alidade solve --json lead-050.dng
render stack.png "${nebulae[@]}" --focal 250 --aperture 4 --pixel 7.4 --size 3000x2000 \
    --exposure 2 --ra "$(value ra_deg <middle.json)" --dec "$(value dec_deg <middle.json)" \
    --up "$(value up_angle_deg <middle.json)" --stacked 100 --clean --bare --seed 6
run 0 alidade solve stack.png --verbose --header stack-wcs.fits
run 0 alidade annotate stack.png --output stack-annotated.png

# The middle of a true WCS is its reference point, since the renderer's lens is centred.
true_place() { # FRAME: RA and Dec in degrees
    fold -w 80 "truth/$1.fits" | awk '/^CRVAL1 /{ ra = $3 } /^CRVAL2 /{ print ra, $3; exit }'
}

say "Another night, in 300 small frames: three batches, a cloud, a satellite, a knock against the" \
    "tripod, a few dark frames, a focus that drifts. All of it arrives in a folder that is watched."
show_command alidade watch frames --target "Orion Nebula" --batch 100 --place 50,10 --zone +01:00 \
    --once
bash "$here/night.sh" "$build" "$here/out/night" || fail "the watched night"

say "The morning after: which of its frames are worth stacking? All is in the watcher's log already."
run 0 alidade review night/frames --target "Orion Nebula" --html night.html --list keep.txt \
    --csv night.csv
check "the review does not keep what is good and drop the cloud" \
    "kept > 200 && kept < 290 && cloudy >= 8 && crossed == 1" kept="$(wc -l <keep.txt)" \
    cloudy="$(grep -cE 'night-04[0-9].jpg,(drop|doubtful)' night.csv)" \
    crossed="$(grep -c ',1.$' night.csv)"

say "Were the answers right? All solved frames, held against where the pictures really point:"
run_into rest.jsonl alidade solve --json test.dng turned.dng lead-001.dng lead-100.dng wide.jpg \
    stack.png
cat batch.jsonl middle.json rest.jsonl >night.jsonl
while read -r line; do
    frame=$(sed -nE 's/.*"frame": "([^"]*)".*/\1/p' <<<"$line")
    echo "$frame $(value ra_deg <<<"$line") $(value dec_deg <<<"$line")" \
        "$(value scale_arcsec_px <<<"$line") $(true_place "$frame")"
done <night.jsonl >compared.txt
worst=$(awk '
    NF != 6 { print "x"; exit }
    {
        dec = ($3 - $6) * 3600 / $4
        ra = ($2 - $5) * 3600 / $4 * cos($6 * atan2(0, -1) / 180)
        off = sqrt(ra * ra + dec * dec)
        if (off > worst) worst = off
    }
    END { printf "%.3f", worst }' compared.txt)
check "an answer is off" 'px != "x" && frames == 11 && px < 0.5' px="$worst" \
    frames="$(wc -l <compared.txt)"
echo "$(wc -l <compared.txt) frames; the middle of the worst is off by $worst px."

cat >README.txt <<'TEXT'
The pictures of one night, rendered, and what alidade made of them; `make demo` printed the story.

garden.ini, plan.json  what the photographer has; the plan of the night
night-plan.json        what was decided, for aim
card.pdf, card.png     the field card; card-red.png for a screen in the dark
test.dng               the first test frame, which misses the target
turned.dng             after turning the camera as advised
batch-*.dng            frames 1, 50, 100 and 200 of the first batch: the sky drifts through
lead-*.dng             frames 1, 50 and 100 of the second batch, aimed ahead
wide.jpg               35 mm, over the roofs
cloud.dng, cap.dng     no stars, no solution
night/                 a night of 300 small frames and the watcher's log; night.html its report,
                       keep.txt the frames worth stacking, night.csv a row a frame
stack.png              a stack of the second batch

*-annotated.png        with objects and stars marked; in a single exposure of 2 s no nebula shows
stack-wcs.fits         the solution of the stack as a FITS header
*.json, *.jsonl        answers as JSON, one line a frame; night.jsonl holds all solved frames
compared.txt           frame, RA and Dec found, arcseconds a pixel, RA and Dec true
truth/                 how each picture was rendered, and its true WCS
TEXT
say "Pictures and answers are in demo/out; README.txt there says what is what."
