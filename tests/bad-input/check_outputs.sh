#!/usr/bin/env bash
# No output takes the place of an input, of another output, of a photograph, a log, a settings file or
# an index, by whatever name it is called; what an option wrote before, it may write again. Everything
# in the folder is compared by checksum before and after each refusal.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "${BUILD:-build}" && pwd)
export ALIDADE_CATALOGS=$here/../../catalogs ALIDADE_RIG=rig.ini
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0 tried=0

picture() { # NAME RA
    "$build/demo/render" --stars "$ALIDADE_CATALOGS/stars.tsv" --ra "$2" --dec -5.39 --focal 135 \
        --pixel 20 --size 900x600 --exposure 2 --tracked --clean --out "$1" >/dev/null || exit 1
}
mkdir night
picture g.fits 83.82
picture other.fits 84.5
picture night/f-1.jpg 83.82
picture night/f-2.jpg 83.9
picture p.png 83.82
cp night/f-1.jpg f.jpg
printf '; mine\n[place Garden]\nlatitude = 50\nlongitude = 10\nutc offset = +01:00\n' >rig.ini
printf 'ra,dec,mag\n10,20,3\n11,21,4\n10.5,20.5,5\n10.2,20.9,4.5\n10.8,20.1,4.2\n' >stars.csv
printf 'GIF89a and more' >old.gif
cp "$build/hipparcos.alidx" some.alidx
"$build/alidade" review night >/dev/null || exit 1
ln g.fits hard.fits
ln -s g.fits soft.fits
ln -s new.txt dangling
ln night/f-1.jpg night-hard
ln -s night/alidade-night.jsonl soft-log

sums() { find . -type f -exec sha256sum {} + | sort; find . | sort; }
before=$(sums)

run() { said=$("$build/${program:-alidade}" "$@" 2>&1); got=$?; tried=$((tried + 1)); }
complain() { echo "$*; it said: $said"; failed=1; }

# CODE WORDS COMMAND...: refused, and nothing has changed.
refused() {
    local code=$1 words=$2
    shift 2
    run "$@"
    [ "$got" -eq "$code" ] && grep -qF -- "$words" <<<"$said" ||
        complain "$*: exit code $got, expected $code and \"$words\""
    [ "$(sums)" = "$before" ] || { complain "$*: changed: $(diff <(echo "$before") <(sums))"; before=$(sums); }
}

# COMMAND...: done; what was there but the named file stays.
written() { # NAME COMMAND...
    local name=$1
    shift
    run "$@"
    [ "$got" -eq 0 ] || complain "$*: exit code $got, expected 0"
    [ "$(sums | grep -vF "$name" | sha256sum)" = "$(grep -vF "$name" <<<"$before" | sha256sum)" ] ||
        complain "$*: more than $name changed"
    before=$(sums)
}

# An input as an output.
refused 2 "--header would overwrite the frame itself; expected another name, or --update" solve g.fits --header g.fits
refused 2 "--fits would overwrite the frame itself" solve g.fits --fits ./g.fits
for name in hard.fits soft.fits "$work/g.fits" night/../g.fits; do
    refused 2 "--header would overwrite the frame itself, g.fits" solve g.fits --header "$name"
done
refused 2 "the frame itself" solve g.fits --header g.fits --replace
refused 2 "--header would overwrite the frame itself" solve f.jpg --header f.jpg
refused 2 "--fits would overwrite the frame itself" solve f.jpg --fits f.jpg --replace
refused 2 "--output would overwrite the frame itself" annotate p.png -o p.png
refused 2 "would overwrite the settings file" solve f.jpg --header rig.ini --replace
refused 2 "would overwrite the index of stars" solve f.jpg --index some.alidx --header some.alidx --replace
refused 2 "would overwrite a table of objects" review night --csv "$ALIDADE_CATALOGS/objects.tsv" --replace
for option in --csv --list --html; do
    refused 2 "$option would overwrite a frame" review night $option night/f-1.jpg
    refused 2 "$option would overwrite a frame, night/f-1.jpg" review night $option night-hard
    refused 2 "the night's log and $option would write the same file" review night $option night/alidade-night.jsonl
    refused 2 "the night's log and $option would write the same file" review night $option soft-log --replace
    refused 2 "$option would overwrite the log that is read" review --from night/alidade-night.jsonl $option soft-log
