#!/usr/bin/python3
"""Holds the way from a star to a target, as `alidade plan --target --json` gives it, against astropy.

Stops are seen through the air (1013.25 hPa, 10 degrees, green light): astropy's AltAz with the same
air, to 0.01 degrees, low targets among them, where air lifts by 0.1. Moves in frames and the places of
stars in the frame are computed anew from these directions: to a hundredth of a frame.
"""
import json
import math
import os
import subprocess
import sys
import warnings

import numpy
from astropy import units
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

iers.conf.auto_download = False
BOUND_DEG, BOUND_FRAME = 0.011, 0.01
CASES = [("M 42", 250), ("M 31", 200), ("M 33", 135), ("NGC 253", 200), ("M 8", 200), ("M 81", 300)]
BUILD = os.environ.get("BUILD", "build")
QUIET = {**os.environ, "XDG_CONFIG_HOME": "/dev/null"}


def run(*arguments):
    return json.loads(subprocess.run([os.path.join(BUILD, "alidade"), *arguments], env=QUIET,
                                     stdout=subprocess.PIPE, text=True).stdout)


def direction(name):
    said = run("object", name, "--json")
    return SkyCoord(said["ra_deg"] * units.deg, said["dec_deg"] * units.deg)


def vector(azimuth, altitude):
    a, h = math.radians(azimuth), math.radians(altitude)
    return numpy.array([math.sin(a) * math.cos(h), math.cos(a) * math.cos(h), math.sin(h)])


def in_frame(middle, other, field):
    """Widths right and heights up, by a tangent plane."""
    right = vector(middle[0] + 90, 0)
    up = vector(middle[0], middle[1] + 90)
    ahead, to = vector(*middle), vector(*other)
    depth = to @ ahead
    return [to @ axis / depth / (2 * math.tan(math.radians(side / 2)))
            for axis, side in zip((right, up), field)]


def main():
    warnings.simplefilter("ignore")
    worst_deg, worst_frame, lowest, stops, seen = 0, 0, 90, 0, 0
    place = EarthLocation.from_geodetic(10.2, 50.1, 0)
    for target, focal in CASES:
        plan = run("plan", "--target", target, "--focal", str(focal), "--place", "50.1,10.2", "--date",
                   "2026-09-18", "--above", "8", "--json")
        frame = AltAz(obstime=Time(plan["target"]["begin_utc"].rstrip("Z"), scale="utc"), location=place,
                      pressure=1013.25 * units.hPa, temperature=10 * units.deg_C,
                      obswl=0.55 * units.micron)
        middle = SkyCoord(plan["target"]["frame"]["ra_deg"] * units.deg,
                          plan["target"]["frame"]["dec_deg"] * units.deg)
        field = [plan["camera"]["width_deg"], plan["camera"]["height_deg"]]
        if plan["target"]["frame"]["hold"] == "portrait":
            field.reverse()
        true = []
        for stop in plan["way"]:
            seen_at = (direction(stop["star"]) if "star" in stop else middle).transform_to(frame)
            ours = SkyCoord(stop["azimuth_deg"] * units.deg, stop["altitude_deg"] * units.deg)
            theirs = SkyCoord(seen_at.az, seen_at.alt)
            worst_deg = max(worst_deg, ours.separation(theirs).deg)
            lowest = min(lowest, stop["altitude_deg"])
            if true:
                pan = (seen_at.az.deg - true[0] + 180) % 360 - 180
                wanted = (pan * math.cos(math.radians(true[1])) / field[0],
                          (seen_at.alt.deg - true[1]) / field[1])
                worst_frame = max(worst_frame, abs(wanted[0] - stop["right_widths"]),
                                  abs(wanted[1] - stop["up_heights"]))
            true = [seen_at.az.deg, seen_at.alt.deg]
            stops += 1
        at = direction(plan["way"][0]["star"]).transform_to(frame) if plan["way"] else None
        for step in plan["star_steps"]:
            to = (direction(step["star"]) if "star" in step else middle).transform_to(frame)
            wanted = in_frame((at.az.deg, at.alt.deg), (to.az.deg, to.alt.deg), field)
            worst_frame = max(worst_frame, abs(wanted[0] - step["right_widths"]),
                              abs(wanted[1] - step["up_heights"]))
            at, seen = to, seen + 1
    print("%d stops down to %.0f degrees within %.4f degrees of astropy's (bound %g), moves and %d stars "
          "in frames within %.4f (bound %g)" % (stops, lowest, worst_deg, BOUND_DEG, seen, worst_frame,
                                               BOUND_FRAME))
    good = worst_deg <= BOUND_DEG and worst_frame <= BOUND_FRAME and seen > 8 and lowest < 20
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
