#!/usr/bin/env python3
"""Rewrites ngc.tsv, outlines.tsv and LICENSE.openngc from the open database of NGC and IC objects.

Usage: remake_openngc.py SOURCE FOLDER
SOURCE holds NGC.csv, addendum.csv, CC-BY-SA-4.0.txt and outlines/ of the database; FOLDER is this
one, whose objects.tsv says which objects there are. The same source gives the same bytes.
"""
import csv
import glob
import math
import os
import re
import sys

sys.dont_write_bytecode = True  # leaves nothing beside the tables
from remake import write_table  # noqa: E402

ORIGIN = [
    "From: OpenNGC, a database of NGC and IC objects, M. Verga, "
    "https://github.com/mattiaverga/OpenNGC, commit 17397545d4e6; changed: {changed}",
    "Licence: CC BY-SA 4.0, see LICENSE.openngc",
]

NGC_COMMENTS = [
    "Magnitudes, sizes and position angles of the objects of objects.tsv, in its order",
    "v_mag: visual; v_error: its standard error (see README.md, empty: the band is not known); "
    "major_arcmin, minor_arcmin: size, where objects.tsv has none or another one; angle_deg: "
    "position angle of the long axis, degrees east of north, where objects.tsv has none.",
    *(line.format(changed="a choice of columns and rows, weighed against objects.tsv")
      for line in ORIGIN),
]

OUTLINE_COMMENTS = [
    "Outlines of nebulae, one closed line a row",
    "level: 1 to 3, from the faintest reach to the brightest part; 0 is the hull of the extent. "
    "extent: 1 on the lines that enclose the object as it is catalogued. area_arcmin2: enclosed "
    "by the line, of a hull by all lines of the extent.",
    "points: xi eta of each corner, arcseconds east and north on the plane that touches the sky at "
    "the object's place in objects.tsv (standard coordinates).",
    *(line.format(changed="lines given to the objects they enclose, simplified to 10 arcseconds "
                          "or better, hulls added")
      for line in ORIGIN),
]

ARCSEC = 180 / math.pi * 3600
NEBULAE = {"emission nebula", "reflection nebula", "bright nebula", "star forming region",
           "planetary nebula", "supernova remnant"}


def number(text):
    return float(text) if text else None


def read_objects(folder):
    with open(os.path.join(folder, "objects.tsv"), encoding="utf-8") as stream:
        rows = [line for line in stream if not line.startswith("#")]
    objects = list(csv.DictReader(rows, delimiter="\t", quoting=csv.QUOTE_NONE))
    for order, entry in enumerate(objects):
        entry["order"] = order
        for key in ("ra_deg", "dec_deg", "magnitude", "major_arcmin", "minor_arcmin", "angle_deg"):
            entry[key] = number(entry[key])
    return objects


def index_names(objects):
    index = {}
    for entry in objects:
        for name in [entry["id"], *entry["other_names"].split(";")]:
            if name:
                index.setdefault(name, entry)
    return index


def usual_name(name):
    """NGC0224 is NGC 224."""
    found = re.match(r"^(NGC|IC|M|C|B|LBN)0*(\d+)$", name)
    return f"{found[1]} {found[2]}" if found else name


def place(row):
    hours, minutes, seconds = map(float, row["RA"].split(":"))
    degrees, arcmin, arcsec = map(float, row["Dec"].lstrip("+-").split(":"))
    sign = -1 if row["Dec"].startswith("-") else 1
    return 15 * (hours + minutes / 60 + seconds / 3600), sign * (
        degrees + arcmin / 60 + arcsec / 3600)


def plane(entry, ra, dec):
    """xi and eta around an object; None for what lies beyond 60 degrees."""
    turn = math.radians(ra - entry["ra_deg"])
    lat, lat0 = math.radians(dec), math.radians(entry["dec_deg"])
    depth = math.sin(lat0) * math.sin(lat) + math.cos(lat0) * math.cos(lat) * math.cos(turn)
    if depth < 0.5:
        return None
    xi = math.cos(lat) * math.sin(turn) / depth
    eta = (math.cos(lat0) * math.sin(lat)
           - math.sin(lat0) * math.cos(lat) * math.cos(turn)) / depth
    return xi * ARCSEC, eta * ARCSEC