done
refused 2 "--log would write into a frame" review night --log night/f-2.jpg
refused 2 "--log would write into a frame" watch night --once --target "M 42" --log night-hard
refused 2 "would write into a frame" aim --learn-head pan --rig night-hard night/f-1.jpg night/f-2.jpg
program=alidade-index refused 2 "would overwrite its own catalogue" build stars.csv -o ./stars.csv

# Two outputs in one file.
refused 2 "--header and --fits would write the same file" solve g.fits --header x --fits x
refused 2 "--with-engine: needs --html" review night --with-engine a.html
refused 3 "rig.ini: has no engine" review night --html a.html --with-engine rig.ini
refused 2 "--csv and --list would write the same file" review night --csv a --list a --html a
refused 2 "--list and --html would write the same file" review night --list a --html ./night/../a
refused 2 "--csv and --html would write the same file" review night --csv new.txt --html dangling

# Kept, though no input.
refused 4 "is a picture, which --header does not replace" solve g.fits --header f.jpg
refused 4 "is a FITS file with data, which --header does not replace" solve g.fits --header other.fits
refused 4 "is a FITS file with other data" solve g.fits --fits other.fits
refused 4 "is a picture, which --csv does not replace" review night --csv p.png
refused 4 "is a picture, which --list does not replace" review night --list old.gif
refused 4 "is a log of frames, which --header does not replace" solve g.fits --header soft-log
refused 4 "is an index of stars, which --html does not replace" review night --html some.alidx
ALIDADE_RIG=/dev/null refused 4 "is a settings file, which --csv does not replace" review night --csv rig.ini
refused 4 "is a picture, which --output does not replace" annotate p.png -o f.jpg
cp f.jpg chart.png && before=$(sums)
refused 4 "is a picture, which --output does not replace" object "M 42" -o chart.png
refused 4 "is a picture, which --card does not replace" plan --date 2026-02-24 --focal 250 --sensor 22.2x14.8 \
    --place 50,10 --target "M 42" --card chart.png
program=alidade-index refused 4 "is a picture, which the index does not replace" build stars.csv -o f.jpg
[ "$(id -u)" -eq 0 ] || {
    cp p.png sealed && chmod 000 sealed
    run review night --csv sealed
    [ "$got" -eq 4 ] && grep -qF "may be a picture" <<<"$said" || complain "a sealed file: exit code $got"
    chmod 600 sealed && cmp -s p.png sealed || complain "a sealed file was replaced"
    rm -f sealed
}

# The same commands again, and what --replace allows.
for i in 1 2; do
    written head.wcs solve g.fits --header head.wcs
    written copy.fits solve g.fits --fits copy.fits
    written copy.jpg.fits solve f.jpg --fits copy.jpg.fits
    written n.csv review night --csv n.csv
    written n.html review night --html n.html
    written n.txt review night --list n.txt
    for end in png jpg svg pdf; do
        written drawn.$end annotate p.png -o drawn.$end
        written alone.$end object "M 42" -o alone.$end
    done
    for end in png pdf; do
        written card.$end plan --date 2026-02-24 --focal 250 --sensor 22.2x14.8 --place 50,10 \
            --target "M 42" --card card.$end
    done
    program=alidade-index written new.alidx build "$ALIDADE_CATALOGS/stars.tsv" -o new.alidx --faintest 3
done
refused 4 "is a picture, which --csv does not replace" review night --csv drawn.png
written chart.png annotate p.png -o chart.png --replace
written other.fits solve g.fits --fits other.fits --replace
run review night --csv /dev/null --list /dev/null --html /dev/null
[ "$got" -eq 0 ] || complain "three outputs to a device: exit code $got"

