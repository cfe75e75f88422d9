#!/usr/bin/env bash
# `make install` brings what the programs read and nothing else, they find it from where they are,
# and `make uninstall` leaves no file behind.
set -u
export LC_ALL=C.UTF-8
build=${BUILD:-build}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
unset MAKELEVEL MAKEFLAGS ALIDADE_INDEX ALIDADE_CATALOGS
failed=0
complain() {
    echo "$*"
    failed=1
}

read -r _ prefix <"$build/.compiled-in" # another one would have things compiled anew
where=(B="$build" PREFIX="$prefix" DESTDIR="$work/root")
make "${where[@]}" install >"$work/log.txt" 2>&1 || { cat "$work/log.txt"; exit 1; }
top=$work/root$prefix
diff <(cd "$top/share/alidade" && ls -- *.tsv) \
    <(grep -rhoE '"[a-z-]+\.tsv"' src | tr -d '"' | sort -u) || complain "other tables than are read"
diff <(cd "$top/share/man" && find . -type f | sort) <(cd "$build/man" && find . -type f | sort) ||
    complain "other pages than were made"
for file in bash-completion/completions/alidade-index zsh/site-functions/_alidade \
    fish/vendor_completions.d/alidade.fish alidade/hipparcos.alidx alidade/alidade.schema.json \
    alidade/LICENSE; do
    [ -s "$top/share/$file" ] || complain "no share/$file"
done
"$build/demo/render" --stars catalogs/stars.tsv --ra 83.8 --dec -5.4 --focal 135 --pixel 7.4 \
    --size 1500x1000 --exposure 2 --out "$work/frame.png" >/dev/null || exit 1
(cd "$work" && "$top/bin/alidade" solve frame.png) >"$work/answer.txt" 2>&1 ||
    complain "not solved: $(cat "$work/answer.txt")"
grep -q 'Orion' "$work/answer.txt" || complain "no word of Orion: $(cat "$work/answer.txt")"
"$top/bin/alidade" object "HIP 5" >/dev/null || complain "no star by its number"
make "${where[@]}" uninstall >"$work/log.txt" 2>&1 || { cat "$work/log.txt"; exit 1; }
left=$(find "$work/root" -type f)
[ -z "$left" ] || complain "left behind: $left"
[ "$failed" -eq 0 ] && echo "what is installed is found, works, and goes away again"
exit "$failed"
