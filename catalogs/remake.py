#!/usr/bin/env python3
"""Rewrites the tables in this folder from the npm package d3-celestial 0.7.35.

Usage: remake.py PACKAGE FOLDER
PACKAGE is the .tgz that `npm pack d3-celestial@0.7.35` fetches, or the folder it unpacks to.
The same package gives the same bytes.
"""
import json
import math
import os
import sys
import tarfile

sys.dont_write_bytecode = True  # leaves nothing beside the tables
import deepsky  # noqa: E402

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


def star_names(package):
    """Rows for all stars with a name or designation beyond Hipparcos and Henry Draper."""
    stars_by_hip = {str(star["id"]): star for star in package.json("stars.14.json")["features"]}
    rows = []
    for hip, names in sorted(package.json("starnames.json").items(), key=lambda item: int(item[0])):
        star = stars_by_hip[hip]
        ra, dec = star["geometry"]["coordinates"]
        words = designations(names)
        if any(words[:5]):
            rows.append([hip, ra_text(ra), dec_text(dec), f"{float(star['properties']['mag']):.2f}",
                         *words])
    return rows


def designations(names):
    """name, bayer, flamsteed, variable, gliese, hd, constellation of one star."""
    words = [(names.get(field) or "").replace("\u2009", " ")
             for field in ("name", "bayer", "flam", "var", "gl", "hd", "c")]
    if words[0] == "Becklin's Star":
        words[0] = ""  # that is an infrared source beside the Trapezium, not one of its stars
    words[1] = words[1].replace("undefined3", "υ3")  # the third upsilon of Eridanus
    words[5] = words[5].replace("HD ", "")
    if words[3].startswith("NSV"):
        words[3] = ""  # its number is cut short, and the rest stands where the constellation should
        words[6] = ""
    return words


def write_star_names(package, folder):
    comments = ["Names and designations of Hipparcos stars",
                "hip, ra_deg, dec_deg, v_mag: as in stars.tsv. name: English. bayer: with the "
                "number that distinguishes stars of one letter (α1). constellation: empty where "
                "the source has none.",
                *origin("data/starnames.json",
                        "Sources credited there: Kostjuk 2002 (VizieR IV/27A); Smith 1996 (VizieR "
                        "IV/22); General Catalogue of Variable Stars, Samus et al. 2007-2013 "
                        "(VizieR B/gcvs); Gliese & Jahreiss 1991 (VizieR V/70A)")]
    header = ["hip", "ra_deg", "dec_deg", "v_mag", "name", "bayer", "flamsteed", "variable",
              "gliese", "hd", "constellation"]
    write_table(folder, "star-names.tsv", comments, header, star_names(package))


def write_constellations(package, folder):
    rows = []
    for feature in package.json("constellations.json")["features"]:
        ra, dec = feature["geometry"]["coordinates"]
        names = feature["properties"]
        words = [names[field].replace("\u2005", " ") for field in ("name", "gen", "en")]
        rows.append([feature["id"], *words, ra_text(ra), dec_text(dec)])
    comments = ["Constellations; Serpens has two parts",
                "label_ra_deg, label_dec_deg: where to write the name; ICRS, degrees.",
                *origin("data/constellations.json", "Source credited there: IAU constellation "
                        "page, label positions by the package's author")]
    header = ["constellation", "name", "genitive", "english", "label_ra_deg", "label_dec_deg"]
    write_table(folder, "constellations.tsv", comments, header, sorted(rows))


def write_lines(package, folder):
    rows, numbers = [], {}
    for feature in sorted(package.json("constellations.lines.json")["features"],
                          key=lambda feature: feature["id"]):
        for line in feature["geometry"]["coordinates"]:
            numbers[feature["id"]] = numbers.get(feature["id"], 0) + 1
            rows += [[feature["id"], str(numbers[feature["id"]]), ra_text(ra), dec_text(dec)]
                     for ra, dec in line]
    comments = ["Lines that join the stars of a constellation",
                "Rows with one constellation and line number are the points of one line in order. "
                "ra_deg, dec_deg: ICRS, J2000.",
                *origin("data/constellations.lines.json", "Source credited there: IAU "
                        "constellation page, modified by the package's author")]
    write_table(folder, "constellation-lines.tsv", comments,
                ["constellation", "line", "ra_deg", "dec_deg"], rows)


def b1875(ra, dec):
    """Precesses degrees from J2000 to B1875, the equinox of the boundaries; angles of Lieske et al.
    1977, A&A 58, 1."""
    t = (2405889.25855 - 2451545.0) / 36525
    zeta, z, theta = (math.radians(angle / 3600) for angle in (
        2306.2181 * t + 0.30188 * t**2 + 0.017998 * t**3,
        2306.2181 * t + 1.09468 * t**2 + 0.018203 * t**3,
        2004.3109 * t - 0.42665 * t**2 - 0.041833 * t**3))
    a, d = math.radians(ra) + zeta, math.radians(dec)
    x = math.cos(theta) * math.cos(d) * math.cos(a) - math.sin(theta) * math.sin(d)
    y = math.cos(d) * math.sin(a)
    height = math.sin(theta) * math.cos(d) * math.cos(a) + math.cos(theta) * math.sin(d)
    return math.degrees(math.atan2(y, x) + z) % 360, math.degrees(math.asin(height))


