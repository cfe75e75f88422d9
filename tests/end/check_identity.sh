#!/usr/bin/env bash
# One frame is one frame: whatever path, folder, time or copy it is met by. What could not be read and
# may be readable later is tried again; what is damaged is not. Trees with folders that cannot be listed.
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$(cd "${BUILD:-build}" && pwd)
alidade=$build/alidade
export ALIDADE_CATALOGS=$PWD/catalogs ALIDADE_INDEX=$build/hipparcos.alidx XDG_CONFIG_HOME=/dev/null
unset ALIDADE_RIG
work=$(mktemp -d) || exit 1
trap 'chmod -R u+rwX "$work"; rm -rf "$work"' EXIT
chmod 755 "$work"
mkdir -m 777 "$work/tables"
cases=0 failures=0

expect() { # WHAT COMMAND...
    local what=$1
    shift
    cases=$((cases + 1))
    "$@" >"$work/expected" 2>&1 || {
        failures=$((failures + 1))
        echo "failed: $what"
        tail -n 5 "$work/expected"
    }
}

humbly() { # root may read all
    if [ "$(id -u)" -eq 0 ]; then
        setpriv --reuid=65534 --regid=65534 --clear-groups "$@"
    else
        "$@"
    fi
}

watch() { # FOLDER ARGUMENT...
    timeout 60 "$alidade" watch "$1" --target "Orion Nebula" --once "${@:2}" </dev/null 2>&1
}

review() { # ARGUMENT...: what it says is in $work/said, on stderr in $work/err
    humbly "$alidade" review "$@" >"$work/said" 2>"$work/err"
}

says() { # TEXT
    cat "$work/said" "$work/err"
    grep -qF -e "$1" "$work/said" "$work/err"
}

keeps() { # FRAMES
    says "Keep $1 of $1 frames"
}

lines() { # LOG NUMBER
    wc -l "$1"
    [ "$(wc -l <"$1")" -eq "$2" ]
}

render() { # START AZIMUTH FRAMES OUT OPTION...
    "$build/demo/render" --latitude 50 --longitude 10 --zone 60 --focal 250 --pixel 24.6 \
        --size 900x600 --exposure 2 --fwhm 2.2 --interval 5 --altitude 31.5 \
        --start "2026-02-24T$1" --azimuth "$2" --frames "$3" --out "$4" "${@:5}" >/dev/null ||
        { echo "nothing rendered"; exit 1; }
}