def is_same(entry, row):
    """Whether the two tables mean the same thing by a number: they lie together."""
    if not row["RA"] or row["Type"] in ("Dup", "NonEx", "*", "**", "Other"):
        return False
    at = plane(entry, *place(row))
    reach = max(3, (entry["major_arcmin"] or 0) / 2) * 60
    return at is not None and math.hypot(*at) < reach


def judge_galaxy(ours, blue, visual):
    """Colours of galaxies lie between 0 and 1.4; outside of that one of the two is wrong."""
    if visual is not None and blue is not None and not 0 <= blue - visual <= 1.4:
        visual = None
    off, off_blue = (math.inf if None in (ours, value) else abs(ours - value)
                     for value in (visual, blue))
    if off <= min(0.7, off_blue):
        return ours, 0.2
    if visual is not None and (ours is None or off < 2.5):
        return visual, 0.15 if blue is not None else 0.3
    if blue is not None and (ours is None or abs(ours - blue) < 0.35):
        return blue - 0.75, 0.3  # usual colour and its spread, common practice
    return ours, None


def judge_planetary(ours, blue, visual):
    if visual is not None and visual < 16:
        return visual, 0.2 if ours is not None and abs(ours - visual) < 0.3 else 0.3
    return ours, None


def judge_other(ours, blue, visual):
    """Of clusters and nebulae both tables may have the stars' light; ours is right more often."""
    if visual is not None and blue is not None and not -0.5 <= blue - visual <= 2:
        visual = None
    if ours is None:
        return visual, 0.5
    if visual is not None and abs(ours - visual) < 0.35:
        return ours, 0.3
    return ours, None


def judge_magnitude(entry, row):
    judge = {"galaxy": judge_galaxy, "planetary nebula": judge_planetary}.get(
        entry["type"], judge_other)
    return judge(entry["magnitude"], number(row["B-Mag"]), number(row["V-Mag"]))


def judge_size(entry, row):
    """Galaxies to the isophote of 25 magnitudes, where ours are off that by a third."""
    major, ours = number(row["MajAx"]), entry["major_arcmin"]
    if major is None:
        return None, None
    minor = number(row["MinAx"]) or major
    if ours is None:
        return major, min(minor, major)
    galaxy = entry["type"] == "galaxy" and row["Type"] == "G" and "MajAx:3" in row["Sources"]
    if galaxy and not 0.75 < major / ours < 1.33:
        return major, min(minor, major)
    return None, None


def text(value, digits):
    return "" if value is None else f"{value:.{digits}f}".rstrip("0").rstrip(".")


def ngc_row(entry, row):
    magnitude, error = judge_magnitude(entry, row)
    major, minor = judge_size(entry, row)
    angle = number(row["PosAng"]) if entry["angle_deg"] is None else None
    wide, narrow = major or entry["major_arcmin"], minor or entry["minor_arcmin"]
    if angle is not None and not (wide and narrow and narrow < 0.98 * wide):
        angle = None  # of what is round
    if error is None:
        magnitude = None
    if magnitude is None:
        error = None
    cells = [text(magnitude, 2), text(error, 2), text(major, 2), text(minor, 2), text(angle, 0)]
    return [entry["id"], *cells] if any(cells) else None


def ngc_rows(source, objects):
    index, rows = index_names(objects), {}
    for file in ("NGC.csv", "addendum.csv"):
        with open(os.path.join(source, file), encoding="utf-8") as stream:
            for row in csv.DictReader(stream, delimiter=";"):
                entry = index.get(usual_name(row["Name"]))
                if entry is None or entry["order"] in rows or not is_same(entry, row):
                    continue
                made = ngc_row(entry, row)
                if made:
                    rows[entry["order"]] = made
    return [rows[order] for order in sorted(rows)]


