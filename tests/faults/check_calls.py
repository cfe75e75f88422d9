#!/usr/bin/python3
"""Calls to the system that fail: a disk that is full, or fails to read, write or flush, a folder that
is read-only, no more files, processes, locks or watches. strace makes the n-th call of a kind fail. Each
run ends with the same answer as ever, or with a sentence, an exit code that is documented and nothing
left behind.

usage: check_calls.py [MOST]      so many of the calls of each kind (4)
"""
import random
import subprocess
import sys

from fault_runs import faults, run, try_all, usual_run

MOST = int(sys.argv[1]) if len(sys.argv) > 1 else 4
# What fails, and how; most of such calls that are tried from.
CALLS = [("fsync", "EIO", 6), ("write", "ENOSPC", 20), ("write", "EIO", 20), ("write", "EDQUOT", 20),
         ("rename", "EROFS", 3), ("read,pread64", "EIO", 60), ("openat", "EACCES", 80),
         ("openat", "EMFILE", 80), ("mmap", "ENOMEM", 150), ("ftruncate", "EIO", 3),
         ("clone,clone3,fork,vfork", "EAGAIN", 4), ("socketpair", "EMFILE", 2), ("pipe2", "EMFILE", 2),
         ("inotify_init1", "EMFILE", 1), ("inotify_add_watch", "ENOSPC", 1), ("flock,fcntl", "ENOLCK", 6),
         ("newfstatat", "EIO", 20), ("getdents64", "EIO", 3)]
# The loader of programs and libraries, before this program has begun, says what it likes.
LOADER = ("error while loading shared libraries", "cannot open shared object", "cannot map",
          "symbol lookup error", "FATAL: kernel too old", "relocation error")


def strace(kinds, error, when, words):
    return ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={kinds}", "-e",
            f"inject={kinds}:error={error}:when={when}", *words]


def is_loaders(done):
    return any(text.encode() in done.stderr for text in LOADER)


def try_command(name, words, outputs, dice):
    usual = usual_run(name, words, outputs)
    if not usual:
        return 0, 1
    tried = bad = 0
    for kinds, error, last in CALLS:
        for when in sorted(dice.sample(range(1, last + 1), min(MOST, last))):
            tried += 1
            try:
                done, files = run(strace(kinds, error, when, words))
                wrong = [] if is_loaders(done) else list(faults(done, files, usual, outputs))
            except subprocess.TimeoutExpired:
                wrong = ["hangs"]
            for what in wrong:
                bad += 1
                print(f"FAILED: {name}, {kinds} number {when} with {error}: {what}", flush=True)
    return tried, bad


def main():
    try:
        subprocess.run(["strace", "-qq", "-o", "/dev/null", "true"], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        print("strace is not here, or may not trace")
        return 77
    dice = random.Random(20260224)
    return try_all(lambda *command: try_command(*command, dice), "with a call that fails")


if __name__ == "__main__":
    sys.exit(main())
