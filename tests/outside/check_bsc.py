#!/usr/bin/python3
"""The bundled stars against the Yale Bright Star Catalogue, 5th revised edition (the file BSC of
the Debian package xplanet), and the one solved with an index of the other.

Usage: check_bsc.py [BUILD_DIR]   (default: $BUILD, else build); skips with 77 without the file.

Positions: both for J2000. The Yale file rounds right ascension to 0.0001 h (5.4 arcsec) and
declination to 0.0001 deg (0.36 arcsec), which alone makes a median difference of about 1.3 arcsec
(half of 2.7 arcsec, times the mean of cos(dec) and a little more for the other axis). It lists the
parts of double stars that Hipparcos gives as one, up to some 10 arcsec apart, and a few objects
that are no stars (old novae, clusters); these may stand far off, so the worst is only reported.
Magnitudes: V of 1991 against V of Hipparcos; variables and parts of doubles differ by much.
"""
import os
import re
import subprocess
import sys
import tempfile

import numpy

BUILD = sys.argv[1] if len(sys.argv) > 1 else os.environ.get("BUILD", "build")
YALE = os.path.join(BUILD, "outside", "bsc", "BSC")
ROW = re.compile(r'\s*(\S+)\s+(\S+)\s+(\S+)\s+"(.*)"\s*(\d+)\s+(\d+)\s+(\d+)\s*$')
ARCSEC = 3600 * 180 / numpy.pi
SAME_ARCSEC = 20
faults = []


def demand(holds, sentence):
    print(("" if holds else "WRONG: ") + sentence)
    if not holds:
        faults.append(sentence)


def read_yale():
    """Columns: RA and Dec (deg), V, HR number."""
    rows = []
    with open(YALE, encoding="latin-1") as lines:
        for line in lines:
            match = ROW.match(line)
            if match:
                rows.append((15 * float(match[2]), float(match[1]), float(match[3]),
                             float(match[5])))
            elif line.strip() and not line.startswith("#"):
                sys.exit("%s: cannot read the line %r" % (YALE, line))
    return numpy.array(rows)


def read_bundled():
    with open("catalogs/stars.tsv", encoding="utf-8") as lines:
        rows = [line.split("\t")[:4] for line in lines if line[0].isdigit()]
    table = numpy.array(rows, dtype=float)
    return table[:, [1, 2, 3, 0]]


def vectors(table):
    ra, dec = numpy.radians(table[:, 0]), numpy.radians(table[:, 1])
    return numpy.stack([numpy.cos(dec) * numpy.cos(ra), numpy.cos(dec) * numpy.sin(ra),
                        numpy.sin(dec)], axis=-1)


def nearest(table, others):
    """Distance (arcsec) and number of the nearest of the others to each row of the table."""
    here, there = vectors(table), vectors(others)
    number = numpy.concatenate([(here[i:i + 64] @ there.T).argmax(axis=1)
                                for i in range(0, len(here), 64)])
    return numpy.linalg.norm(here - there[number], axis=1) * ARCSEC, number


def compare_positions(yale, bundled):
    off, number = nearest(yale, bundled)
    demand(len(yale) == 9096, "the Yale catalogue holds %d stars" % len(yale))
    demand(numpy.median(off) < 1.6, "positions differ by %.2f arcsec in the median (1.6 allowed)"
           % numpy.median(off))
    demand(numpy.percentile(off, 99) < 6, "by %.1f arcsec at the 99th percentile (6 allowed)"
           % numpy.percentile(off, 99))
    far = yale[off > SAME_ARCSEC]
    demand(len(far) <= 20, "%d of them have no bundled star within %d arcsec (20 allowed); the "
           "worst by %.0f arcsec: HR %d"
           % (len(far), SAME_ARCSEC, off.max(), yale[off.argmax(), 3]))
    # Right ascension and declination by themselves, where rounding in RA does not hide the others.
    same = off < SAME_ARCSEC
    south = (yale[same, 1] - bundled[number[same], 1]) * 3600
    demand(abs(numpy.median(south)) < 0.1, "declinations differ by %.3f arcsec in the median (0.1)"
           % numpy.median(south))
    east = (yale[same, 0] - bundled[number[same], 0] + 180) % 360 - 180
    east *= 3600 * numpy.cos(numpy.radians(yale[same, 1]))
    demand(abs(numpy.median(east)) < 0.1, "right ascensions by %.3f arcsec" % numpy.median(east))


def compare_magnitudes(yale, bundled):
    off, number = nearest(yale, bundled)
    same = off < SAME_ARCSEC
    difference = abs(yale[same, 2] - bundled[number[same], 2])
    demand(numpy.median(difference) < 0.02, "magnitudes differ by %.3f in the median (0.02)"
           % numpy.median(difference))
    demand(numpy.percentile(difference, 90) < 0.08, "by %.2f at the 90th percentile (0.08)"
           % numpy.percentile(difference, 90))
    strange = (difference > 0.5).sum()
    demand(strange < 0.02 * len(difference), "%d, variables and parts of doubles, by more than 0.5 "
           "(2 %% allowed), at most by %.1f" % (strange, difference.max()))


def compare_completeness(yale, bundled):
    """Yale is complete to V 6.5: no bundled star that bright may be unknown to it."""
    bright = bundled[bundled[:, 2] < 6]
    off, _ = nearest(bright, yale)
    demand((off < SAME_ARCSEC).all(), "of %d bundled stars brighter than V 6, %d are unknown to "
           "Yale" % (len(bright), (off >= SAME_ARCSEC).sum()))


def write_sky(table, name):
    with open(name, "w", encoding="utf-8") as out:
        out.write("hip\tra_deg\tdec_deg\tv_mag\tb_v\n")
        for ra, dec, mag, number in table:
            out.write("%d\t%.4f\t%.4f\t%.2f\t\n" % (number, ra, dec, mag))


def run(*command):
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                          check=False)
    if done.returncode:
        sys.exit("%s: %s" % (" ".join(command), done.stdout))
    return done.stdout


def solve_across(yale):
    lists, frames = 60, 6
    with tempfile.TemporaryDirectory() as folder:
        sky = os.path.join(folder, "yale.tsv")
        index = os.path.join(folder, "yale.alidx")
        write_sky(yale, sky)
        run(os.path.join(BUILD, "alidade-index"), "build", sky, "--output", index, "--name", "Yale")
        for what, solver, stars in (
                ("an index of Yale solves the bundled sky", index, "catalogs/stars.tsv"),
                ("the bundled index solves the Yale sky",
                 os.path.join(BUILD, "hipparcos.alidx"), sky)):
            out = run(os.path.join(BUILD, "tests", "outside", "cross_solve"), solver, stars,
                      str(lists), str(frames))
            for kind, tried, right, wrong in re.findall(r"(\w+) (\d+) right (\d+) wrong (\d+)",
                                                        out):
                # One in ten may fail: there are places of a hundred square degrees with a dozen such
                # bright stars.
                demand(int(right) >= int(tried) * 9 / 10 and int(wrong) == 0,
                       "%s: %s of %s %s, %s wrong" % (what, right, tried, kind, wrong))


def main():
    if not os.path.exists(YALE):
        print("the Yale catalogue is not there (Debian package xplanet)")
        return 77
    yale, bundled = read_yale(), read_bundled()
    compare_positions(yale, bundled)
    compare_magnitudes(yale, bundled)
    compare_completeness(yale, bundled)
    solve_across(yale)
    print("%d faults" % len(faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
