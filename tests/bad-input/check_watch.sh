#!/usr/bin/env bash
# What can go wrong around `alidade watch`: kills, a second watcher, logs that cannot be written, full
# disks, files that vanish, come in halves, are replaced, have odd names, or are there all at once.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/sample.sh
program=$(realpath "${BUILD:-build}/alidade")
render=$(realpath "${BUILD:-build}/demo/render")
export ALIDADE_CATALOGS=$(realpath catalogs) ALIDADE_INDEX=$(realpath "${BUILD:-build}/hipparcos.alidx")
export XDG_CONFIG_HOME=/dev/null
unset ALIDADE_RIG
folder=$(mktemp -d)
trap 'umount "$folder/disk" 2>/dev/null; rm -rf "$folder"' EXIT
chmod 755 "$folder" && cd "$folder" || exit 1
cases=0 failures=0

check() { # WHAT COMMAND...: it must succeed
    local what=$1
    shift
    cases=$((cases + 1))
    if ! "$@" >said 2>&1; then
        failures=$((failures + 1))
        echo "FAILED: $what"
        sed 's/^/    /' said | tail -n 20
    fi
}

watch() { # FOLDER ARGUMENT...
    timeout "${PATIENCE:-120}" "$program" watch "$1" --target "Orion Nebula" --once "${@:2}" \
        </dev/null
}

refuses() { # CODE TEXT COMMAND...
    local expected=$1 text=$2 code
    shift 2
    "$@" >refused 2>&1
    code=$?
    cat refused
    [ $code -eq "$expected" ] && grep -qF -e "$text" refused
}

# Each frame of the folder is in the log once, and every line is whole.
is_complete() { # FOLDER FRAMES
    /usr/bin/python3 - "$1/alidade-night.jsonl" "$2" <<'PY'
import json, sys
names = [json.loads(line)["frame"] for line in open(sys.argv[1])]
assert len(names) == len(set(names)) == int(sys.argv[2]), (len(names), len(set(names)))
PY
}

mkdir night
"$render" --stars "$ALIDADE_CATALOGS/stars.tsv" --focal 135 --aperture 2.8 --pixel 32 --size 450x300 \
    --exposure 1 --interval 2 --start 2026-02-24T19:30:00 --azimuth 195 --altitude 33 --frames 30 \
    --out night/f-%d.jpg >/dev/null || { echo "no frames to try on"; exit 1; }

# Killed at random moments, then once to the end.
kills=$(sample 16)
RANDOM=20260224
for n in 0 1 2; do cp -r --preserve=timestamps night killed-$n; done
kill_often() {
    local n process
    for n in $(seq "$kills"); do
        "$program" watch killed-$((n % 3)) --target "Orion Nebula" --once >/dev/null 2>&1 &
        process=$!
        sleep 0.$((RANDOM % 50 + 10))
        kill -9 $process 2>/dev/null
        wait $process 2>/dev/null
    done
    for n in 0 1 2; do
        watch killed-$n >/dev/null && is_complete killed-$n 30 || return 1
    done
}
check "$kills kills lose no frame and double none" kill_often

# Where the number of frames matters nothing.
mkdir short
cp --preserve=timestamps night/f-?.jpg short

torn() {
    cp -r --preserve=timestamps short torn && watch torn >/dev/null || return 1
    truncate -s -40 torn/alidade-night.jsonl
    watch torn && is_complete torn 9
}
check "a torn last line is made good" torn

# The index is emptied and written again while it is used, as by `cp`.
index_renewed() {
    local process code
    mkdir renewed
    cp "$ALIDADE_INDEX" renewed.alidx
    "$program" watch renewed --target "Orion Nebula" --index renewed.alidx >renewed.txt 2>&1 &
    process=$!
    cp night/f-?.jpg renewed
    for _ in $(seq 200); do grep -qs '' renewed/alidade-night.jsonl && break; sleep 0.1; done
    : >renewed.alidx
    cp night/f-??.jpg renewed
    sleep 3
    cat "$ALIDADE_INDEX" >renewed.alidx
    for _ in $(seq 300); do
        [ "$(wc -l <renewed/alidade-night.jsonl)" -ge 30 ] && break
        sleep 0.1
    done
    kill -TERM $process
    wait $process
    code=$?
    cat renewed.txt
    [ $code -eq 0 ] && grep -q 'renewed.alidx: the index was written to; it is opened anew' \
        renewed.txt && is_complete renewed 30 &&
        [ "$(grep -c '"solved": true' renewed/alidade-night.jsonl)" -eq 30 ]
}
check "an index that is written anew is opened anew, and no frame is lost" index_renewed

