#!/usr/bin/python3
"""Reads FITS copies that `alidade solve --fits` wrote with astropy: the pixels must be those of the
frame, the header must be valid, and its WCS must be that of `--header`.
"""
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS, FITSFixedWarning

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
POINTS = numpy.array([[0, 0], [750, 500], [1400, 10]])


def run(*words):
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)


def solve(frame):
    run(os.path.join(BUILD, "alidade"), "solve", frame, "--fits", "copy.fits", "--header", "wcs.fits",
        "--replace")
    with fits.open("copy.fits") as copy:
        copy.verify("exception")
        image, header = copy[0].data.copy(), copy[0].header
    alone = WCS(fits.getheader("wcs.fits")).all_pix2world(POINTS, 0)
    off = abs(WCS(header, naxis=2).all_pix2world(POINTS, 0) - alone).max() * 3600
    if off > 1e-6:
        sys.exit("%s: the copy's WCS is off by %g arcsec" % (frame, off))
    return image, header


def main():
    warnings.simplefilter("ignore", FITSFixedWarning)
    os.environ["ALIDADE_CATALOGS"] = os.path.join(ROOT, "catalogs")
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        for name in "frame.fits", "frame.png":
            run(os.path.join(BUILD, "demo/render"), "--stars", os.path.join(ROOT,
                "catalogs/stars.tsv"), "--ra", "83.82", "--dec", "-5.39", "--focal", "135",
                "--pixel", "10", "--size", "1500x1000", "--out", name)
        original = fits.open("frame.fits")[0]
        original.header["CROTA2"], original.header["PC1_1"] = 5.0, 0.5
        original.header["OBSERVER"] = "nobody"
        original.writeto("old.fits")
        image, header = solve("old.fits")
        if not numpy.array_equal(image, fits.getdata("frame.fits")):
            sys.exit("old.fits: the pixels have changed")
        if "CROTA2" in header or "PC1_1" in header or header["OBSERVER"] != "nobody":
            sys.exit("old.fits: old WCS cards must go, all others stay")
        # The same sky as 16-bit PNG: linear, so its levels must come through unstretched.
        colour, _ = solve("frame.png")
        plain = fits.getdata("frame.fits").astype(float)
        if colour.shape != (3, 1000, 1500) or colour.dtype != numpy.uint16:
            sys.exit("frame.png: expected three planes of 16 bits, found %s %s"
                     % (colour.shape, colour.dtype))
        ratio = colour.mean() / plain.mean()
        correlation = numpy.corrcoef(colour[0].ravel(), plain.ravel())[0, 1]
        if not (0.8 < ratio < 1.25 and correlation > 0.8):
            sys.exit("frame.png: levels %.3f of the frame's, correlation %.3f"
                     % (ratio, correlation))
    print("copies keep pixels and cards, and carry the WCS of --header; "
          "16-bit PNG: mean level %.3f of FITS, correlation %.3f" % (ratio, correlation))


main()
