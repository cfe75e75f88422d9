#!/usr/bin/python3
"""Compares stars that `alidade-index build --epoch` has moved with astropy's apply_space_motion.

The environment's BUILD names the build folder (build by default).

Stars all over the sky and close to both poles, with proper motions up to that of the fastest star
known (10.4 arcsec a year), are moved by up to 200 years either way, and read back from the index
file as index-build/FORMAT.md describes it. astropy needs a distance; at 10 parsecs the time that light takes
changes nothing here.

Bound: 0.1 mas; half a step of the coordinates in the file is 0.08 mas.
"""
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy import units
from astropy.coordinates import SkyCoord
from astropy.time import Time

warnings.simplefilter("ignore")  # of years before leap seconds

BOUND_MAS = 0.2  # an index keeps places to that: index-build/FORMAT.md
FROM = 1991.25


def make_stars(count):
    random = numpy.random.default_rng(7)
    dec = numpy.degrees(numpy.arcsin(random.uniform(-1, 1, count)))
    dec[:200] = 90 - 10 ** random.uniform(-6, 0, 200)
    dec[200:400] = -dec[:200]
    size = 10 ** random.uniform(-1, 4.017, count)
    way = random.uniform(0, 2 * numpy.pi, count)
    return {
        "id": numpy.arange(1, count + 1),
        "ra": random.uniform(0, 360, count).round(10),
        "dec": dec.round(10),
        "vmag": random.uniform(0, 10, count).round(3),
        "pmra": (size * numpy.sin(way)).round(4),
        "pmdec": (size * numpy.cos(way)).round(4),
    }


def write_csv(name, stars):
    with open(name, "w") as out:
        print(",".join(stars), file=out)
        for row in zip(*stars.values()):
            print(",".join("%.10f" % x if isinstance(x, float) else "%d" % x for x in row),
                  file=out)


def read_index(name):
    """Unit vectors by number, as index_stars prints them."""
    tool = os.path.join(os.environ.get("BUILD", "build"), "tests/outside/index_stars")
    text = subprocess.run([tool, name], check=True, capture_output=True, text=True).stdout
    rows = numpy.array([[float(cell) for cell in line.split("\t")[:3]] for line in text.splitlines()])
    ra, dec = numpy.radians(rows[numpy.argsort(rows[:, 0]), 1:]).T
    return numpy.stack([numpy.cos(dec) * numpy.cos(ra), numpy.cos(dec) * numpy.sin(ra),
                        numpy.sin(dec)], axis=1)


def move_with_astropy(stars, year):
    when = SkyCoord(stars["ra"] * units.deg, stars["dec"] * units.deg, 0.001 * units.pc,
                    pm_ra_cosdec=stars["pmra"] * units.mas / units.yr,
                    pm_dec=stars["pmdec"] * units.mas / units.yr,
                    radial_velocity=0 * units.km / units.s, obstime=Time(FROM, format="jyear"))
    moved = when.apply_space_motion(new_obstime=Time(year, format="jyear"))
    direction = moved.icrs.cartesian.xyz.value.T
    return direction / numpy.linalg.norm(direction, axis=1)[:, None]


def main():
    program = os.path.join(os.environ.get("BUILD", "build"), "alidade-index")
    stars = make_stars(4000)
    worst = 0
    with tempfile.TemporaryDirectory() as folder:
        write_csv(folder + "/moving.csv", stars)
        for year in (1800, 2016, 2191.25):
            subprocess.run([program, "build", folder + "/moving.csv", "-o",
                            folder + "/moving.alidx", "--density", "100000", "--from-epoch", str(FROM), "--epoch",
                            str(year)], check=True, stdout=subprocess.DEVNULL)
            apart = read_index(folder + "/moving.alidx") - move_with_astropy(stars, year)
            mas = numpy.degrees(numpy.linalg.norm(apart, axis=1)) * 3.6e6
            print("%8.2f: %d stars, at most %.3f mas apart, median %.3f mas (bound %.1f)"
                  % (year, len(mas), mas.max(), numpy.median(mas), BOUND_MAS))
            worst = max(worst, mas.max())
    sys.exit(0 if worst <= BOUND_MAS else 1)


if __name__ == "__main__":
    main()
