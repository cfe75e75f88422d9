#!/usr/bin/python3
"""Compares azimuths and altitudes of 2,000 random stars, places and times with astropy's AltAz.

The program horizon_samples, of the folder that BUILD names, prints ours; the last fifth is seen
through air.

Bounds: 0.01 arcsec when UT1 is taken for UTC and the pole for fixed here as well, with air (above 5
degrees) too; 1 arcmin with astropy's own Earth orientation (UT1 is up to 0.9 s, 13 arcsec, off).
"""
import csv
import os
import subprocess
import sys
import warnings

import numpy
from astropy import units
from astropy.coordinates import erfa_astrom
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

iers.conf.auto_download = False
TRUE_POLE = erfa_astrom.get_polar_motion


def separations_arcsec(samples, true_earth):
    when = Time([text.rstrip("Z") for text in samples["utc"]], scale="utc")
    erfa_astrom.get_polar_motion = TRUE_POLE if true_earth else lambda time: (0.0, 0.0)
    if not true_earth:
        when.delta_ut1_utc = 0
    place = EarthLocation.from_geodetic(samples["longitude"], samples["latitude"],
                                        samples["height"])
    frame = AltAz(obstime=when, location=place, pressure=samples["pressure"] * units.hPa,
                  temperature=samples["temperature"] * units.deg_C, relative_humidity=0.5,
                  obswl=0.53 * units.micron)
    star = SkyCoord(samples["ra_deg"], samples["dec_deg"], unit="deg").transform_to(frame)
    ours = SkyCoord(samples["azimuth"] * units.deg, samples["altitude"] * units.deg, frame=frame)
    return star.separation(ours).arcsec


def read_samples():
    program = os.path.join(os.environ.get("BUILD", "build"), "tests/outside/horizon_samples")
    text = subprocess.run([program], check=True, stdout=subprocess.PIPE, text=True).stdout
    rows = list(csv.DictReader(text.splitlines(), delimiter="\t"))
    return {key: numpy.array([row[key] for row in rows]).astype("U40" if key == "utc" else float)
            for key in rows[0]}


def main():
    # The leap seconds that astropy carries reach beyond the dates used here.
    warnings.simplefilter("ignore", iers.IERSStaleWarning)
    samples = read_samples()
    air = samples["pressure"] > 0
    bare = {key: column[~air] for key, column in samples.items()}
    seen = {key: column[air & (samples["altitude"] > 5)] for key, column in samples.items()}
    worst = separations_arcsec(bare, False).max()
    worst_true = separations_arcsec(bare, True).max()
    worst_air = separations_arcsec(seen, False).max()
    print("%d directions: worst %.5f arcsec on the same Earth, %.5f through air (%d; bounds 0.01), "
          "%.1f arcsec with the true Earth (bound 60)"
          % (air.size, worst, worst_air, seen["utc"].size, worst_true))
    good = worst <= 0.01 and worst_air <= 0.01 and worst_true <= 60
    sys.exit(0 if air.size == 2000 and seen["utc"].size > 100 and good else 1)


if __name__ == "__main__":
    main()