# Cut short for good: exit code 3, a sentence, and no answer that came of it.
index_cut() { # COMMAND...
    local process code
    cp "$ALIDADE_INDEX" cut.alidx
    "$program" "$@" --index cut.alidx >cut.txt 2>&1 &
    process=$!
    sleep 1
    truncate -s 100000 cut.alidx
    wait $process
    code=$?
    tail -n 3 cut.txt
    [ $code -eq 3 ] && grep -q 'cut.alidx: the index was written to while it was in use' cut.txt
}
mkdir several
# Plain copies would be one frame: what follows the end of a picture makes others of them.
for n in $(seq 20); do
    for k in $(seq 9); do (cat night/f-$k.jpg && echo "$n") >several/f-$n-$k.jpg; done
done
check "solve outlives an index that is cut short" index_cut solve several/*.jpg
check "review outlives an index that is cut short" index_cut review several
review_again() {
    "$program" review several >/dev/null && is_complete several 180 &&
        [ "$(grep -c '"solved": true' several/alidade-night.jsonl)" -eq 180 ]
}
check "and keeps no line that came of it" review_again

# Stars show, but nothing fits: such a frame has no fault, and is not known to be good either.
unsolved_light() {
    watch short --near 10,80 --within 1 --strict --log unsolved.jsonl | tee unsolved.txt
    [ "$(grep -c ' unknown .* no solution ' unsolved.txt)" -eq 9 ] &&
        ! grep -q ' good .* no solution ' unsolved.txt
}
check "a frame that shows stars but has no solution is not called good" unsolved_light

second_watcher() {
    local code
    cp -r --preserve=timestamps night two
    "$program" watch two --target "Orion Nebula" >first 2>&1 &
    local process=$!
    for _ in $(seq 100); do grep -q 'the log is' first && break; sleep 0.1; done
    refuses 1 "keeps this log already" watch two
    code=$?
    kill -TERM $process
    wait $process
    [ $? -eq 0 ] && [ $code -eq 0 ]
}
check "a second watcher is refused, the first ends well when told to" second_watcher

check "no folder" refuses 3 "cannot be opened" watch absent
check "a file instead of a folder" refuses 3 "not a folder" watch night/f-1.jpg
check "no target of that name" refuses 2 "Orion Nebulla" "$program" watch night --target "Orion Nebulla"
check "a log in no folder" refuses 4 "the log cannot be written" watch night --log absent/log
echo "my diary" >diary.txt
check "a log that is none" refuses 3 "is no log of a session" watch night --log diary.txt
check "and it is left alone" grep -qx "my diary" diary.txt
check "a log that is a device" refuses 4 "is no plain file" watch night --log /dev/null

full_file() {
    cp -r --preserve=timestamps night full
    (ulimit -f 30 && refuses 4 "the log cannot be written" watch full) || return 1
    grep -q '30 new frames' refused || return 1
    watch full && is_complete full 30
}
check "a log that cannot grow keeps whole lines, and the rest follows later" full_file

# With a disk of its own, where that may be had.
full_disk() {
    refuses 4 "the log cannot be written" watch night --log disk/alidade-night.jsonl || return 1
    grep -q '30 new frames' refused && [ "$(tail -c 1 disk/alidade-night.jsonl | wc -l)" -eq 1 ] &&
        mount -o remount,size=4m disk &&
        watch night --log disk/alidade-night.jsonl && is_complete disk 30
}
mkdir disk
if mount -t tmpfs -o size=40k tmpfs disk 2>/dev/null; then
    check "a full disk keeps whole lines, and the rest follows with more room" full_disk
fi

# Nothing forbids root to write, so root becomes somebody else.
humbly() {
    if [ "$(id -u)" -eq 0 ]; then
        setpriv --reuid=65534 --regid=65534 --clear-groups "$@"
    else
        "$@"
    fi
}
read_only() {
    cp -r --preserve=timestamps short locked
    chmod a-w locked
    refuses 4 "name another file with --log" humbly "$program" watch locked \
        --target "Orion Nebula" --once || return 1
    watch locked --log elsewhere.jsonl && [ "$(wc -l <elsewhere.jsonl)" -eq 9 ] || return 1
    chmod a-w elsewhere.jsonl
    refuses 4 "the log cannot be written" humbly "$program" watch locked \
        --target "Orion Nebula" --once --log elsewhere.jsonl
}
if humbly test -x "$program" 2>/dev/null; then
    check "a folder and a log that may not be written to" read_only
fi

odd_names() {
    mkdir odd
    cp night/f-1.jpg "odd/two words.jpg"
    cp night/f-2.jpg $'odd/new\nline.jpg'
    cp night/f-3.jpg $'odd/latin-\xe9.jpg'
    cp night/f-4.jpg 'odd/<script>.jpg'
    cp night/f-5.jpg odd/.hidden.jpg
    cp night/f-6.jpg odd/f-6.jpg.part
    : >odd/empty.jpg
    head -c 20000 night/f-7.jpg >odd/half.jpg
    touch -d '1 hour ago' odd/*
    watch odd >said_odd || return 1
    cat said_odd
    [ "$(grep -c 'stars  ' said_odd)" -eq 5 ] && is_complete odd 5 && watch odd | grep '^0 new frames'
}
check "odd names, halves and unfinished copies" odd_names

replaced() {
    mkdir replaced
    cp night/f-1.jpg replaced/a.jpg && watch replaced >/dev/null || return 1
    cp night/f-9.jpg replaced/a.jpg && watch replaced | grep '^1 new frame, 1 solved' || return 1
    cp night/f-10.jpg replaced/b.part && mv replaced/b.part replaced/b.jpg
    watch replaced | grep '^1 new frame, 1 solved' || return 1
    cp replaced/b.jpg replaced/c.jpg && mv replaced/a.jpg replaced/d.jpg
    watch replaced | grep '^0 new frames'
}
check "a replaced frame is solved anew; a copy of one, and one that was renamed, are not" replaced

arriving() { # OPTION...
    rm -rf live && mkdir live
    "$program" watch live --target "Orion Nebula" "$@" >live.txt 2>&1 &
    local process=$! n
    for n in 3 1 2; do
        cp night/f-$n.jpg live/f-$n.tmp && mv live/f-$n.tmp live/f-$n.jpg
        head -c 9000 night/f-1$n.jpg >live/g-$n.jpg
        sleep 0.2
        tail -c +9001 night/f-1$n.jpg >>live/g-$n.jpg
    done
    cp night/f-20.jpg live/gone.jpg && rm live/gone.jpg
    for _ in $(seq 150); do
        [ "$(grep -c 'stars  ' live.txt)" -ge 6 ] && break
        sleep 0.1
    done
    kill -TERM $process
    wait $process
    cat live.txt
    grep '^6 new frames, 6 solved' live.txt && is_complete live 6
}
check "frames as they arrive" arriving
check "frames as they arrive, by polling" arriving --poll

# While it reads them, files are cut short, grow, vanish, and give way to others of the same name. In the
# end each has been taken as it is, and as it is for the last.
restless() {
    rm -rf live && mkdir live
    "$program" watch live --target "Orion Nebula" >live.txt 2>&1 &
    local process=$! n place
    for n in $(seq 60); do
        place=live/r-$((RANDOM % 4)).jpg
        case $((RANDOM % 4)) in
        0) cp night/f-$((n % 26 + 5)).jpg "$place" ;;
        1) [ -e "$place" ] && truncate -s 9000 "$place" ;;
        2) rm -f "$place" ;;
        3) cp night/f-$((n % 26 + 5)).jpg live/new.tmp && mv live/new.tmp "$place" ;;
        esac
        sleep 0.0$((RANDOM % 9 + 1))
    done
    for n in 0 1 2 3; do cp night/f-$((n + 1)).jpg live/new.tmp && mv live/new.tmp live/r-$n.jpg; done
    for _ in $(seq 100); do
        [ "$(grep -c 'stars  r-' live.txt)" -ge 4 ] && tail -n 1 live.txt | grep -q good && break
        sleep 0.1
    done
    sleep 1.5
    kill -TERM $process
    wait $process || return 1
    watch live >again.txt
    /usr/bin/python3 - <<'PY'
import json, os
last = {}
for line in open("live/alidade-night.jsonl"):
    frame = json.loads(line)
    last[os.path.basename(frame["frame"])] = frame
for n in range(4):
    frame = last[f"r-{n}.jpg"]
    assert frame["solved"], frame
    assert frame["file"]["bytes"] == os.path.getsize(f"live/r-{n}.jpg"), frame
PY
}
check "files that change under its eyes" restless

in_order() {
    mkdir order
    cp night/f-1.jpg order/f-10.jpg && cp night/f-2.jpg order/f-9.jpg
    touch -d '1 hour ago' order/*
    cp night/f-3.jpg order/f-8.jpg && cp night/f-4.jpg order/f-11.jpg
    watch order | tee said_order
    [ "$(sed -n 's/.*stars  f-\([0-9]*\).jpg/\1/p' said_order | tr '\n' ' ')" = "8 9 10 11 " ]
}
check "once: old and fresh frames in the order of their names" in_order

twins() {
    mkdir twins
    cp night/f-1.jpg twins/a.jpg && : >twins/a.nef
    cp night/f-2.jpg twins/b.jpg && cp night/f-2.jpg twins/b.dng
    touch -d '1 hour ago' twins/*
    watch twins | tee said_twins
    grep -q 'a.jpg' said_twins && ! grep -q 'b.jpg' said_twins && grep -q '^2 new frames' said_twins
}
check "a raw file goes before its JPEG, an empty one does not" twins

# The work must grow as their number does, and not as its square.
many_at_once() { # FRAMES
    rm -rf many && mkdir many
    /usr/bin/python3 - "$1" <<'PY'
import os, sys
for n in range(1, int(sys.argv[1]) + 1):
    with open(f"many/{n}.jpg", "w") as file:
        file.write(f"no picture {n}")
    os.utime(f"many/{n}.jpg", (1e9, 1e9))
PY
    { time watch many --log many-$1.jsonl >/dev/null; } 2>many-$1.txt || return 1
    cat many-$1.txt
    [ "$(wc -l <many-$1.jsonl)" -eq "$1" ]
}
processor_time() { # FILE
    sed -nE 's/^user (.*)/\1/p' "$1"
}
TIMEFORMAT='user %U'
check "2,500 files at once" many_at_once 2500
check "10,000 files at once" many_at_once 10000
check "four times the files, not ten times the work" \
    awk -v a="$(processor_time many-2500.txt)" -v b="$(processor_time many-10000.txt)" \
    'BEGIN { print a, b; exit !(b < 10 * a) }'

backwards() {
    local n clock
    mkdir back
    for n in 1 2 3 4 5 6 7 8; do
        clock=$([ $n -le 4 ] && echo 0 || echo -3600)
        "$render" --stars "$ALIDADE_CATALOGS/stars.tsv" --focal 135 --aperture 2.8 --pixel 32 \
            --size 450x300 --exposure 1 --start 2026-02-24T19:30:$((10 + 2 * n)) --azimuth 195 \
            --altitude 33 --clock-error $clock --seed $n --out back/f-$n.jpg >/dev/null
    done
    watch back | tee said_back
    grep -q "CHECK THE CAMERA'S CLOCK" said_back && grep -q "it jumped by -36[0-9][0-9] s" said_back &&
        ! grep -q "TRIPOD MOVED" said_back
}
check "a clock that is set back is told from a knock" backwards

on_alert() {
    "$program" watch back --target "Polaris" --once --log alert.jsonl \
        --on-alert 'echo "$ALIDADE_ALERT" >>called' >/dev/null
    for _ in $(seq 50); do grep -q recentre called 2>/dev/null && break; sleep 0.1; done
    cat called
    grep -qx recentre called
}
check "the user's command is run" on_alert

# It sees a long name whole, and a broken pipe ends it although whoever started watch ignores those.
on_alert_whole() {
    local long
    long=$(printf 'x%.0s' $(seq 240))
    mkdir -p "long/$long/$long/$long/$long/$long"
    cp back/* "long/$long/$long/$long/$long/$long"
    rm -f called
    (
        trap '' PIPE
        exec "$program" watch "long/$long/$long/$long/$long/$long" --target "Polaris" --once \
            --log long.jsonl --on-alert 'echo "$ALIDADE_FRAME|$ALIDADE_TEXT" >>called
                (yes; echo "pipe $?" >>called) 2>/dev/null | head -n 1; echo end >>called'
    ) >/dev/null 2>&1
    for _ in $(seq 50); do grep -qs end called && break; sleep 0.1; done
    cut -c1-200 called
    grep -q '^[^|]*f-[0-9]*[.]jpg|.*[a-z]' called && grep -qx 'pipe 141' called
}
check "the user's command sees long names, and pipes as usual" on_alert_whole

echo "$cases cases, $failures failures"
[ $failures -eq 0 ]
