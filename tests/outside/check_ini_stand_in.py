#!/usr/bin/env python3
"""What stands in for the reader of settings files in the page (src/web/stand-ins/ini.c) reads every
settings file as the library itself does (libinih of the system): those of manuals and tests, and
thousands of damaged ones."""
import glob
import os
import random
import re
import subprocess
import sys
import tempfile

DAMAGED = 20000
LETTERS = " \t\n\n[]=:;#!\\\"'\rabcé\xa0 0\f\v"


def settings_files():
    """The parts of documents and scripts that look like one."""
    texts = []
    for name in ["README.md", "src/manual/pages/alidade-rig.5.mdoc", *glob.glob("demo/*.sh"),
                 *glob.glob("tests/end/check_*.py"), *glob.glob("tests/bad-input/check_*.sh")]:
        for block in re.findall(rb"^\[(?:body|lens|place|head|defaults)[^`]*", open(name, "rb").read(), re.M):
            texts.append(block[:2000])
    return texts


def damaged(texts):
    chance = random.Random(17)
    for _ in range(DAMAGED):
        text = bytearray(chance.choice(texts)[:600])
        for _ in range(chance.randint(1, 12)):
            at = chance.randint(0, len(text))
            text[at:at + chance.choice([0, 0, 1, 1, 5])] = chance.choice(LETTERS).encode() * chance.choice([1, 1, 1, 2, 70])
        if chance.random() < 0.05:
            text[:0] = b"\xef\xbb\xbf"
        yield bytes(text)


def main():
    texts = settings_files()
    everything = texts + list(damaged(texts))
    with tempfile.TemporaryDirectory() as folder:
        programs = [os.environ["BUILD"] + "/tests/outside/say_ini", os.path.join(folder, "stand-in")]
        subprocess.run(["cc", "-std=c11", "-o", programs[1], "tests/outside/say_ini.c", "-Isrc/web/stand-ins",
                        "src/web/stand-ins/ini.c"], check=True)
        said = [subprocess.run([program], input=b"\0".join(everything), capture_output=True, check=True).stdout
                for program in programs]
    library, stand_in = ([part.split(b"\n") for part in out.split(b"returns ")] for out in said)
    wrong = [i for i, (a, b) in enumerate(zip(library, stand_in)) if a != b]
    for i in wrong[:3]:
        print("library ", library[i], "\nstand-in", stand_in[i])
    values = said[0].count(b"> <") // 2
    print(f"{len(everything)} settings files, {values} values: {len(wrong)} differ")
    sys.exit(said[0] != said[1] or len(texts) < 5 or values < 10000)


if __name__ == "__main__":
    main()
