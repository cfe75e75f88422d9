#!/usr/bin/python3
"""Compares azimuths and altitudes with astropy's AltAz.

The program horizon_samples, of the folder that BUILD names, prints ours.

Bounds: 0.5 arcsec when UT1 is taken for UTC here as well (what is left is polar motion, up to 0.4
arcsec), 1 arcmin with astropy's own Earth orientation (UT1 is up to 0.9 s, 13 arcsec, off).
"""
import csv
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


def separation_arcsec(row, true_ut1):
    when = Time(row["utc"].rstrip("Z"), scale="utc")
    if not true_ut1:
        when.delta_ut1_utc = 0
    place = EarthLocation.from_geodetic(float(row["longitude"]), float(row["latitude"]),
                                        float(row["height"]))
    frame = AltAz(obstime=when, location=place)
    star = SkyCoord(float(row["ra_deg"]), float(row["dec_deg"]), unit="deg").transform_to(frame)
    ours = SkyCoord(float(row["azimuth"]) * units.deg, float(row["altitude"]) * units.deg,
                    frame=frame)
    return star.separation(ours).arcsec


def main():
    # The leap seconds that astropy carries reach beyond the dates used here.
    warnings.simplefilter("ignore", iers.IERSStaleWarning)
    program = os.path.join(os.environ.get("BUILD", "build"), "tests/outside/horizon_samples")
    text = subprocess.run([program], check=True, stdout=subprocess.PIPE, text=True).stdout
    rows = list(csv.DictReader(text.splitlines(), delimiter="\t"))
    if not rows:
        sys.exit("horizon_samples printed nothing")
    worst = max(separation_arcsec(row, False) for row in rows)
    worst_true = max(separation_arcsec(row, True) for row in rows[::7])
    print("%d directions: worst %.2f arcsec with UT1 = UTC (bound 0.5), %.1f arcsec with the true "
          "UT1 (bound 60)" % (len(rows), worst, worst_true))
    sys.exit(0 if numpy.isfinite(worst) and worst <= 0.5 and worst_true <= 60 else 1)


if __name__ == "__main__":
    main()
