#!/usr/bin/env python3
"""The page's engine and the program of this machine say the same, byte for byte but for times, of
every frame: rendered ones of all kinds of file, and any that are named on the command line.
usage: check_same_answers.py BUILD [FRAME...]"""
import json
import os
import re
import subprocess
import sys
import tempfile

TIMES = re.compile(r'"elapsed_ms": \{[^}]*\}|"modified_ns": -?\d+')
TARGET = ["--target", "M 42", "--place", "50,10", "--zone", "+01:00"]


def render(build, folder):
    """A frame in each kind of file that the renderer writes."""
    frames = []
    for i, (ending, ra) in enumerate([("fits", 83.8), ("jpg", 84.5), ("dng", 83.0), ("png", 83.4)]):
        name = os.path.join(folder, f"frame{i}.{ending}")
        made = subprocess.run([build + "/demo/render", "--ra", str(ra), "--dec", "-5.4", "--focal", "135",
                               "--pixel", "9", "--size", "1500x1000", "--seed", str(i), "--out", name],
                              capture_output=True, text=True)
        if made.returncode == 0:
            frames.append(name)
    return frames


def native(build, words, frame):
    done = subprocess.run([build + "/alidade", *words, frame], capture_output=True, text=True)
    return done.returncode, done.stdout.replace(frame, "FRAME")


def in_page(build, tasks):
    lines = "".join(json.dumps(task) + "\n" for task in tasks)
    done = subprocess.run(["node", "tests/web/run_engine.js", build, "catalogs"], input=lines,
                          capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    return [json.loads(line) for line in done.stdout.splitlines()]


def main():
    build, frames = sys.argv[1], sys.argv[2:]
    with tempfile.TemporaryDirectory() as folder:
        frames = [os.path.abspath(f) for f in frames] or render(build, folder)
        runs = [(words, frame) for frame in frames for words in (["solve", "--json"], ["aim", "--json", *TARGET])]
        inner = ["/in/frame" + os.path.splitext(frame)[1] for _, frame in runs]
        tasks = [{"words": ["alidade", *words, name], "files": {name: frame}}
                 for (words, frame), name in zip(runs, inner)]
        differ = 0
        for (words, frame), name, done in zip(runs, inner, in_page(build, tasks)):
            code, text = native(build, words, frame)
            there = done["answer"].replace(name, "FRAME")
            if code != done["code"] or TIMES.sub("", text) != TIMES.sub("", there):
                differ += 1
                print(f"{words[0]} {frame}: {code} and {done['code']}")
                a, b = TIMES.sub("", text), TIMES.sub("", there)
                at = next((i for i, (x, y) in enumerate(zip(a, b)) if x != y), min(len(a), len(b)))
                print("  here ", a[max(0, at - 60):at + 60].strip())
                print("  page ", b[max(0, at - 60):at + 60].strip() or done["complaints"].strip())
    print(f"{len(runs)} answers about {len(frames)} frames, {differ} differ")
    sys.exit(differ > 0 or len(frames) == 0)


if __name__ == "__main__":
    main()
