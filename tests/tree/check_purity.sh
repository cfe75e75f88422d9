#!/usr/bin/env bash
# The library is pure: no object of it refers to what prints, ends the program, reads or changes the
# environment, reads a clock or a zone, or handles signals; none keeps a global that can change.
# impure.txt lists the exceptions with their reasons.
set -u
export LC_ALL=C
here=$(cd "$(dirname "$0")" && pwd)
library=${BUILD:?the folder of the build}/libalidade.a
forbidden='stdin stdout stderr printf vprintf puts putchar perror getchar gets scanf
    __printf_chk __vprintf_chk exit _exit _Exit quick_exit atexit abort
    getenv secure_getenv setenv unsetenv putenv clearenv environ __environ setlocale
    time localtime localtime_r mktime tzset clock_gettime gettimeofday
    signal sigaction raise kill system popen fork execv execvp posix_spawn
    rand srand random srandom strtok asctime ctime getlogin isatty'

# Lines "OBJECT NAME": what each object of the archive refers to, and its changeable memory.
found() {
    nm -A "$library" 2>/dev/null | sed -nE 's/^[^:]*:([^:]*)\.o: +U ([^@]*).*/\1 \2/p' |
        grep -E " ($(echo $forbidden | tr ' ' '|'))$"
    size -A "$library" | awk '/ex .*\.a|:$/ && /\.o/ { object = $1; sub(/\.o$/, "", object) }
        $1 ~ /^\.(data|bss|tdata|tbss)$/ && $2 > 0 { print object, "changeable" }'
}

faults=0 listed=0
found | sort -u >"${TMPDIR:-/tmp}/purity.$$"
trap 'rm -f "${TMPDIR:-/tmp}/purity.$$"' EXIT
[ "$(nm "$library" 2>/dev/null | wc -l)" -gt 1000 ] || { echo "no symbols in $library"; exit 1; }
while read -r object name; do
    if grep -qE "^$object $name [a-z]" "$here/impure.txt"; then
        listed=$((listed + 1))
    else
        echo "$object.c refers to $name, which the library must not"
        faults=1
    fi
done <"${TMPDIR:-/tmp}/purity.$$"
while read -r object name _; do
    grep -qx "$object $name" "${TMPDIR:-/tmp}/purity.$$" ||
        { echo "$object $name: not so any more, take it off tests/tree/impure.txt"; faults=1; }
done < <(grep -v '^#' "$here/impure.txt")
[ "$faults" -eq 0 ] &&
    echo "$(ar t "$library" | wc -l) objects of the library are pure, but for $listed listed reasons"
exit "$faults"
