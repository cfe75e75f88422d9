#!/usr/bin/python3
"""Reads headers that the library wrote with astropy and compares both ways.

The program wcs_samples, of the folder that BUILD names, writes them and samples.tsv.

Pixels: samples.tsv counts from 0 at the top left, y down; FITS counts from 1, y up unless the
header says ROWORDER = 'TOP-DOWN'. Exits with 1 if any position is off by more than 0.01 px.
"""
import csv
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS, FITSFixedWarning

BOUND_PX = 0.01
BUILD = os.environ.get("BUILD", "build")


def unit_vectors(ra, dec):
    ra, dec = numpy.radians(ra), numpy.radians(dec)
    return numpy.stack([numpy.cos(dec) * numpy.cos(ra), numpy.cos(dec) * numpy.sin(ra),
                        numpy.sin(dec)], axis=-1)


def inverse_by_header(wcs, ra, dec):
    """Sky to pixel with the header's own AP_ and BP_ polynomials, without iterating."""
    focal = wcs.wcs_world2pix(numpy.stack([ra, dec], axis=-1), 1)
    return wcs.sip_foc2pix(focal - wcs.sip.crpix, 1) if wcs.sip else focal


def check(folder, name, rows):
    header = fits.getheader(os.path.join(folder, name + ".wcs"))
    wcs = WCS(header)
    x, y, ra, dec = (numpy.array([float(r[k]) for r in rows])
                     for k in ("x", "y", "ra_deg", "dec_deg"))
    top_down, height = int(rows[0]["top_down"]), int(rows[0]["height"])
    if (header.get("ROWORDER", "").strip() == "TOP-DOWN") != bool(top_down):
        sys.exit("%s: ROWORDER does not say how rows go" % name)
    pixel = numpy.stack([x + 1, y + 1 if top_down else height - y], axis=-1)
    if header["RADESYS"] != "ICRS" or header["EQUINOX"] != 2000 or header["IMAGEH"] != height:
        sys.exit("%s: RADESYS, EQUINOX or IMAGEH is wrong" % name)

    sky = wcs.all_pix2world(pixel, 1)
    chord = numpy.linalg.norm(unit_vectors(sky[:, 0], sky[:, 1]) - unit_vectors(ra, dec), axis=1)
    # Where a wide field's pixels are smallest on the sky, an angle counts for most pixels.
    distance = numpy.degrees(chord) * 3600
    scale = 3600 * numpy.sqrt(abs(numpy.linalg.det(wcs.pixel_scale_matrix)))
    plain = "TAN" in header["CTYPE1"]
    corner = unit_vectors(ra, dec) @ unit_vectors(*wcs.wcs.crval) if plain else 1
    to_sky = (distance / (scale * corner ** 2)).max()

    found = wcs.all_world2pix(numpy.stack([ra, dec], axis=-1), 1, tolerance=1e-6, maxiter=100)
    to_pixel = abs(found - pixel).max()
    by_header = abs(inverse_by_header(wcs, ra, dec) - pixel).max()
    print("%-16s %s  to sky %.1e px, to pixel %.1e px, by AP_ and BP_ %.1e px"
          % (name, header["CTYPE1"].strip().ljust(12), to_sky, to_pixel, by_header))
    return max(to_sky, to_pixel, by_header)


def check_all(folder):
    kinds = {}
    with open(os.path.join(folder, "samples.tsv"), newline="") as table:
        for row in csv.DictReader(table, delimiter="\t"):
            kinds.setdefault(row["name"], []).append(row)
    if not kinds:
        sys.exit("wcs_samples wrote no samples")
    return max(check(folder, name, rows) for name, rows in kinds.items())


def main():
    # The headers describe a picture kept elsewhere: two axes and no pixels are meant.
    warnings.simplefilter("ignore", FITSFixedWarning)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([os.path.join(BUILD, "tests/outside/wcs_samples"), folder], check=True)
        worst = check_all(folder)
    print("headers read by astropy: worst %.2g px, bound %g px" % (worst, BOUND_PX))
    sys.exit(0 if worst <= BOUND_PX else 1)


if __name__ == "__main__":
    main()