# A drawing that came to hold what a camera writes is a photograph.
if command -v exiftool >/dev/null; then
    exiftool -q -overwrite_original -Make=Otter -Model="OTTER 2" drawn.jpg && before=$(sums)
    refused 4 "is a picture, which --output does not replace" annotate p.png -o drawn.jpg
fi

# --update: the same pixels, and a header that says where they point.
pixels() { tail -c +"$(($(grep -abo 'END  *$\|END \{77\}' "$1" | head -1 | cut -d: -f1) / 2880 * 2880 + 2881))" "$1" | sha256sum; }
picture u.fits 83.82
old=$(pixels u.fits)
chmod 640 u.fits
for i in 1 2; do
    run solve u.fits --update
    [ "$got" -eq 0 ] || complain "--update: exit code $got"
    [ "$(pixels u.fits)" = "$old" ] || complain "--update: other pixels"
    [ "$(grep -aoc 'CTYPE1  = .RA---TAN' u.fits)" -eq 1 ] || complain "--update: no solution in the header"
done
[ "$(stat -c %a u.fits)" = 640 ] || complain "--update: other permissions"
gzip -k u.fits && before=$(sums)
run solve u.fits.gz --update
[ "$got" -eq 2 ] && [ "$(sums)" = "$before" ] || complain "--update of a packed file: exit code $got"
run solve f.jpg --update
[ "$got" -eq 2 ] && [ "$(sums)" = "$before" ] || complain "--update of a JPEG: exit code $got"

# The true reason: a full device, and files that may not grow; nothing half-written is left.
card=(plan --date 2026-02-24 --focal 250 --sensor 22.2x14.8 --place 50,10 --target "M 42" --card)
unwritable() { # WORDS NAME COMMAND...
    local words=$1 name=$2
    shift 2
    run "$@" "$name"
    [ "$got" -eq 4 ] && grep -qF -- "$name" <<<"$said" && grep -qF -- "$words" <<<"$said" ||
        complain "$* $name: exit code $got, expected 4 and \"$words\""
}
all_unwritable() { # WORDS STEM
    local end option
    for option in --header --fits; do unwritable "$1" "$2.png" solve g.fits $option; done
    for option in --csv --list --html; do unwritable "$1" "$2.png" review night $option; done
    for end in png jpg svg pdf; do unwritable "$1" "$2.$end" annotate p.png -o; done
    for end in png pdf; do unwritable "$1" "$2.$end" "${card[@]}"; done
    unwritable "$1" "$2.png" object "M 42" -o
}
before=$(sums)
if [ -w /dev/full ]; then
    for end in png jpg svg pdf; do ln -s /dev/full full.$end; done
    all_unwritable "No space left on device" full
    rm full.*
fi
if (
    ulimit -f 0
    all_unwritable "File too large" limited
    unwritable "File too large" u.fits solve --update
    unwritable "the log cannot be written: File too large" limited.log watch night --once --target "M 42" --log
    exit $failed
); then :; else failed=1; fi
rm -f limited.log
[ "$(sums)" = "$before" ] || complain "failed writes left something: $(diff <(echo "$before") <(sums))"

# What dead processes left goes; what lives, is young, or is called otherwise, stays.
touch -d '2 minutes ago' .alidade-999999999-0.tmp .alidade-$$-0.tmp .alidade-1x-0.tmp .alidade-999999999-0.tmp~
touch .alidade-999999999-1.tmp
run solve g.fits --header head.wcs
[ "$(ls -d .alidade-* | sort)" = "$(printf '%s\n' .alidade-$$-0.tmp .alidade-1x-0.tmp .alidade-999999999-0.tmp~ \
    .alidade-999999999-1.tmp | sort)" ] ||
    complain "leftovers: $(echo .alidade-*)"

[ $failed -eq 0 ] && echo "$tried outputs guarded or written as they should be"
exit $failed
