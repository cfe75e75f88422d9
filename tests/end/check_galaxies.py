#!/usr/bin/python3
"""How galaxies lie, in real photographs that are not part of the project (see check_photos.py):
the position angle of a galaxy's light, measured through the solution of the frame, against that of
the tables, which is from memory. Skips with 77 where the folder is missing.
"""
import json
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS, FITSFixedWarning
from PIL import Image, ImageFilter

BUILD = os.environ.get("BUILD", "build")
FOLDER = os.environ.get("ALIDADE_PHOTOS", os.path.join("..", "shared", "photos"))
GALAXIES = [("p01.jpg", "M 31"), ("p01.jpg", "M 110"), ("p08.jpg", "M 31"), ("p14.jpg", "M 81"),
            ("p14.jpg", "M 82")]
MOST_OFF_DEG = 10  # arms and dust lanes tilt the inner light against the outline


def ask(*arguments):
    done = subprocess.run([os.path.join(BUILD, "alidade"), *arguments], capture_output=True,
                          text=True, check=True)
    return done.stdout


def light(photo):
    """Rows from the lowest up, as in a FITS file, blocks of so many pixels a side for one, and that
    number; stars are filtered away."""
    with Image.open(photo) as picture:
        width, height = picture.size
        side = max(1, max(width, height) // 1200)
        whole = picture.convert("L").crop((0, height % side, width - width % side, height))
    grey = whole.reduce(side).filter(ImageFilter.MedianFilter(5))
    grey = grey.filter(ImageFilter.GaussianBlur(1.5))
    return numpy.flipud(numpy.asarray(grey, dtype=float)), side


def long_axis(values, x, y, reach):
    """Direction of the greatest second moment of what stands out of the sky, in an aperture of
    that radius."""
    rows, columns = numpy.indices(values.shape)
    away = numpy.hypot(columns - x, rows - y)
    inside = away < reach
    sky = numpy.median(values[(away > 1.2 * reach) & (away < 1.6 * reach)])
    bright = inside & (values > sky + 0.3 * (numpy.percentile(values[inside], 97) - sky))
    dx, dy = columns[bright] - x, rows[bright] - y
    spread = numpy.cov(dx, dy)
    axes = numpy.linalg.eigh(spread)[1]
    return axes[:, 1]


def position_angle(wcs, x, y, axis):
    ends = wcs.all_pix2world([[x - axis[0], y - axis[1]], [x + axis[0], y + axis[1]]], 0)
    east = (ends[1][0] - ends[0][0] + 540) % 360 - 180
    east *= numpy.cos(numpy.radians(ends.mean(axis=0)[1]))
    return numpy.degrees(numpy.arctan2(east, ends[1][1] - ends[0][1])) % 180


def main():
    warnings.simplefilter("ignore", FITSFixedWarning)
    if not os.path.exists(os.path.join(FOLDER, "README.md")):
        print("no folder of photographs (ALIDADE_PHOTOS is not set)")
        return 77
    worst = 0
    with tempfile.TemporaryDirectory() as scratch:
        for name, galaxy in GALAXIES:
            photo, header = os.path.join(FOLDER, name), os.path.join(scratch, "solution.fits")
            ask("solve", photo, "--header", header)
            wcs = WCS(fits.getheader(header))
            facts = json.loads(ask("object", galaxy, "--json"))
            x, y = wcs.all_world2pix([[facts["ra_deg"], facts["dec_deg"]]], 0)[0]
            scale = numpy.sqrt(abs(numpy.linalg.det(wcs.pixel_scale_matrix))) * 60
            reach = 0.7 * facts["major_arcmin"] / 2 / scale  # the rim drowns in the sky
            values, side = light(photo)
            middle = (x - (side - 1) / 2) / side, (y - (side - 1) / 2) / side
            axis = long_axis(values, *middle, reach / side)
            measured = position_angle(wcs, x, y, axis)
            off = (measured - facts["angle_deg"] + 90) % 180 - 90
            worst = max(worst, abs(off))
            if abs(off) > MOST_OFF_DEG:
                print("WRONG: %s in %s lies at %.0f degrees, the tables say %.0f"
                      % (galaxy, name, measured, facts["angle_deg"]))
    print("%d galaxies lie within %.1f degrees of what the tables say" % (len(GALAXIES), worst))
    return 1 if worst > MOST_OFF_DEG else 0


if __name__ == "__main__":
    sys.exit(main())
