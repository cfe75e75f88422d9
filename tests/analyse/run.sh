#!/usr/bin/env bash
# What cppcheck, gcc's analyser and clang's say of the source: nothing, or what explained.txt beside
# this has a line for, with the reason why it is none. Each is run where it is installed.
# usage: tests/analyse/run.sh BUILD_DIR [cppcheck|gcc|clang]...
#   FILES='src/night/*.c'   in the environment: these alone
set -u
cd "$(dirname "$0")/../.." || exit 1
build=$1/analyse
shift
[ $# -gt 0 ] || set -- cppcheck gcc clang
mkdir -p "$build"
mapfile -t files < <(ls ${FILES:-$(git ls-files 'src/*.c' 'index-build/*.c' | grep -v '^src/web/')})
packages='cfitsio wcslib erfa libpng libjpeg libtiff-4 libraw_r libexif inih json-c cairo pangocairo zlib
    libmicrohttpd libqrencode libseccomp'
include=$(ls -d "${build%/analyse}/src/page" 2>/dev/null)
flags=(-std=c11 -D_POSIX_C_SOURCE=200809L '-DALIDADE_VERSION="0"' '-DALIDADE_DATA_DIR="/"' -Isrc
    -Iindex-build ${include:+-I"$include"} $(pkg-config --cflags $packages))

# Each prints "file: what: sentence" for a finding, without the line, which changes.
say_cppcheck() {
    cppcheck -q --enable=warning,performance,portability --std=c11 --library=posix -j "$(nproc)" \
        --suppress=missingIncludeSystem --inline-suppr -Isrc -Iindex-build -D_POSIX_C_SOURCE=200809L \
        '-DALIDADE_VERSION="0"' '-DALIDADE_DATA_DIR="/"' --template='{file}: {id}: {message}' \
        "${files[@]}" 2>&1
}
# Not of C++, which it does not know well.
say_gcc() {
    printf '%s\n' "${files[@]}" | xargs -P "$(nproc)" -I{} gcc "${flags[@]}" -O1 -fanalyzer -fanalyzer-verbosity=0 \
        -c {} -o /dev/null 2>&1 | sed -nE 's/^([^:]+):[0-9]+:[0-9]+: warning: (.*) \[(-W[^]]*)\]$/\1: \3: \2/p' |
        sed -E 's/\[CWE-[0-9]+\] ?//'
}
# The analyser that scan-build runs, without a build around it.
say_clang() {
    printf '%s\n' "${files[@]}" | xargs -P "$(nproc)" -I{} clang --analyze -Xclang -analyzer-output=text "${flags[@]}" \
        {} -o /dev/null 2>&1 | sed -nE 's/^([^:]+):[0-9]+:[0-9]+: warning: (.*) \[([^]]*)\]$/\1: \3: \2/p'
}

status=0
for tool in "$@"; do
    command -v "$tool" >/dev/null || { echo "$tool is not installed"; continue; }
    "say_$tool" | sort -u >"$build/$tool.txt"
    grep -vFf <(sed -nE "s/^$tool (.*) # .*/\1/p" tests/analyse/explained.txt; echo '*nothing*') "$build/$tool.txt" >"$build/$tool-new.txt"
    echo "$tool: $(wc -l <"$build/$tool.txt") findings, $(wc -l <"$build/$tool-new.txt") of them not explained"
    cat "$build/$tool-new.txt"
    [ -s "$build/$tool-new.txt" ] && status=1
done
exit $status
