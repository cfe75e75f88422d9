#!/usr/bin/env bash
# The programs are built so that a slip is hard to use: at any address, with what is linked in bound
# at the start and then read-only, no executable stack, guarded frames and bounded copies, and no
# name of a folder of the machine that built them.
set -u
build=${BUILD:-build}
nm -D "$build/alidade" | grep -q '__asan_init' && { echo "sanitizers stand in for it"; exit 77; }
failed=0
for program in "$build/alidade" "$build/alidade-index"; do
    lacks() {
        echo "$program has no $1"
        failed=1
    }
    heads=$(readelf -hldW "$program") names=$(nm -D "$program")
    grep -q 'Type: *DYN' <<<"$heads" || lacks "free choice of its address"
    grep -q 'FLAGS_1.*NOW.*PIE' <<<"$heads" || lacks "binding at its start"
    grep -q 'GNU_RELRO' <<<"$heads" || lacks "table of addresses that is read-only"
    grep -qE 'GNU_STACK .* RW +0x' <<<"$heads" || lacks "stack without code"
    grep -q '__stack_chk_fail' <<<"$names" || lacks "guard at the end of frames"
    grep -q '__.*_chk@' <<<"$(grep -v __stack_chk <<<"$names")" || lacks "bounded copies"
    grep -qF "$PWD" "$program" && lacks "freedom of the folder that it was built in"
done
[ "$failed" -eq 0 ] && echo "both programs are hardened"
exit "$failed"
