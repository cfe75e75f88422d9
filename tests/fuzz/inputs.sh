# Which kept inputs belong to which fuzz target; for the scripts beside this one, from the top of
# the tree.

fuzz_targets() {
    printf '%s\n' tests/fuzz/fuzz_*.c | sed -E 's/.*fuzz_(.*)\.c/\1/'
}

fuzz_inputs() { # TARGET
    local corpus=tests/fuzz/corpus
    shopt -s nullglob
    case $1 in
    fits) printf '%s\n' $corpus/frame/*.{fits,gz} ;;
    jpeg) printf '%s\n' $corpus/frame/*.jpg ;;
    png) printf '%s\n' $corpus/frame/*.png ;;
    tiff) printf '%s\n' $corpus/frame/*.tif ;;
    raw) printf '%s\n' $corpus/frame/*.{dng,cr3,crw,iiq,k25,mrw,orf,pef,raf,raw,rw2} ;;
    description) printf '%s\n' $corpus/catalogue/*.mrt ;;
    votable) printf '%s\n' $corpus/catalogue/*.vot ;;
    fits_table) printf '%s\n' $corpus/fits-table/* ;;
    line) printf '%s\n' $corpus/night/*-line-*.jsonl ;;
    *) printf '%s\n' "$corpus/$1"/* ;;
    esac
}

# The first rows of the tables of objects, for a look-up that takes no time, and the brightest stars.
fuzz_short_tables() { # FOLDER
    mkdir -p "$1"
    for table in objects star-names constellations; do
        head -n 40 catalogs/$table.tsv >"$1/$table.tsv"
    done
    awk -F '\t' '!/^[0-9]/ || $4 < 5' catalogs/stars.tsv >"$1/stars.tsv"
}
