#!/usr/bin/env bash
# Manual pages and completions hold what the programs say of themselves: mandoc and man find nothing
# to complain about, and each option that a command's help shows is in its page and is completed.
# Bash and fish are asked for completions; zsh only reads its script.
set -u
export LC_ALL=C.UTF-8
build=${BUILD:-build}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
pages=("$build"/man/man*/*)
failed=0 note=
complain() {
    echo "$*"
    failed=1
}

# References are looked up in a folder of manuals, which wants its own table of contents.
if command -v mandoc >/dev/null && command -v makewhatis >/dev/null; then
    cp -r "$build/man" "$work/man" && makewhatis "$work/man"
    MANPATH=$work/man mandoc -Tlint -W style "${pages[@]}" >"$work/lint.txt" 2>&1
    [ -s "$work/lint.txt" ] && complain "mandoc: $(cat "$work/lint.txt")"
else
    note+="; no mandoc"
fi
if man --version 2>/dev/null | grep -q '^man [0-9]'; then # that of man-db
    for page in "${pages[@]}"; do
        man --warnings -E UTF-8 -l -Tutf8 -Z "$page" 2>"$work/warnings.txt" >/dev/null
        [ -s "$work/warnings.txt" ] && complain "man: $page: $(cat "$work/warnings.txt")"
    done
else
    note+="; no man of man-db"
fi

commands_of() { # PROGRAM
    "$build/$1" --help | sed -nE '/^Commands:/,/^$/s/^  ([a-z]+) .*/\1/p'
}
options_of() { # PROGRAM COMMAND
    "$build/$1" "$2" --help | sed -nE 's/^ {2,6}(-[a-zA-Z], )?(--[a-z0-9-]+)( .*)?$/\2/p' | sort
}
# mdoc has "Fl -name" for --name.
in_page() { # PAGE OPTION
    grep -qE "^\.It (Fl . , )?Fl ${2#-}( |$)" "$1"
}
bash_answer() { # PROGRAM WORD...
    bash --norc -c 'source "$1" && shift && COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)) &&
        _"${1//-/_}" && printf "%s\n" "${COMPREPLY[@]}"' _ "$build/completions/bash/$1" "$@" | sort
}
fish_answer() { # PROGRAM LINE
    fish --no-config -c "source $build/completions/fish/$1.fish; complete -C '$2'" | cut -f 1 | sort
}

count=0
for program in alidade alidade-index; do
    bash -n "$build/completions/bash/$program" || complain "bash cannot read its completions"
    if command -v zsh >/dev/null; then
        zsh -n "$build/completions/zsh/_$program" || complain "zsh cannot read its completions"
    else
        note+="; no zsh"
    fi
    for command in $(commands_of $program); do
        page=$build/man/man1/$program-$command.1
        [ $program = alidade ] || page=$build/man/man1/$program.1
        options_of $program "$command" >"$work/options.txt"
        [ -s "$work/options.txt" ] || complain "no options of $program $command"
        while read -r option; do
            in_page "$page" "$option" || complain "$page: no $option of $command"
            count=$((count + 1))
        done <"$work/options.txt"
        bash_answer $program "$command" -- | cmp -s - "$work/options.txt" ||
            complain "bash does not complete the options of $program $command"
        if command -v fish >/dev/null; then
            fish_answer $program "$program $command --" | cmp -s - "$work/options.txt" ||
                complain "fish does not complete the options of $program $command"
        fi
        bash_answer $program "${command:0:2}" | grep -qx "$command" || complain "bash: no $command"
    done
done
[ "$(bash_answer alidade plan --align aff)" = affine ] || complain "bash does not know --align"
touch "$work/a frame.jpg"
[ "$(bash_answer alidade solve "$work/a")" = "$work/a frame.jpg" ] || complain "bash finds no frame"
[ "$failed" -eq 0 ] && echo "$count options are in ${#pages[@]} manual pages and are completed$note"
exit "$failed"
