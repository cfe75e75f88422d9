#!/usr/bin/python3
"""A skyline learned from five wide frames with roofs, against the one that they were rendered with.

Bounds: within 1 degree over 90 % of the roofs between azimuths 124 and 282, walls included, whatever
stars stand behind them at either hour; nothing where no frame looked. What is kept is then read back
by plan and aim.
"""
import json
import os
import re
import subprocess
import sys

import numpy

from tripod_model import BUILD, CATALOGS, run_in_folder

ROOFS = [(120, 8), (150, 10), (168, 27), (186, 12), (192, 12), (192, 19), (214, 19), (214, 9),
         (232, 16), (250, 22), (262, 14), (285, 12)]
CAMERA = ["--focal", "20", "--aperture", "2.8", "--pixel", "7.4", "--size", "3000x2000",
          "--exposure", "13", "--sky", "20", "--distortion", "-0.02"]
BARE = "[place Garden]\nlatitude = 50\nlongitude = 10\n"
HERE = ["--place", "Garden", "--rig", "rig.ini", "--zone", "+00:00"]


def photograph(hour, i, azimuth):
    name = "wide-%d-%d.jpg" % (hour, i)
    subprocess.run([BUILD + "/demo/render", "--stars", CATALOGS + "/stars.tsv", *CAMERA, "--start",
                    "2026-02-24T%02d:%02d:00" % (hour, 10 * i), "--azimuth", str(azimuth), "--altitude",
                    "26", "--seed", str(i + 1), "--out", name, "--skyline",
                    " ".join("%g:%g" % point for point in ROOFS)],
                   check=True, stdout=subprocess.DEVNULL)
    return name


def alidade(*arguments):
    done = subprocess.run([BUILD + "/alidade", *arguments], stdout=subprocess.PIPE, text=True)
    if done.returncode:
        sys.exit("%s: exit code %d" % (" ".join(arguments), done.returncode))
    return done.stdout


def kept_points():
    """As anybody would read the settings file."""
    points = []
    for line in re.findall(r"^skyline = (.*)$", open("rig.ini").read(), re.M):
        for point in line.split():
            azimuth, altitude = point.split(":")
            points.append((float(azimuth), numpy.nan if altitude == "-" else float(altitude)))
    return points


def between(points, azimuth):
    """Altitude on the line, NaN where an end of the piece is not known."""
    k = numpy.searchsorted([point[0] for point in points], azimuth, side="right")
    (a, low), (b, high) = points[k - 1], points[k % len(points)]
    return low + (high - low) * ((azimuth - a) % 360) / ((b - a) % 360)


def window_end(rig):
    plan = json.loads(alidade("plan", "--target", "Sirius", "--focal", "50", "--date", "2026-02-24",
                              "--place", "Garden", "--rig", rig, "--above", "5", "--json"))
    return plan["target"]["window"]


def learn(hour):
    """Names of the frames, and by how much the line is off where there are roofs."""
    open("rig.ini", "w").write(BARE)
    names = [photograph(hour, i, azimuth) for i, azimuth in enumerate((150, 175, 200, 225, 250))]
    said = alidade("aim", *names, "--learn-skyline", "--pressure", "0", *HERE)
    if not re.search(r"^Garden: .*\n(.*\n)*  kept     in rig.ini", said):
        sys.exit("said: " + said)
    points = kept_points()
    azimuths = numpy.arange(124, 282, 0.25)
    truth = numpy.interp(azimuths, [p[0] + 1e-9 * i for i, p in enumerate(ROOFS)],
                         [p[1] for p in ROOFS])
    found = numpy.array([between(points, azimuth) for azimuth in azimuths])
    if not all(numpy.isnan(between(points, azimuth)) for azimuth in (*range(0, 90), *range(310, 360))):
        sys.exit("a skyline where no frame has looked")
    return names, numpy.abs(found - truth)


def check():
    open("bare.ini", "w").write(BARE)
    off = {hour: learn(hour) for hour in (21, 23)}
    names = off[23][0]
    free, cut = window_end("bare.ini"), window_end("rig.ini")
    if not cut["end_utc"] < free["end_utc"]:
        sys.exit("the window of Sirius ends at %s with the roofs" % cut["end_utc"])
    advice = alidade("aim", names[2], "--target", "Sirius", *HERE)
    if not re.search(r"^  skyline  the target (goes|is) behind", advice, re.M):
        sys.exit("no word of the skyline: " + advice)
    right = {hour: numpy.mean(missed < 1) for hour, (_, missed) in off.items()}
    print("; ".join("%.1f %% of the roofs within 1 degree at %d h (bound 90), half within %.2f"
                    % (100 * right[hour], hour, numpy.nanmedian(off[hour][1])) for hour in off))
    sys.exit(0 if min(right.values()) > 0.9 else 1)


if __name__ == "__main__":
    os.environ["ALIDADE_CATALOGS"] = CATALOGS
    run_in_folder(check)