def read_lines(source):
    """(name of the file, level, corners in degrees) of each closed line."""
    for path in sorted(glob.glob(os.path.join(source, "outlines", "*.txt"))):
        name, level = os.path.basename(path)[:-len(".txt")].rsplit("_lv", 1)
        corners = []
        with open(path, encoding="utf-8") as stream:
            for cells in list(csv.reader(stream, delimiter="\t"))[1:]:
                corner = (float(cells[2]), float(cells[3]))
                if not corners or corners[-1] != corner:
                    corners.append(corner)
                if cells[1] == "*":
                    yield name, int(level), corners
                    corners = []


def area(corners):
    """Square arcminutes."""
    doubled = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, corners[1:] + corners[:1]))
    return abs(doubled) / 2 / 3600


def encloses(corners, x, y):
    inside = False
    for a, b in zip(corners, corners[1:] + corners[:1]):
        if (a[1] > y) != (b[1] > y) and x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]):
            inside = not inside
    return inside


def on_plane(entry, corners):
    placed = [plane(entry, *corner) for corner in corners]
    return None if None in placed else placed


def catalogued_area(entry):
    if not entry["major_arcmin"]:
        return None
    return math.pi / 4 * entry["major_arcmin"] * entry["minor_arcmin"]


def belongs(entry, corners):
    """A line that surrounds its object or lies close by; files hold neighbours too."""
    placed = on_plane(entry, corners)
    if placed is None:
        return False
    reach = max(8, 0.75 * (entry["minor_arcmin"] or 0)) * 60
    return encloses(placed, 0, 0) or min(math.hypot(*corner) for corner in placed) < reach


def is_nebula(entry):
    return entry["type"] in NEBULAE or entry["id"] == "M 45"


def enclosed_nebula(objects, corners, most):
    """The nebula that a line without a number is about: inside it, and of much the same size, up
    to a factor. The LBN counts too many patches for that."""
    best, best_off = None, math.log(most)
    for entry in objects:
        if not catalogued_area(entry) or entry["id"].startswith("LBN"):
            continue
        placed = on_plane(entry, corners)
        if placed is None or not encloses(placed, 0, 0):
            continue
        off = abs(math.log(area(placed) / catalogued_area(entry)))
        if off < best_off:
            best, best_off = entry, off
    return best


def whole_of(entry, index):
    """The Veil is one remnant, of which two parts have numbers of their own."""
    veil = {"NGC 6960": "Sh2-103", "NGC 6992": "Sh2-103"}
    return index.get(veil.get(entry["id"], ""))


def owners_of(entry, corners, index, objects, apart):
    """The objects that a line belongs to. entry is that of its file, None without one; apart are
    those without a file."""
    whole = whole_of(entry, index) if entry else None
    if entry is None or not belongs(entry, corners):
        return [whole] if whole else [enclosed_nebula(objects, corners, 3)]
    if encloses(on_plane(entry, corners), 0, 0):
        return [entry, whole]
    return [enclosed_nebula(apart, corners, 4) or entry, whole]


def assign(source, objects):
    """Lines by object and level. What has a file of its own gets none out of another object's."""
    index, by_object = index_names(objects), {}
    lines = list(read_lines(source))
    of_file = {name: index.get(usual_name(name)) for name, _, _ in lines}
    filed = {id(entry) for entry in of_file.values()}
    nebulae = [entry for entry in objects if is_nebula(entry)]
    apart = [entry for entry in nebulae if id(entry) not in filed and entry["id"][:3] != "SNR"]
    for name, level, corners in lines:
        entry = of_file[name]
        if entry is not None and not is_nebula(entry):
            entry = None  # a cluster or galaxy around it
        for owner in filter(None, owners_of(entry, corners, index, nebulae, apart)):
            levels = by_object.setdefault(owner["order"], (owner, {}))[1]
            levels.setdefault(level, []).append(on_plane(owner, corners))
    return [by_object[order] for order in sorted(by_object)]


def length(lines):
    """The largest distance of two corners, arcminutes."""
    around = hull([corner for line in lines for corner in line])
    return max(math.dist(a, b) for a in around for b in around) / 60


