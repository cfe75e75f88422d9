#!/usr/bin/python3
"""Holds labels of the grid and places of objects in 50 frames against astropy's WCS.

The program draw_samples, of the folder that BUILD names, writes the frames' headers and two tables.
A label is judged by its text alone: the line of that right ascension or declination, put through
astropy, must leave the picture within 1 px of where the label stands. Objects must lie within
0.5 px of where astropy puts their catalogue place. Pixels count from 0 at the top left.
"""
import os
import re
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS, FITSFixedWarning

LABEL_PX, OBJECT_PX = 1.0, 0.5
BUILD = os.environ.get("BUILD", "build")
CATALOGS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "catalogs")


def read_rows(folder, name):
    with open(os.path.join(folder, name), encoding="utf-8") as table:
        return [line.rstrip("\n").split("\t") for line in table]


def value_of(text):
    """Whether it is a right ascension, and degrees."""
    ra = re.fullmatch(r"(\d+)ʰ(?:(\d\d)ᵐ)?(?:(\d\d)ˢ)?", text)
    if ra:
        h, m, s = (float(part or 0) for part in ra.groups())
        return True, 15 * h + m / 4 + s / 240
    dec = re.fullmatch(r"([+−]?)(\d+)°(?:(\d\d)′)?", text)
    if not dec:
        sys.exit("a label of the grid says %r" % text)
    degrees = float(dec.group(2)) + float(dec.group(3) or 0) / 60
    return False, -degrees if dec.group(1) == "−" else degrees


def to_pixel(wcs, ra, dec):
    return wcs.all_world2pix([[ra, dec]], 0, tolerance=1e-6, maxiter=100)[0]


def label_error(wcs, text, x, y):
    """How far the label's place is from a point of its line beside it."""
    is_ra, value = value_of(text)
    ra, dec = wcs.all_pix2world([[x, y]], 0)[0]
    line = to_pixel(wcs, value, dec) if is_ra else to_pixel(wcs, ra, value)
    return numpy.hypot(*(line - [x, y]))


def main():
    warnings.simplefilter("ignore", FITSFixedWarning)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([os.path.join(BUILD, "tests/outside/draw_samples"), folder, CATALOGS],
                       check=True)
        frames = {}
        for n in range(50):
            header = fits.getheader(os.path.join(folder, "%d.wcs" % n))
            frames[str(n)] = WCS(header), int(header["IMAGEW"]), int(header["IMAGEH"])
        grid, objects = read_rows(folder, "grid.tsv"), read_rows(folder, "objects.tsv")
    worst_label = worst_object = 0
    for n, text, x, y in grid:
        wcs, width, height = frames[n]
        x, y = float(x), float(y)
        if min(abs(x + 0.5), abs(x - width + 0.5), abs(y + 0.5), abs(y - height + 0.5)) > 0.02:
            sys.exit("frame %s: the label %s does not stand at an edge" % (n, text))
        worst_label = max(worst_label, label_error(wcs, text, x, y))
    for n, name, ra, dec, x, y in objects:
        off = numpy.hypot(*(to_pixel(frames[n][0], float(ra), float(dec)) - [float(x), float(y)]))
        worst_object = max(worst_object, off)
    counts = [sum(1 for row in grid if row[0] == n) for n in frames]
    print("50 frames: %d labels within %.1e px, %d objects within %.1e px of astropy's place; "
          "at least %d labels a frame"
          % (len(grid), worst_label, len(objects), worst_object, min(counts)))
    if not (worst_label < LABEL_PX and worst_object < OBJECT_PX and len(objects) >= 1000
            and min(counts) >= 4):
        sys.exit(1)


main()
