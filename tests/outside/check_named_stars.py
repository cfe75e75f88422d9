#!/usr/bin/python3
"""Names and Bayer letters of the bundled stars against the fixed-star list sefstars.txt of the
Debian package swe-basic-data (positions ICRS at J2000, from Simbad, by its own account).

Usage: check_named_stars.py [BUILD_DIR]   (default: $BUILD, else build); skips with 77 without the
file.

The bundled positions are rounded to 0.0001 deg, which puts at most 0.25 arcsec between the two; 1
arcsec is allowed. The centre of light of a close double may be off by some arcsec more, and a few
traditional names have been given to different stars by different authors: these are counted and
listed. Eta Orionis is elsewhere because the list has its right ascension as 5h42m for 5h24m.
"""
import math
import os
import re
import statistics
import sys

BUILD = sys.argv[1] if len(sys.argv) > 1 else os.environ.get("BUILD", "build")
LIST = os.path.join(BUILD, "outside", "swe", "sefstars.txt")
GREEK = dict(zip("al be ga de ep ze et the io ka la mu nu xi omi pi rho si ta ups phi chi psi ome"
                 .split(), "αβγδεζηθικλμνξοπρστυφχψω"))
# The list shortens letters to two or three characters, not always the same way.
GREEK.update({"th": "θ", "om": "ω", "up": "υ", "ph": "φ", "ch": "χ", "ps": "ψ", "rh": "ρ"})
NOMEN = re.compile(r"([a-z]{2,3}?)(?:-(\d))?([A-Z][A-Za-z]{2})$")
SAME_ARCSEC = 1.0
faults = []


def demand(holds, sentence):
    print(("" if holds else "WRONG: ") + sentence)
    if not holds:
        faults.append(sentence)


def vector(ra_deg, dec_deg):
    ra, dec = math.radians(ra_deg), math.radians(dec_deg)
    return math.cos(dec) * math.cos(ra), math.cos(dec) * math.sin(ra), math.sin(dec)


def angle(a, b):
    return 2 * math.degrees(math.asin(min(1, math.dist(a, b) / 2))) * 3600


def sexagesimal(degrees, minutes, seconds):
    size = abs(float(degrees)) + float(minutes) / 60 + float(seconds) / 3600
    return -size if degrees.strip().startswith("-") else size


def read_outside():
    """(name, nomenclature, direction, V) of each star with an ICRS position."""
    rows = []
    with open(LIST, encoding="latin-1") as lines:
        for line in lines:
            cells = [c.strip() for c in line.split(",")]
            if line.startswith("#") or len(cells) < 14 or cells[2] != "ICRS":
                continue
            rows.append((cells[0], cells[1],
                         vector(15 * sexagesimal(*cells[3:6]), sexagesimal(*cells[6:9])),
                         float(cells[13])))
    return rows


def read_bundled():
    """Directions and magnitudes by lower-case name, and by (letter, number, constellation)."""
    by_name, by_letter = {}, {}
    with open("catalogs/star-names.tsv", encoding="utf-8") as lines:
        table = [line.rstrip("\n").split("\t") for line in lines if not line.startswith("#")]
    head = table[0]
    for cells in table[1:]:
        row = dict(zip(head, cells))
        star = (vector(float(row["ra_deg"]), float(row["dec_deg"])), float(row["v_mag"]))
        if row["name"]:
            by_name.setdefault(row["name"].lower(), []).append(star)
        if row["bayer"]:
            key = (row["bayer"][0], row["bayer"][1:], row["constellation"])
            by_letter.setdefault(key, []).append(star)
    return by_name, by_letter


def letter_key(nomen):
    match = NOMEN.match(nomen)
    if not match or match[1] not in GREEK:
        return None
    return GREEK[match[1]], match[2] or "", match[3]


def compare(what, pairs, least, strangers):
    """pairs: (label, direction, V, stars of that label). The nearest of them counts."""
    off, dim, far = [], [], []
    for label, direction, mag, stars in pairs:
        separation, star = min((angle(direction, s[0]), s) for s in stars)
        if separation > SAME_ARCSEC:
            far.append("%s (%.0f arcsec)" % (label, separation))
            continue
        off.append(separation)
        dim.append(abs(star[1] - mag))
    demand(len(off) >= least, "%s: %d of %d agree to %g arcsec, %.2f in the median; at least %d "
           "expected" % (what, len(off), len(off) + len(far), SAME_ARCSEC,
                         statistics.median(off), least))
    demand(statistics.median(dim) < 0.03, "their magnitudes differ by %.3f in the median"
           % statistics.median(dim))
    demand(len(far) <= strangers, "%d are elsewhere (%d allowed): %s"
           % (len(far), strangers, ", ".join(far)))


def main():
    if not os.path.exists(LIST):
        print("the list of fixed stars is not there (Debian package swe-basic-data)")
        return 77
    outside = read_outside()
    by_name, by_letter = read_bundled()
    compare("names", [(r[0], r[2], r[3], by_name[r[0].lower()]) for r in outside
                      if r[0].lower() in by_name], 330, 25)
    letters = {}
    for row in outside:
        key = letter_key(row[1])
        if key in by_letter:
            letters[key] = ("%s%s %s" % key, row[2], row[3], by_letter[key])
    compare("Bayer letters", list(letters.values()), 950, 8)
    print("%d faults" % len(faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
