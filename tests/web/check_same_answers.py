#!/usr/bin/env python3
"""The page's engine and the program of this machine say the same, byte for byte but for times, of
every frame: rendered ones in all kinds of file. With WEB_LONG=1 of 200, of the demo's frames and the
photographs beside the project; or of those that are named.
usage: check_same_answers.py [FRAME...]       BUILD: the folder of the programs"""
import glob
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

BUILD = os.environ.get("BUILD", "build")
TIMES = re.compile(r'"elapsed_ms": \{[^}]*\}|"modified_ns": -?\d+')
TARGET = ["--target", "M 42", "--place", "50,10", "--zone", "+01:00"]
ENDINGS = ["fits", "jpg", "dng", "png"]
MANY = 200


def render(folder, count):
    """Frames anywhere in the sky through lenses of all kinds, the first ones about Orion."""
    chance = random.Random(11)
    frames = []
    for i in range(count):
        name = os.path.join(folder, f"frame{i}.{ENDINGS[i % len(ENDINGS)]}")
        ra, dec, focal = 83 + i / 3, -5.4, 135
        if i >= len(ENDINGS):
            ra, dec, focal = chance.uniform(0, 360), chance.uniform(-80, 80), chance.choice([35, 50, 85, 135, 200, 300])
        made = subprocess.run([BUILD + "/demo/render", "--ra", f"{ra:.3f}", "--dec", f"{dec:.3f}", "--focal", str(focal),
                               "--pixel", "9", "--size", "1500x1000", "--seed", str(i), "--out", name],
                              capture_output=True, text=True)
        if made.returncode:
            sys.exit(made.stderr)
        frames.append(name)
    return frames


def beside():
    """The demo's frames and the photographs, where there are any."""
    found = glob.glob("demo/out/*") + glob.glob("../shared/photos/*")
    return [name for name in sorted(found) if re.search(r"\.(jpe?g|png|tiff?|fits?|dng|arw|cr2|nef|raf|rw2|orf)$", name, re.I)
            and "annotated" not in name]


def put_alone(folder, frames):
    """Copies in a folder where nothing else lies: a plan beside a frame would be quoted."""
    alone = []
    for i, frame in enumerate(frames):
        os.makedirs(os.path.join(folder, str(i)))
        alone.append(shutil.copy(frame, os.path.join(folder, str(i))))
    return alone


def native(words, frame):
    done = subprocess.run([BUILD + "/alidade", *words, frame], capture_output=True, text=True)
    return done.returncode, done.stdout.replace(frame, "FRAME")


def in_page(tasks):
    lines = "".join(json.dumps(task) + "\n" for task in tasks)
    done = subprocess.run(["node", "tests/web/run_engine.js", BUILD, "catalogs"], input=lines,
                          capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stderr)
    return [json.loads(line) for line in done.stdout.splitlines()]


def main():
    needed = subprocess.run(["bash", "tests/web/built.sh", "node"])
    if needed.returncode:
        sys.exit(needed.returncode)
    named = [os.path.abspath(name) for name in sys.argv[1:]]
    many = bool(os.environ.get("WEB_LONG"))
    with tempfile.TemporaryDirectory() as folder:
        rendered = [] if named else render(folder, MANY if many else len(ENDINGS))
        frames = rendered + put_alone(folder, named or (beside() if many else []))
        runs = [(words, frame) for frame in frames for words in (["solve", "--json"], ["aim", "--json", *TARGET])]
        inner = ["/in/frame" + os.path.splitext(frame)[1] for _, frame in runs]
        tasks = [{"words": ["alidade", *words, name], "files": {name: frame}}
                 for (words, frame), name in zip(runs, inner)]
        differ = solved = 0
        for (words, frame), name, done in zip(runs, inner, in_page(tasks)):
            code, text = native(words, frame)
            solved += '"solved": true' in text
            there = done["answer"].replace(name, "FRAME")
            if code != done["code"] or TIMES.sub("", text) != TIMES.sub("", there):
                differ += 1
                print(f"{words[0]} {frame}: {code} and {done['code']}")
                a, b = TIMES.sub("", text), TIMES.sub("", there)
                at = next((i for i, (x, y) in enumerate(zip(a, b)) if x != y), min(len(a), len(b)))
                print("  here ", a[max(0, at - 60):at + 60].strip())
                print("  page ", b[max(0, at - 60):at + 60].strip() or done["complaints"].strip())
    print(f"{len(runs)} answers about {len(frames)} frames, {solved} solved, {differ} differ")
    sys.exit(differ > 0 or len(runs) < 8 and not named or solved * 2 < len(runs))


if __name__ == "__main__":
    main()
