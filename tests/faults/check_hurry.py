#!/usr/bin/python3
"""What comes at a bad moment: kill -9 at random moments of watch and review, two of the same at once, a
clock that goes back, ten thousand files in one go, a reader that goes away. Each frame is in the log
once, no torn line is believed, and what is written is whole.

usage: check_hurry.py [KILLS]      so many of each command (200)
"""
import collections
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time

from fault_runs import ALIDADE, BUILD, BUILDER, TOP, prepare

KILLS = int(sys.argv[1]) if len(sys.argv) > 1 else 200
PATIENCE = 4 * int(os.environ.get("PATIENCE", "60"))
failures = []


def check(what, good, shown=""):
    print(f"{'ok    ' if good else 'FAILED'} {what} {'' if good else shown!r}"[:500], flush=True)
    if not good:
        failures.append(what)


def start(*words, **how):
    return subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                            stderr=subprocess.STDOUT, **how)


def finish(process):
    said = process.communicate(timeout=PATIENCE)[0].decode(errors="replace")
    return process.returncode, said


def lines_of(name):
    """How often each frame is in the log; None if a line cannot be read."""
    names = collections.Counter()
    with open(name) as log:
        for line in log:
            if not line.endswith("}\n"):
                return None
            names[os.path.basename(json.loads(line)["frame"])] += 1
    return names


def make_night(frames):
    subprocess.run([BUILD + "/demo/render", "--stars", TOP + "/catalogs/stars.tsv", "--focal", "135",
                    "--aperture", "2.8", "--pixel", "32", "--size", "450x300", "--exposure", "1",
                    "--interval", "2", "--start", "2026-02-24T19:30:00", "--azimuth", "195",
                    "--altitude", "33", "--frames", str(frames), "--out", "f-%d.jpg"], check=True,
                   stdout=subprocess.DEVNULL)
    os.mkdir("frames")
    for n in range(1, frames + 1):
        os.rename(f"f-{n}.jpg", f"frames/f-{n}.jpg")


def kill_often(name, words, dice):
    """Ends runs at random moments, then lets one go to its end; several nights, so that some have
    much left to do. Nothing but kill is in the way of a run."""
    for night in range(8):
        shutil.copytree("frames", f"{name}-{night}")
    for n in range(KILLS):
        process = start(*words(f"{name}-{n % 8}"))
        time.sleep(dice.uniform(0, 0.5))
        process.send_signal(signal.SIGKILL)
        process.communicate()
    good, counts = True, None
    for night in range(8):
        code, said = finish(start(*words(f"{name}-{night}")))
        counts = lines_of(f"{name}-{night}/alidade-night.jsonl")
        good = good and code == 0 and counts and len(counts) == 12 and set(counts.values()) == {1}
        left = [f for f in os.listdir(f"{name}-{night}") if f.startswith(".alidade")]
        good = good and not left
        shutil.rmtree(f"{name}-{night}")
    check(f"{KILLS} kills of {name}: each frame once", good, (counts, said))


def watch(folder):
    return [ALIDADE, "watch", folder, "--once", "--target", "M 42"]


def review(folder):
    return [ALIDADE, "review", folder, "--csv", "table.csv", "--replace"]


def two_at_once():
    shutil.copytree("frames", "two")
    for words in (review("two"), watch("two")):
        both = [start(*words), start(*words)]
        codes = sorted(finish(one)[0] for one in both)
        check(f"two of {words[1]}: one goes through, the other may be refused", codes in ([0, 0], [0, 1]), codes)
    counts = lines_of("two/alidade-night.jsonl")
    check("two at once: each frame once", counts and set(counts.values()) == {1} and len(counts) == 12, counts)
    outputs = [([ALIDADE, "annotate", "frames/f-1.jpg", "-o", "same.png"], "same.png"),
               ([ALIDADE, "solve", "frames/f-1.jpg", "--header", "same.wcs"], "same.wcs"),
               ([BUILDER, "build", "stars.tsv", "-o", "same.alidx", "--replace"], "same.alidx")]
    for words, name in outputs:
        finish(start(*words))
        whole = open(name, "rb").read()
        os.remove(name)
        codes = [finish(one)[0] for one in [start(*words), start(*words)]]
        same = os.path.exists(name) and open(name, "rb").read() == whole
        check(f"two write {name}: it is whole", same and 0 in codes, codes)


def clock_goes_back():
    """Files whose times run backwards, of which half lie in the time to come."""
    shutil.copytree("frames", "back")
    now = time.time()
    for n in range(1, 13):
        os.utime(f"back/f-{n}.jpg", (now + 4 * 3600 - n * 2400,) * 2)
    code, said = finish(start(*watch("back")))
    counts = lines_of("back/alidade-night.jsonl")
    check("a clock that goes back", code == 0 and len(counts) == 12, (code, said))


def many_files(count):
    """More than the system keeps notices of, all at once; watched, not listed. In memory, where that
    is to be had: each line is brought to the disk, whose time is none of the program's."""
    home = os.getcwd()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None) as folder:
        os.chdir(folder)
        watch_many(count)
        os.chdir(home)


def watch_many(count):
    os.mkdir("many")
    os.mkdir("ready")
    for n in range(count):
        with open(f"ready/{n}.jpg", "w") as file:
            file.write(f"no picture {n}")
        os.utime(f"ready/{n}.jpg", (1e9, 1e9))
    process = start(ALIDADE, "watch", "many", "--target", "M 42")
    time.sleep(1)
    for n in range(count):
        os.rename(f"ready/{n}.jpg", f"many/{n}.jpg")
    until, seen = time.time() + PATIENCE, 0
    while seen < count and time.time() < until:
        time.sleep(0.5)
        log = "many/alidade-night.jsonl"
        seen = open(log, "rb").read().count(b"\n") if os.path.exists(log) else 0
    process.send_signal(signal.SIGTERM)
    code, said = finish(process)
    check(f"{count} files at once", seen == count and code == 0, (seen, code, said[-200:]))


def nobody_reads():
    """Where what is printed goes to has gone away, or is closed."""
    for words in (review("frames"), [ALIDADE, "solve", "--json"] + ["frames/f-1.jpg"] * 8, watch("frames")):
        reader, writer = os.pipe()
        os.close(reader)
        process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=writer, stderr=subprocess.PIPE)
        os.close(writer)
        said = process.communicate(timeout=PATIENCE)[1]
        check(f"{words[1]} into a broken pipe: told, or ended by it",
              process.returncode == -signal.SIGPIPE or (process.returncode == 4 and said), (process.returncode, said))
    counts = lines_of("frames/alidade-night.jsonl")
    check("and what it kept is whole", counts and set(counts.values()) == {1}, counts)


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        prepare()
        make_night(12)
        dice = random.Random(20260224)
        kill_often("watch", watch, dice)
        kill_often("review", review, dice)
        two_at_once()
        clock_goes_back()
        many_files(10000)
        nobody_reads()
        os.chdir(TOP)
    print(f"{len(failures)} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