night() { # NAME: a folder with the nine frames, of the same times, that anybody may write to
    mkdir -p "$work/$1" && cp -p "$work"/frames/*.jpg "$work/$1" && chmod -R a+rwX "$work/$1"
}

mkdir "$work/frames"
render 19:31:00 201.2 9 "$work/frames/f%d.jpg" --seed 1
touch -d '2026-02-24 20:00' "$work"/frames/*

# Followed from inside the folder, reviewed from outside, and from the log.
night n
(cd "$work/n" && watch .) >"$work/out"
expect "watched from inside: 9 frames" grep -q '^9 new frames, 9 solved' "$work/out"
log=$work/n/alidade-night.jsonl
expect "each line tells the content" \
    [ "$(grep -cE '"file": \{[^}]*"digest": "[0-9a-f]{16}"' "$log")" -eq 9 ]
(cd "$work" && review n)
expect "reviewed from outside: 9 frames" keeps 9
expect "none is measured again" lines "$log" 9
review --from "$log"
expect "from the log: 9 frames" keeps 9
(cd "$work" && "$alidade" solve --json n/f?.jpg) >"$work/outside.jsonl"
(cd "$work/n" && "$alidade" solve --json ./f?.jpg) >"$work/inside.jsonl"
review --from "$work/outside.jsonl" "$log" "$work/inside.jsonl"
expect "by three names from three logs: 9 frames" keeps 9
expect "these are no copies" [ "$(grep -c copies "$work/said")" -eq 0 ]
expect "watched from outside: none is new" grep -q '^0 new frames' <(watch "$work/n")

# Lines of before, without a digest and without a reason.
older() { sed -E 's/, "digest": "[0-9a-f]*"//; s/, "unread": "[a-z]*"//' "$1"; }
older "$work/inside.jsonl" >"$work/old-inside.jsonl"
older "$work/outside.jsonl" >"$work/old-outside.jsonl"
expect "older lines hold no digest" [ "$(cat "$work"/old-*.jsonl | grep -c digest)" -eq 0 ]
review --from "$work/old-inside.jsonl" "$work/old-outside.jsonl"
expect "older lines, by two names: 9 frames" keeps 9
review --from "$work/old-inside.jsonl" "$work/outside.jsonl"
expect "older and newer lines: 9 frames" keeps 9
night old && cp "$work/old-inside.jsonl" "$work/old/alidade-night.jsonl"
chmod a+w "$work/old/alidade-night.jsonl"
(cd "$work" && review old)
expect "an older log is read" keeps 9
expect "and nothing is measured again" lines "$work/old/alidade-night.jsonl" 9

# Copies of a whole night have other times.
cp -r "$work/n" "$work/copied" && touch "$work"/copied/*.jpg && chmod -R a+rwX "$work/copied"
review "$work/copied"
expect "a copied night: 9 frames" keeps 9
expect "a copied night is not measured again" lines "$work/copied/alidade-night.jsonl" 9
expect "nor watched again" grep -q '^0 new frames' <(watch "$work/copied")
mv "$work/copied/f1.jpg" "$work/copied/renamed.jpg"
review "$work/copied"
expect "nor is a frame that was renamed" lines "$work/copied/alidade-night.jsonl" 9

# Copies beside the frames are one light.
night twice && mkdir "$work/twice/a" "$work/twice/b" && mv "$work"/twice/*.jpg "$work/twice/a"
cp "$work/twice/a/f4.jpg" "$work/twice/b/f4.jpg" && chmod -R a+rwX "$work/twice"
review "$work/twice" --list "$work/tables/list"
expect "a copy in another folder is no other frame" keeps 9
expect "and is told of" says "2 copies of f4.jpg, counted once"
expect "and not listed for the stacker" lines "$work/tables/list" 9
expect "and not measured" lines "$work/twice/alidade-night.jsonl" 9
cp "$work/twice/a/f4.jpg" "$work/twice/b/f4c.jpg" && cp "$work/twice/a/f5.jpg" "$work/twice/b"
review "$work/twice"
expect "five copies of two frames" says "5 files are copies of 2 frames, each counted once"
ln "$work/twice/a/f6.jpg" "$work/twice/b/f6.jpg"
ln -s "$work/twice/a/f7.jpg" "$work/twice/b/f7.jpg"
review "$work/twice" "$work/twice/../twice/a"
expect "another way to a file is no copy" says "5 files are copies of 2 frames, each counted once"
cp "$work/frames/f1.jpg" "$work/twice/c.jpg"
expect "watch takes no copy for a frame" grep -q '^0 new frames' \
    <(cd "$work/twice" && watch . --log alidade-night.jsonl)

# Two frames of the same name, length and time in two folders.
mkdir -p "$work/same/a" "$work/same/b"
render 19:31:00 201.2 1 "$work/same/a/f.fits" --seed 1
render 19:31:05 209.2 1 "$work/same/b/f.fits" --seed 2
touch -d '2026-02-24 20:00' "$work"/same/?/f.fits && chmod -R a+rwX "$work/same"
expect "the same length" \
    [ "$(stat -c %s "$work/same/a/f.fits")" = "$(stat -c %s "$work/same/b/f.fits")" ]
centres() { sed -n 's/.*"centre": {"ra_deg": \([^,]*\).*/\1/p' "$1" | sort -u | wc -l; }
review "$work/same" --csv "$work/tables/same-1.csv"
review "$work/same" --csv "$work/tables/same-2.csv"
expect "two places are measured" [ "$(centres "$work/same/alidade-night.jsonl")" -eq 2 ]
expect "a second review gives each its own" cmp "$work/tables/same-1.csv" "$work/tables/same-2.csv"
expect "and measures nothing" lines "$work/same/alidade-night.jsonl" 2
older "$work/same/alidade-night.jsonl" >"$work/old.jsonl"
cp "$work/old.jsonl" "$work/same/alidade-night.jsonl"
review "$work/same" --csv "$work/tables/same-3.csv"
expect "also with lines of before" cmp "$work/tables/same-1.csv" "$work/tables/same-3.csv"
head -n 1 "$work/old.jsonl" >"$work/same/alidade-night.jsonl"
review "$work/same" --csv "$work/tables/same-4.csv"
expect "also if only one is known" cmp "$work/tables/same-1.csv" "$work/tables/same-4.csv"
(cd "$work/same" && humbly "$alidade" review . --csv "$work/tables/same-5.csv") >"$work/said"
expect "also from another folder" \
    diff <(cut -d, -f2- "$work/tables/same-1.csv") <(cut -d, -f2- "$work/tables/same-5.csv")
expect "three rows" [ "$(grep -c . "$work/tables/same-5.csv")" -eq 3 ]

# Folders that cannot be listed, lie deep, or link in a circle.
night tree && mkdir "$work/tree/lost+found"
deep=$work/tree/1/2/3/4/5/6/7/8/9/10
mkdir -p "$deep" && mv "$work/tree/f9.jpg" "$deep"
ln -s ../.. "$deep/circle" && ln -s loop "$work/tree/loop"
chmod -R a+rwX "$work/tree" && chmod 0 "$work/tree/lost+found"
if humbly test -x "$alidade" && ! humbly ls "$work/tree/lost+found" >"$work/out" 2>&1; then
    review "$work/tree"
    expect "a folder that cannot be listed does not stop it" [ $? -eq 0 ]
    expect "nor lose a frame, ten folders deep" keeps 9
    expect "and is told of, in one line" \
        [ "$(grep -c "1 folder left out: .*lost+found: cannot be listed: Permission denied" \
            "$work/err") $(wc -l <"$work/err")" = "1 1" ]
fi
for _ in $(seq 30); do deep=$deep/d; done
mkdir -p "$deep" && cp -p "$work/frames/f9.jpg" "$deep/g.jpg" && chmod -R a+rwX "$work/tree"
review "$work/tree"
expect "what lies too deep is told of" says "lies more than 32 folders deep"
expect "and the rest answered" keeps 9

# What cannot be read now may be readable later.
night pass
log=$work/pass/alidade-night.jsonl
chmod 0 "$work/pass/f3.jpg"
if humbly test -x "$alidade" && ! humbly test -r "$work/pass/f3.jpg"; then
    review "$work/pass"
    expect "no permission: dropped" says "8 kept, 0 doubtful, 1 dropped"
    expect "the log says why" grep -q '"unread": "permission"' "$log"
    review "$work/pass"
    expect "tried again, and not told again" lines "$log" 9
    chmod 644 "$work/pass/f3.jpg"
    review "$work/pass"
    expect "with permission: kept" keeps 9
    expect "by a line more" lines "$log" 10
    review "$work/pass"
    expect "which settles it" lines "$log" 10
    review --from "$log"
    expect "in the log too" keeps 9

    night passing && chmod 0 "$work/passing/f3.jpg"
    humbly "$alidade" watch "$work/passing" --target "Orion Nebula" --once >"$work/out" 2>&1
    expect "watched without permission" grep -q '^9 new frames, 8 solved' "$work/out"
    chmod 644 "$work/passing/f3.jpg"
    expect "watched with permission" grep -q '^1 new frame, 1 solved' <(watch "$work/passing")
    expect "and settled" grep -q '^0 new frames' <(watch "$work/passing")
    review --from "$work/passing/alidade-night.jsonl"
    expect "9 frames in the log" keeps 9
fi

# What is damaged is not tried again, nor a copy of it; what is cut short is, by whatever tells.
night broken
log=$work/broken/alidade-night.jsonl
head -c 40000 /dev/urandom >"$work/broken/noise.jpg"
review "$work/broken"
expect "damaged: dropped" says "9 kept, 0 doubtful, 1 dropped"
expect "the log says why" grep -q 'noise.jpg.*"unread": "content"' "$log"
touch "$work/broken/noise.jpg" && cp "$work/broken/noise.jpg" "$work/broken/other.jpg"
review "$work/broken"
expect "damaged: settled" lines "$log" 10
expect "nor watched" grep -q '^0 new frames' <(watch "$work/broken")
night short
log=$work/short/alidade-night.jsonl
truncate -s 60000 "$work/short/f3.jpg"
review "$work/short"
expect "cut short: the log says so" grep -q '"unread": "short"' "$log"
cat "$work/frames/f3.jpg" >"$work/short/f3.jpg"
review "$work/short"
expect "and takes the whole one" keeps 9
# A read that failed is logged with the content; with the next try the frame is whole.
sed -E 's/^(\{"frame": "[^"]*f5.jpg", "format": 2, "solved": )true, "file"(.*"digest": "[0-9a-f]*"\}).*/\1false, "why": "cannot be read", "unread": "device", "file"\2}/' \
    "$work/n/alidade-night.jsonl" >"$work/device.jsonl"
expect "a log with a read error" grep -q '"unread": "device", "file": {.*}}$' "$work/device.jsonl"
review --from "$work/device.jsonl"
expect "is told of with what to do" says "copy the card now and use another one: 1 frame"
night again && cp "$work/device.jsonl" "$work/again/alidade-night.jsonl"
chmod a+w "$work/again/alidade-night.jsonl"
review "$work/again"
expect "and tried again" keeps 9

# Reads that the disk fails, where the system can be made to fail them.
fail_reads() { # FILE WHICH COMMAND...
    strace -f -qq -o /dev/null -P "$1" -e inject=read:error=EIO:when="$2" "${@:3}"
}
night card && cp -r "$work/card" "$work/dying" && cp -r "$work/card" "$work/once"
if fail_reads "$work/card/f3.jpg" 1+ true 2>"$work/err"; then
    log=$work/card/alidade-night.jsonl
    fail_reads "$work/card/f3.jpg" 2 "$alidade" review "$work/card" >"$work/said" 2>"$work/err"
    expect "one failed read: dropped" says "8 kept, 0 doubtful, 1 dropped"
    expect "for a reason that may pass" grep -q 'Input/output error", "unread": "device"' "$log"
    review "$work/card"
    expect "and kept at the next try" keeps 9
    fail_reads "$work/dying/f3.jpg" 1+ "$alidade" watch "$work/dying" --target "Orion Nebula" \
        --once >"$work/out" 2>&1
    expect "watch tells of a card that fails" grep -q 'THE CARD HAS READ ERRORS' "$work/out"
    expect "with what to do" grep -q 'change the card now' "$work/out"
    expect "once" [ "$(grep -c 'READ ERRORS' "$work/out")" -eq 1 ]
    expect "and goes on" grep -q '^9 new frames, 8 solved' "$work/out"
    expect "and takes the frame when it can be read" grep -q '^1 new frame, 1 solved' \
        <(watch "$work/dying")
    fail_reads "$work/once/f3.jpg" 2 "$alidade" watch "$work/once" --target "Orion Nebula" \
        --once >"$work/out" 2>&1
    expect "a second try: no frame is lost" grep -q '^9 new frames, 9 solved' "$work/out"
    expect "and the card is told of" grep -q 'READ ERRORS' "$work/out"
    # strace counts the reads of each thread: a try by another thread may fail as well.
    expect "and the log knows" grep -q '"read_errors": [1-9]' "$work/once/alidade-night.jsonl"
else
    echo "failing reads were not tried: strace cannot make them here"
fi

# Of frames that are known no file is read whole.
if strace -qq -o /dev/null true 2>"$work/err"; then
    mkdir "$work/many" && "$alidade" solve --json "$work/frames/f1.jpg" >"$work/one.jsonl"
    /usr/bin/python3 - "$work" <<'PY' || { echo "no frames to try on"; exit 1; }
import json, sys
work = sys.argv[1]
line = json.load(open(f"{work}/one.jsonl"))
with open(f"{work}/many/alidade-night.jsonl", "w") as log:
    size = 20_000_000
    base = 0xcbf29ce484222325
    for _ in range(5 * 16384 - 4): # zeros, up to the tail
        base = base * 0x100000001b3 % 2**64
    for n in range(200):
        name = f"{work}/many/f{n}.jpg"
        tail = n.to_bytes(4, "big")
        with open(name, "wb") as file:
            file.truncate(size)
            file.seek(size - 4)
            file.write(tail)
        value = base
        for byte in tail:
            value = (value ^ byte) * 0x100000001b3 % 2**64
        line["frame"] = name
        line["file"] = {"bytes": size, "modified_ns": 1, "digest": f"{value:016x}"}
        log.write(json.dumps(line) + "\n")
PY
    chmod -R a+rwX "$work/many"
    strace -f -qq -e trace=read,pread64 -o "$work/trace" "$alidade" review "$work/many" >"$work/said" 2>&1
    expect "200 frames of 20 MB are known by their content" says " of 200 frames"
    expect "and none is measured" lines "$work/many/alidade-night.jsonl" 200
    read_bytes=$(grep -E 'pread64' "$work/trace" | sed -n 's/.* = \([0-9]*\)$/\1/p' |
        awk '{ sum += $1 } END { print sum + 0 }')
    expect "80 kB of each is read: $read_bytes" [ "$read_bytes" -le $((200 * 81920 + 100000)) ]
    expect "which is not nothing" [ "$read_bytes" -ge $((200 * 81920)) ]
fi

echo "$cases cases, $failures failures"
[ "$failures" -eq 0 ]
