#!/usr/bin/python3
"""Memory that runs short: the n-th allocation of a run fails, or that and all that follow. Whatever n
is, the run ends with the same answer as ever, or with a sentence, an exit code that is documented
and nothing left behind: no half-written file, no other answer, no crash.

usage: check_allocations.py [MOST]      so many values of n for each command (60)
"""
import random
import subprocess
import sys

from fault_runs import BUILD, faults, run, try_all, usual_run

MOST = int(sys.argv[1]) if len(sys.argv) > 1 else 60
LIBRARY = BUILD + "/tests/faults/short_memory.so"
# Where every allocation fails from one on, Cairo ends these itself (1.16, in cairo_stroke).
ONCE_ONLY = ("annotate", "annotate PDF")

def choose(count):
    if count <= MOST:
        return list(range(1, count + 1))
    dice = random.Random(20260224)
    return sorted(dice.sample(range(1, count + 1), MOST))


def run_short(words, at, on):
    settings = {"SHORT_ON": "1"} if on else {}
    return run(words, LD_PRELOAD=LIBRARY, SHORT_COUNT="count", SHORT_AT=str(at), **settings)


def try_command(name, words, outputs):
    usual = usual_run(name, words, outputs)
    if not usual:
        return 0, 1
    run_short(words, 0, False)
    numbers = choose(int(open("count").read()))
    bad = 0
    for at in numbers:
        for on in (False,) if name in ONCE_ONLY else (False, True):
            try:
                done, files = run_short(words, at, on)
                wrong = list(faults(done, files, usual, outputs))
            except subprocess.TimeoutExpired:
                wrong = ["hangs"]
            for what in wrong:
                bad += 1
                print(f"FAILED: {name}, allocation {at}{' and all after it' if on else ''}: {what}")
    return 2 * len(numbers), bad


if __name__ == "__main__":
    sys.exit(try_all(try_command, "short of memory"))