def boundary_rows(name, number, ring):
    """The closing point is left out, and so are the points that the package interpolated along the
    edge at +88 degrees, up to half a degree off it: in B1875 all edges follow right ascension or
    declination, and the true corners fall on whole seconds of time and minutes of arc."""
    rows = []
    for ra, dec in ring[:-1]:
        old_ra, old_dec = b1875(ra, dec)
        seconds, minutes = round(old_ra * 240), round(old_dec * 60)
        if abs(old_dec * 60 - minutes) * 60 < 2:
            rows.append([name, number, ra_text(ra), dec_text(dec), ra_text(seconds / 240),
                         dec_text(minutes / 60)])
    return rows


def write_boundaries(package, folder):
    rows, numbers = [], {}
    for feature in sorted(package.json("constellations.bounds.json")["features"],
                          key=lambda feature: feature["id"]):
        for ring in feature["geometry"]["coordinates"]:
            numbers[feature["id"]] = numbers.get(feature["id"], 0) + 1
            rows += boundary_rows(feature["id"], str(numbers[feature["id"]]), ring)
    comments = ["Constellation boundaries: corners of closed polygons, in order",
                "ra_deg, dec_deg: ICRS, J2000. ra_b1875_deg, dec_b1875_deg: equinox B1875, where "
                "each edge follows a circle of right ascension or of declination.",
                *origin("data/constellations.bounds.json", "Source credited there: Catalogue of "
                        "Constellation Boundary Data, Davenhall & Leggett 1989 (VizieR VI/49)")]
    header = ["constellation", "polygon", "ra_deg", "dec_deg", "ra_b1875_deg", "dec_b1875_deg"]
    write_table(folder, "constellation-bounds.tsv", comments, header, rows)


def plain(value, decimals):
    """Shortest text for a number; empty for None."""
    return "" if value is None else f"{value:.{decimals}f}".rstrip("0").rstrip(".")


def object_row(item):
    return [item.names[0], ra_text(item.ra), dec_text(item.dec), item.kind,
            plain(item.magnitude, 2), plain(item.major, 2), plain(item.minor, 2),
            "" if item.angle is None else f"{item.angle:.0f}", ";".join(item.names[1:]), ";".join(item.common),
            item.usual]


def read_hand_table(folder, name):
    """Rows of one of the tables written by hand, without comments and header."""
    with open(os.path.join(folder, name), encoding="utf-8") as stream:
        lines = [line.rstrip("\n") for line in stream if not line.startswith("#")]
    return [line.split("\t") for line in lines[1:] if line]


def write_objects(package, folder):
    here = os.path.dirname(os.path.abspath(__file__))
    objects = deepsky.read_objects(package, read_hand_table(here, "supplement.tsv"),
                                   read_hand_table(here, "caldwell.tsv"),
                                   read_hand_table(here, "usual-names.tsv"))
    comments = ["Deep-sky objects",
                "ra_deg, dec_deg: ICRS, J2000, degrees. magnitude: visual where known, else as the "
                "source gives it; empty where unknown.",
                "major_arcmin, minor_arcmin: apparent size; equal where the source has one number; "
                "empty where unknown.",
                "angle_deg: position angle of the major axis, degrees east of north; empty where "
                "unknown.",
                "other_names: further designations. common_name: English names, the usual one "
                "first. Both lists are separated by semicolons. usual_name: the one of them that is used "
                "behind the number, if any is.",
                *origin("data/dsos.20.json, dsos.bright.json, messier.json, lg.json, dsonames.json",
                        "Sources credited there: Saguaro Astronomy Club Database 8.1; Messier "
                        "Objects with Data, H. Frommert; the package author's list of the Local "
                        "Group",
                        "Corrected and completed from supplement.tsv, caldwell.tsv and usual-names.tsv")]
    header = ["id", "ra_deg", "dec_deg", "type", "magnitude", "major_arcmin", "minor_arcmin",
              "angle_deg", "other_names", "common_name", "usual_name"]
    write_table(folder, "objects.tsv", comments, header, map(object_row, objects))


def main(arguments):
    if len(arguments) != 3:
        sys.exit(__doc__.strip())
    package = Package(arguments[1])
    folder = arguments[2]
    for write in (write_stars, write_star_names, write_objects, write_constellations, write_lines,
                  write_boundaries):
        write(package, folder)


if __name__ == "__main__":
    main(sys.argv)
