#!/usr/bin/python3
"""Looks for catalogue stars in rendered FITS files where astropy puts them.

The program demo/render, of the folder that BUILD names, renders them.

The renderer, its rows, its WCS header and the catalogue meet here without any code of the project:
astropy reads file and header, photutils measures the stars. Exits with 1 unless the median star is
within 0.1 px and nine in ten are within 0.4 px (trails of neighbours, photon noise).
"""
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS, FITSFixedWarning
from photutils.centroids import centroid_com

CATALOGUE = os.path.join(os.path.dirname(__file__), "..", "..", "catalogs", "stars.tsv")
FRAMES = {
    "plain": ["--ra", "56.75", "--dec", "24.12", "--focal", "200"],
    "mirrored": ["--ra", "101.3", "--dec", "-16.7", "--up", "130", "--mirrored", "--focal", "135"],
    "pole": ["--ra", "20", "--dec", "89", "--up", "60", "--focal", "85", "--distortion", "-0.05"],
    "crop": ["--ra", "359.9", "--dec", "29", "--focal", "100", "--axis-x", "-900", "--distortion",
             "0.04"],
}


def catalogue():
    with open(CATALOGUE) as table:
        lines = [line for line in table if not line.startswith("#")]
    rows = numpy.genfromtxt(lines, delimiter="\t", names=True)
    return rows[rows["v_mag"] < 7.5]


def off_px(image, x, y):
    """Distance of the star near (x, y), 0-based, from there; None at the edge."""
    half = 8
    i, j = int(round(x)), int(round(y))
    if not (half <= i < image.shape[1] - half and half <= j < image.shape[0] - half):
        return None
    box = image[j - half:j + half + 1, i - half:i + half + 1].astype(float)
    box = box - numpy.median(numpy.concatenate([box[0], box[-1], box[:, 0], box[:, -1]]))
    box[box < 0.15 * box.max()] = 0
    cx, cy = centroid_com(box)
    return numpy.hypot(cx - half - (x - i), cy - half - (y - j))


def check(render, folder, name, options, stars):
    image_name = os.path.join(folder, name + ".fits")
    header_name = os.path.join(folder, name + ".wcs")
    subprocess.run([render, "--size", "2400x1600", "--clean", "--aperture", "2", "--out",
                    image_name, "--wcs", header_name] + options, check=True,
                   stdout=subprocess.DEVNULL)
    image = fits.getdata(image_name)
    wcs = WCS(fits.getheader(header_name))
    centre = wcs.all_pix2world(1200, 800, 0)
    ra, dec = numpy.radians(stars["ra_deg"]), numpy.radians(stars["dec_deg"])
    ra0, dec0 = numpy.radians(centre)
    cosine = (numpy.sin(dec) * numpy.sin(dec0)
              + numpy.cos(dec) * numpy.cos(dec0) * numpy.cos(ra - ra0))
    near = stars[cosine > numpy.cos(numpy.radians(6))]
    x, y = wcs.all_world2pix(near["ra_deg"], near["dec_deg"], 0, quiet=True)
    offs = []
    for k in range(len(near)):
        gap = numpy.hypot(x - x[k], y - y[k])
        gap[k] = numpy.inf
        off = off_px(image, x[k], y[k]) if gap.min() > 20 else None
        if off is not None:
            offs.append(off)
    median, high = numpy.percentile(offs, [50, 90])
    print("%-10s %3d stars, median off %.3f px, nine in ten within %.3f px"
          % (name, len(offs), median, high))
    return len(offs) >= 8 and median <= 0.1 and high <= 0.4


def main():
    warnings.simplefilter("ignore", FITSFixedWarning)
    render = os.path.join(os.environ.get("BUILD", "build"), "demo/render")
    stars = catalogue()
    with tempfile.TemporaryDirectory() as folder:
        good = [check(render, folder, name, options, stars) for name, options in FRAMES.items()]
    print("%d of %d frames hold the catalogue's stars where astropy puts them"
          % (sum(good), len(good)))
    sys.exit(0 if all(good) else 1)


if __name__ == "__main__":
    main()
