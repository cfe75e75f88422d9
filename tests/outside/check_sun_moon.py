#!/usr/bin/python3
"""Compares the Sun and the Moon with astropy: places, phase, rise, set and twilight.

The program sun_moon_samples, of the folder that BUILD names, prints ours. Both take UT1 for UTC.
astropy's built-in ephemeris rests on the same series for Earth and Moon as ERFA does; what this
checks is everything behind them: frames, parallax, aberration, sidereal time, the search for the
crossings. Published places are in tests/unit/test_sun_moon.c.

Bounds: 1 arcmin for places, 10 s for crossings (found here by interpolating astropy's altitudes,
sampled every 15 minutes; shallow ones by the 1 arcmin instead), 0.001 for the lit share, 0.2 degrees
for the way to the Sun along the sky where the Moon is not within 10 degrees of the Sun or of the
place opposite to it.
"""
import functools
import os
import subprocess
import sys
import warnings

import numpy
from astropy import units
from astropy.coordinates import (AltAz, EarthLocation, SkyCoord, get_body, get_sun,
                                 solar_system_ephemeris)
from astropy.time import Time
from astropy.utils import iers
from scipy.interpolate import CubicSpline

iers.conf.auto_download = False
solar_system_ephemeris.set("builtin")


def seen(kind, times, places):
    times.delta_ut1_utc = 0
    body = get_sun(times) if kind == "sun" else get_body("moon", times, places)
    return body.transform_to(AltAz(obstime=times, location=places))


def lit_share(times, places=None):
    sun, moon = get_body("sun", times, places), get_body("moon", times, places)
    elongation = sun.separation(moon).rad
    phase = numpy.arctan2(sun.distance.au * numpy.sin(elongation),
                          moon.distance.au - sun.distance.au * numpy.cos(elongation))
    return (1 + numpy.cos(phase)) / 2


def limb_errors(times, places, limbs):
    """Degrees between our middle of the Moon's bright limb and the great circle to the Sun."""
    sun, moon = (get_body(name, times, places) for name in ("sun", "moon"))
    apart = sun.separation(moon).deg
    off = (moon.position_angle(sun).deg - limbs + 180) % 360 - 180
    return numpy.abs(off[(apart > 10) & (apart < 170)])


def check_places(rows):
    worst = {}
    for kind in ("sun", "moon"):
        mine = [row for row in rows if row[0] == kind]
        times = Time([row[1].rstrip("Z") for row in mine], scale="utc")
        columns = numpy.array([[float(v) for v in row[2:11]] for row in mine])
        places = EarthLocation.from_geodetic(columns[:, 1], columns[:, 0], columns[:, 2])
        theirs = seen(kind, times, places)
        ours = SkyCoord(columns[:, 3] * units.deg, columns[:, 4] * units.deg,
                        frame=AltAz(obstime=times, location=places))
        worst[kind] = theirs.separation(ours).arcsec.max()
        if kind == "moon":
            worst["lit"] = numpy.abs(lit_share(times) - columns[:, 5]).max()
            worst["lit here"] = numpy.abs(lit_share(times, places) - columns[:, 7]).max()
            worst["limb"] = limb_errors(times, places, columns[:, 8]).max()
    return len(rows), worst


@functools.lru_cache(maxsize=4)
def altitudes(kind, start, latitude, longitude, height):
    seconds = numpy.arange(0, 86401, 900.0)
    place = EarthLocation.from_geodetic(float(longitude), float(latitude), float(height))
    return seconds, seen(kind, Time(start, scale="utc") + seconds * units.s, place).alt.deg


def check_crossings(row):
    """Returns (crossings compared, worst difference in seconds); NaN if the numbers differ."""
    kind, altitude, count = row[0].split("-")[0], float(row[5]), int(row[6])
    seconds, heights = altitudes(kind, row[1].rstrip("Z"), *row[2:5])
    curve = CubicSpline(seconds, heights - altitude)
    roots = [r for r in curve.roots(extrapolate=False) if 1 < r < 86399]
    ours = [(float(row[7 + 2 * i]), row[8 + 2 * i] == "1") for i in range(count)]
    ours = [c for c in ours if 1 < c[0] < 86399]
    if len(roots) != len(ours):
        # A visit of a minute of arc beyond the altitude is within the error of the series.
        tops = curve.derivative().roots(extrapolate=False)
        graze = min([abs(curve(t)) for t in tops] or [9])
        return (0, 0.0) if graze < 1 / 60 else (0, float("nan"))
    worst = 0.0
    for root, (ours_s, rising) in zip(roots, ours):
        slope = float(curve(root, 1))
        if (slope > 0) != rising:
            return 0, float("nan")
        off_s = abs(root - ours_s)
        shallow = off_s * abs(slope) < 0.1 / 3600
        worst = max(worst, 0.0 if shallow else off_s)
    return len(roots), worst


def main():
    warnings.simplefilter("ignore")
    program = os.path.join(os.environ.get("BUILD", "build"), "tests/outside/sun_moon_samples")
    text = subprocess.run([program], check=True, stdout=subprocess.PIPE, text=True).stdout
    rows = [line.split("\t") for line in text.splitlines()]
    count, worst = check_places([row for row in rows if row[0] in ("sun", "moon")])
    crossings = [check_crossings(row) for row in rows if row[0].endswith("-crossings")]
    compared = sum(c[0] for c in crossings)
    worst_s = max(float("inf") if numpy.isnan(c[1]) else c[1] for c in crossings)
    lit = max(worst["lit"], worst["lit here"])
    print("%d places: Sun within %.2f, Moon within %.2f arcsec (bound 60), lit share within %.5f "
          "(0.001), way of the light within %.3f degrees (0.2); %d crossings within %.2f s (bound 10)"
          % (count, worst["sun"], worst["moon"], lit, worst["limb"], compared, worst_s))
    good = (count == 4000 and worst["sun"] <= 60 and worst["moon"] <= 60 and lit <= 0.001
            and worst["limb"] <= 0.2 and compared > 500 and worst_s <= 10)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
