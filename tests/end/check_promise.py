#!/usr/bin/env python3
"""What the first frame promises of a target's signal to noise, held against what the stack of rendered
nights shows: kept when nothing happens, and where something does, said with the reason: the sky
brighter, cloud, focus lost, frames lost. The picture says that it is a glimpse.

The promise has the renderer's truth behind it: signal to noise grows with the root of the frames, and a
sky 1.9 times as bright in a frame whose noise is mostly the sky's takes a quarter of it (Poisson)."""
import json
import os
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
import nebula_tables  # noqa: E402

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
CATALOGS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../catalogs")
NAME, FRAMES = "Inv 1", 24
NEBULA = [NAME, "83.80", "-5.60", "even nebula", "4.2", "42", "28", "30", "", "", ""]
VIEW = ["--stars", CATALOGS + "/stars.tsv", "--focal", "200", "--aperture", "2.8", "--pixel", "8",
        "--size", "900x600", "--interval", "2", "--azimuth", "195.9", "--altitude", "33.4", "--clean",
        "--exposure", "0.5"]
failures = []


def run(*command):
    return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout


def render(folder, first, last, *more):
    """Frames first..last of a night, two seconds apart."""
    seconds = 2 * first
    run(BUILD + "/demo/render", *VIEW, "--objects", "drawn.tsv", "--seed", str(100 + first), "--start",
        "2026-02-24T19:%02d:%02d" % (30 + seconds // 60, seconds % 60), "--frames",
        str(last - first + 1), "--out", folder + "/%c-%%02d.fits" % (97 + first), *more)


def watch(folder):
    """The last that is told of the stack of a folder, and the PNG."""
    run(BUILD + "/demo/render", *VIEW, "--cap", "--start", "2026-02-24T19:20:00", "--out",
        folder + "/0-dark.fits")
    told = run(BUILD + "/alidade", "watch", folder, "--once", "--json", "--target", NAME, "--catalogs",
               "tables", "--place", "50,10", "--stack", folder + ".png")
    return [json.loads(line)["stack"] for line in told.splitlines() if '{"stack"' in line][-1]


def check(case, stack, good):
    print("%s: %s; %s" % (case, stack["answer"], stack.get("broken", "")))
    if not good:
        failures.append("%s: %s" % (case, json.dumps(stack)))


def night(case, *later):
    os.mkdir(case)
    render(case, 1, 3, "--sky", "18.3")
    render(case, 4, FRAMES, *(later or ("--sky", "18.3")))
    return watch(case)


with tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    os.environ["XDG_CONFIG_HOME"] = folder
    nebula_tables.write(CATALOGS, NEBULA)
    stack = night("kept")
    check("kept", stack, stack["snr_promised"] and not stack.get("broken") and
          abs(stack["snr"] / stack["snr_promised"] - 1) < 0.2)
    stack = night("bright", "--sky", "16.3")
    check("bright", stack, "the sky is" in stack.get("broken", ""))
    stack = night("cloud", "--sky", "18.3", "--cloud", "0.7")
    check("cloud", stack, "cloud" in stack.get("broken", ""))
    stack = night("focus", "--sky", "18.3", "--fwhm", "6")
    check("focus", stack, "frames were lost" in stack.get("broken", "") and
          "for focus" in stack["broken"])
    stack = night("shaken", "--sky", "18.3", "--knock", "9,5")
    check("shaken", stack, "frames were lost" in stack.get("broken", "") and
          "shaken" in stack["broken"])
    with open("kept.png", "rb") as png:
        if b"tEXtDescription\0%d frames: a glimpse" % FRAMES not in png.read():
            failures.append("the PNG does not say that it is a glimpse")

print("\n".join(failures) or "promises kept, and broken ones told with their reasons")
sys.exit(bool(failures))
