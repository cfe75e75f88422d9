#!/usr/bin/env python3
"""Rewrites bodies.tsv and LICENSE.lensfun from the Debian package liblensfun-data-v1 0.3.3-1.

Usage: remake_bodies.py UNPACKED FOLDER
UNPACKED is where `dpkg-deb -x` has put the package. The same package gives the same bytes.
"""
import glob
import os
import re
import sys
import xml.etree.ElementTree as xml

sys.dont_write_bytecode = True  # leaves nothing beside the tables
from remake import write_table  # noqa: E402

COMMENTS = [
    "Cameras and the size of their sensors",
    "maker, model: as the camera writes them into EXIF, but for the letter case. crop_factor: the "
    "diagonal of 36 x 24 mm, 43.27 mm, over the sensor's, rounded as the source has it.",
    "From: Debian package liblensfun-data-v1 0.3.3-1, share/lensfun/version_1/*.xml; only whole "
    "sensors of digital cameras are kept, sorted",
    "Licence: CC BY-SA 3.0, see LICENSE.lensfun",
]

# Not what a camera calls itself: film, digital backs by their frame, one crop or lens of several.
NO_MODEL = re.compile(r"film|mech\.|Crop-factor|\(\d+:\d+\)|\(tele\)")


def name_in_exif(camera, what):
    """The one without a language; the others are for people."""
    for element in camera.findall(what):
        if "lang" not in element.attrib:
            return " ".join(element.text.split())
    return ""


def bodies(folder):
    rows = {}
    for file in glob.glob(os.path.join(folder, "usr/share/lensfun/version_1/*.xml")):
        for camera in xml.parse(file).getroot().iter("camera"):
            maker, model = name_in_exif(camera, "maker"), name_in_exif(camera, "model")
            if camera.find("variant") is None and not NO_MODEL.search(model):
                rows[maker, model] = f"{float(camera.findtext('cropfactor')):.4g}"
    order = sorted(rows, key=lambda names: (names[0].lower(), names[1].lower(), names))
    return [[maker, model, rows[maker, model]] for maker, model in order]


def licence(folder):
    """What the package says of its data: the notice and the licence's whole text."""
    path = os.path.join(folder, "usr/share/doc/liblensfun-data-v1/copyright")
    with open(path, encoding="utf-8") as stream:
        text = stream.read()
    authors = re.search(r"LENS DATA:\n( .*\n)+", text).group()
    notice = re.search(r" +The lens database is licensed under(.*\n)+?\n", text).group()
    terms = text[text.index("Creative Commons Attribution-Share Alike 3.0 Unported License"):]
    return f"{authors}\n{notice}{terms}"


def main(arguments):
    if len(arguments) != 3:
        sys.exit(__doc__.strip())
    package, folder = arguments[1:]
    write_table(folder, "bodies.tsv", COMMENTS, ["maker", "model", "crop_factor"], bodies(package))
    with open(os.path.join(folder, "LICENSE.lensfun"), "w", encoding="utf-8",
              newline="\n") as stream:
        stream.write(licence(package))


if __name__ == "__main__":
    main(sys.argv)
