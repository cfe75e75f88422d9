#!/usr/bin/python3
"""On terminals of 40, 60 and 80 columns no line of an answer, of a complaint or of help is longer, and
what stands at the bottom of a watched night is one line. A pseudo-terminal of Python's is asked."""
import fcntl
import os
import pathlib
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

from tripod_model import BUILD, CATALOGS, run_in_folder

COMMANDS = ("solve", "aim", "annotate", "plan", "watch", "review", "object")
RIG = """[body Otter]
pixels = 900x600
pixel = 16
[lens Long]
focal = 200
aperture = 2.8
[place Garden]
latitude = 50 N
longitude = 10 E
zone = Europe/Berlin
"""
ANSWERS = [
    ["--help"], *([command, "--help"] for command in COMMANDS), ["object", "M999"],
    ["plan", "--fromm", "20:00"], ["solve", "never-taken.jpg"],
    ["object", "M 42", "--frame-of", "200,14.4x9.6"], ["plan", "--date", "2026-02-24"],
    ["plan", "--date", "2026-02-24", "--target", "M 42"], ["solve", "night/1.fits", "--verbose"],
    ["aim", "night/1.fits", "--target", "M 42"], ["aim", "night/1.fits", "--target", "M 42", "--red"],
    ["watch", "night", "--once", "--target", "M 42"], ["review", "night", "--target", "M 42"]]


def on_terminal(columns, arguments, until=None):
    """What is printed, without colours; ended by an interrupt once that is in it."""
    process, terminal = pty.fork()
    if process == 0:
        os.execv(BUILD + "/alidade", ["alidade", *arguments])
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    text, ends = b"", time.monotonic() + 60
    while time.monotonic() < ends and not (until and until.encode() in text):
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                text += os.read(terminal, 65536)
            except OSError:  # the other side is closed
                break
    if until:
        os.kill(process, signal.SIGINT)
    os.close(terminal)
    os.waitpid(process, 0)
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", text.decode("utf-8", "replace"))


def longest(text):
    return max(re.split(r"[\r\n]", text), key=len)


def check():
    open("rig.ini", "w").write(RIG)
    os.mkdir("night")
    os.environ.update(ALIDADE_RIG=os.path.abspath("rig.ini"), ALIDADE_CATALOGS=CATALOGS)
    subprocess.run([BUILD + "/demo/render", "--stars", CATALOGS + "/stars.tsv", "--focal", "200",
                    "--aperture", "2.8", "--pixel", "16", "--size", "900x600", "--latitude", "50",
                    "--longitude", "10", "--zone", "60", "--exposure", "2", "--interval", "8", "--start",
                    "2026-02-24T19:32:00", "--azimuth", "195.6", "--altitude", "33.5", "--frames", "3",
                    "--out", "night/%d.fits"], check=True, stdout=subprocess.DEVNULL)
    lines = 0
    for columns in (40, 60, 80):
        for answer in ANSWERS:
            text = on_terminal(columns, answer)
            lines += text.count("\n")
            if len(longest(text)) > columns or len(text) < 30:
                sys.exit("%d columns, %s: %r" % (columns, " ".join(answer), longest(text) or text))
        pathlib.Path("night/alidade-night.jsonl").unlink(missing_ok=True)
        text = on_terminal(columns, ["watch", "night", "--target", "M 42", "--batch", "30"], "19:32:16")
        standing = re.findall(r"\n[^\r\n]*in \d+: [^\r\n]*", text)
        if len(standing) < 2 or len(longest(text)) > columns:
            sys.exit("%d columns, watch: %r" % (columns, text))
    print("%d lines at 40, 60 and 80 columns, none longer; the standing line is %r"
          % (lines, standing[-1].strip()))


if __name__ == "__main__":
    run_in_folder(check)
