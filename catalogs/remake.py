#!/usr/bin/env python3
"""Rewrites the tables in this folder from the npm package d3-celestial 0.7.35.

Usage: remake.py PACKAGE FOLDER
PACKAGE is the .tgz that `npm pack d3-celestial@0.7.35` fetches, or the folder it unpacks to.
The same package gives the same bytes.
"""
import json
import os
import sys
import tarfile

import deepsky

ORIGIN = [
    "From: npm package d3-celestial 0.7.35, {file}",
    "Licence: BSD-3-Clause, see LICENSE.d3-celestial",
]
XHIP = ("Source credited there: XHIP, Anderson & Francis 2012, Astronomy Letters 38, 331 "
        "(VizieR V/137D)")


class Package:
    """The files of the package, from a folder or from the archive itself."""

    def __init__(self, path):
        self.path = path
        self.archive = None if os.path.isdir(path) else tarfile.open(path)

    def read(self, name):
        if self.archive:
            return self.archive.extractfile("package/" + name).read()
        with open(os.path.join(self.path, name), "rb") as stream:
            return stream.read()

    def json(self, name):
        return json.loads(self.read("data/" + name))


def write_table(folder, name, comments, header, rows):
    lines = ["# " + text for text in comments]
    lines += ["\t".join(row) for row in [header, *rows]]
    with open(os.path.join(folder, name), "w", encoding="utf-8", newline="\n") as stream:
        stream.write("\n".join(lines) + "\n")


def origin(file, *sources):
    return [line.format(file=file) for line in ORIGIN] + list(sources)


def ra_text(longitude):
    """The package counts right ascension as longitude, -180..180."""
    return f"{longitude % 360:.4f}".replace("360.0000", "0.0000")


def dec_text(latitude):
    return f"{latitude:.4f}".replace("-0.0000", "0.0000")


def stars(package):
    rows = []
    for star in sorted(package.json("stars.14.json")["features"], key=lambda s: s["id"]):
        ra, dec = star["geometry"]["coordinates"]
        magnitude = float(star["properties"]["mag"])
        rows.append([str(star["id"]), ra_text(ra), dec_text(dec), f"{magnitude:.2f}",
                     star["properties"]["bv"]])
    return rows


def write_stars(package, folder):
    comments = ["Hipparcos stars, complete to about V 7.3 and reaching about V 12",
                "hip: Hipparcos number. ra_deg, dec_deg: ICRS, epoch and equinox J2000, degrees.",
                "v_mag: V magnitude. b_v: B-V colour, magnitudes, empty where unknown.",
                *origin("data/stars.14.json", XHIP)]
    write_table(folder, "stars.tsv", comments, ["hip", "ra_deg", "dec_deg", "v_mag", "b_v"],
                stars(package))


def plain(value, decimals):
    """Shortest text for a number; empty for None."""
    return "" if value is None else f"{value:.{decimals}f}".rstrip("0").rstrip(".")


def object_row(item):
    return [item.names[0], ra_text(item.ra), dec_text(item.dec), item.kind,
            plain(item.magnitude, 2), plain(item.major, 2), plain(item.minor, 2),
            ";".join(item.names[1:]), ";".join(item.common)]


def read_hand_table(folder, name):
    """Rows of one of the tables written by hand, without comments and header."""
    with open(os.path.join(folder, name), encoding="utf-8") as stream:
        lines = [line.rstrip("\n") for line in stream if not line.startswith("#")]
    return [line.split("\t") for line in lines[1:] if line]


def write_objects(package, folder):
    here = os.path.dirname(os.path.abspath(__file__))
    objects = deepsky.read_objects(package, read_hand_table(here, "supplement.tsv"),
                                   read_hand_table(here, "caldwell.tsv"))
    comments = ["Deep-sky objects",
                "ra_deg, dec_deg: ICRS, J2000, degrees. magnitude: visual where known, else as the "
                "source gives it; empty where unknown.",
                "major_arcmin, minor_arcmin: apparent size; equal where the source has one number; "
                "empty where unknown.",
                "other_names: further designations. common_name: English names, the usual one "
                "first. Both lists are separated by semicolons.",
                *origin("data/dsos.20.json, dsos.bright.json, messier.json, lg.json, dsonames.json",
                        "Sources credited there: Saguaro Astronomy Club Database 8.1; Messier "
                        "Objects with Data, H. Frommert; the package author's list of the Local "
                        "Group",
                        "Corrected and completed from supplement.tsv and caldwell.tsv")]
    header = ["id", "ra_deg", "dec_deg", "type", "magnitude", "major_arcmin", "minor_arcmin",
              "other_names", "common_name"]
    write_table(folder, "objects.tsv", comments, header, map(object_row, objects))


def main(arguments):
    if len(arguments) != 3:
        sys.exit(__doc__.strip())
    package = Package(arguments[1])
    folder = arguments[2]
    write_stars(package, folder)
    write_objects(package, folder)


if __name__ == "__main__":
    main(sys.argv)