def extent_level(entry, levels):
    """The level as long as the catalogue has the object, rather a longer than a shorter one; the
    middle one where it is silent. Of M 42 the next level holds all of Orion's sword."""
    if entry["id"] == "M 42":
        return 3
    if not entry["major_arcmin"]:
        return min(levels, key=lambda level: (abs(level - 2), level))

    def off(level):
        longer = math.log(length(levels[level]) / entry["major_arcmin"])
        return longer if longer > 0 else -1.25 * longer
    return min(levels, key=off)


def simplify(corners, tolerance):
    """Douglas & Peucker 1973, on a line that begins and ends at the same corner."""
    closed = corners + corners[:1]
    keep, pieces = {0, len(closed) - 1}, [(0, len(closed) - 1)]
    while pieces:
        first, last = pieces.pop()
        ax, ay = closed[first]
        bx, by = closed[last]
        length = math.hypot(bx - ax, by - ay)
        farthest, which = tolerance, None
        for i in range(first + 1, last):
            x, y = closed[i]
            along = 0 if length == 0 else min(1, max(
                0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length**2))
            off = math.hypot(x - ax - along * (bx - ax), y - ay - along * (by - ay))
            if off > farthest:
                farthest, which = off, i
        if which is not None:
            keep.add(which)
            pieces += [(first, which), (which, last)]
    return [closed[i] for i in sorted(keep)][:-1]


def hull(corners):
    """Convex; Andrew 1979."""
    def half(order):
        chain = []
        for c in order:
            while len(chain) > 1 and (
                    (chain[-1][0] - chain[-2][0]) * (c[1] - chain[-2][1])
                    - (chain[-1][1] - chain[-2][1]) * (c[0] - chain[-2][0])) <= 0:
                chain.pop()
            chain.append(c)
        return chain[:-1]
    order = sorted(set(corners))
    return half(order) + half(order[::-1])


def row_of(entry, level, extent, enclosed, corners):
    points = " ".join(f"{x:.0f} {y:.0f}" for x, y in corners)
    return [entry["id"], str(level), "1" if extent else "", text(enclosed, 2), points]


def outline_rows(source, objects):
    rows = []
    for entry, levels in assign(source, objects):
        chosen = extent_level(entry, levels)
        around = hull([corner for line in levels[chosen] for corner in line])
        rows.append(row_of(entry, 0, False, sum(map(area, levels[chosen])),
                           simplify(around, tolerance_of(around))))
        for level in sorted(levels):
            for line in levels[level]:
                corners = simplify(line, tolerance_of(line))
                if len(corners) > 2:
                    rows.append(row_of(entry, level, level == chosen, area(line), corners))
    return rows


def tolerance_of(corners):
    """A hundredth of its size, at most 10 arcseconds."""
    size = max(max(c[i] for c in corners) - min(c[i] for c in corners) for i in (0, 1))
    return min(10, size / 100)


def main(arguments):
    if len(arguments) != 3:
        sys.exit(__doc__.strip())
    source, folder = arguments[1:]
    objects = read_objects(folder)
    write_table(folder, "ngc.tsv", NGC_COMMENTS,
                ["id", "v_mag", "v_error", "major_arcmin", "minor_arcmin", "angle_deg"],
                ngc_rows(source, objects))
    write_table(folder, "outlines.tsv", OUTLINE_COMMENTS,
                ["id", "level", "extent", "area_arcmin2", "points"],
                outline_rows(source, objects))
    with open(os.path.join(source, "CC-BY-SA-4.0.txt"), encoding="utf-8") as stream:
        terms = stream.read()
    with open(os.path.join(folder, "LICENSE.openngc"), "w", encoding="utf-8",
              newline="\n") as stream:
        stream.write("ngc.tsv and outlines.tsv are made from OpenNGC, a database of NGC and IC "
                     "objects by Mattia Verga,\nhttps://github.com/mattiaverga/OpenNGC, and stay "
                     "under its licence:\n\n" + terms)


if __name__ == "__main__":
    main(sys.argv)
