#!/usr/bin/python3
"""The same stars in every form that is read: each must make the same index to the byte, in memory
that does not grow with the table. 100,000 rows, or as many as ROWS says: 2,500,000 in the long tests.

Usage: check_large_catalogues.py [BUILD_DIR]   (default: $BUILD, else build)

The rows are written here, by hand or by astropy, from one list of whole millionths of a degree and
thousandths of a magnitude; only the form differs. Prints how long each took, and its memory.
"""
import base64
import gzip
import os
import subprocess
import sys
import tempfile

import numpy
from astropy.io import fits

BUILD = os.path.abspath(sys.argv[1] if len(sys.argv) > 1 else os.environ.get("BUILD", "build"))
TIMES = float(os.environ.get("SAMPLE_TIMES", "1"))
ROWS = int(os.environ.get("ROWS", 2500000 if TIMES > 1 else 100000))
MOST_MB = 64  # a window of the file, the stars that are kept, and the program
AT_ONCE = 100000
NAMES = ("id", "ra", "dec", "mag")


def make_stars():
    """Numbers, millionths of degrees, thousandths of a magnitude; the faintest are left out later."""
    dice = numpy.random.default_rng(20)
    return (numpy.arange(1, ROWS + 1), dice.integers(0, 360000000, ROWS),
            dice.integers(-89999999, 90000000, ROWS), dice.integers(4000, 20000, ROWS))


def texts(stars):
    """Blocks of rows, four texts each; a millionth of a degree is written whole, so that every form
    reads the same number."""
    for first in range(0, ROWS, AT_ONCE):
        part = [column[first:first + AT_ONCE].tolist() for column in stars]
        yield [("%d" % number, "%.6f" % (ra / 1e6), "%.6f" % (dec / 1e6), "%.3f" % (mag / 1e3))
               for number, ra, dec, mag in zip(*part)]


def write_text(name, stars, row, head="", tail="", open_file=open):
    with open_file(name, "wt") as out:
        out.write(head)
        for block in texts(stars):
            out.write("".join([row % cells for cells in block]))
        out.write(tail)


def fields(kinds):
    units = ("", ' unit="deg"', ' unit="deg"', ' unit="mag"')
    return "".join('<FIELD name="%s" datatype="%s"%s/>' % each for each in zip(NAMES, kinds, units))


def values(stars):
    number, ra, dec, mag = stars
    return number, ra / 1e6, dec / 1e6, mag / 1e3


def write_binary(name, stars, form):
    """VOTable's BINARY, or BINARY2, whose rows begin with a byte of flags for what is missing."""
    kinds = [("flags", "u1")] * (form == "BINARY2")
    kinds += [("id", ">i8"), ("ra", ">f8"), ("dec", ">f8"), ("mag", ">f8")]
    rows = numpy.zeros(ROWS, dtype=kinds)
    for key, column in zip(NAMES, values(stars)):
        rows[key] = column
    with open(name, "w") as out:
        out.write("<VOTABLE><RESOURCE><TABLE>%s<DATA><%s><STREAM encoding='base64'>\n"
                  % (fields(("long", "double", "double", "double")), form))
        data = rows.tobytes()
        for first in range(0, len(data), 57 * 1000):
            out.write(base64.encodebytes(data[first:first + 57 * 1000]).decode())
        out.write("</STREAM></%s></DATA></TABLE></RESOURCE></VOTABLE>\n" % form)


def write_fits(name, stars):
    columns = [fits.Column(key, kind, unit, array=column) for key, kind, unit, column in
               zip(NAMES, "KDDD", (None, "deg", "deg", "mag"), values(stars))]
    fits.BinTableHDU.from_columns(columns).writeto(name)


def write_description():
    rule = "-" * 60
    with open("stars.txt", "w") as out:
        out.write("\n".join(["Byte-by-byte Description of file: fixed.dat", rule,
                             " Bytes Format Units Label Explanations", rule,
                             " 1- 8 I8 --- id number", "10-19 F10.6 deg RAdeg right ascension",
                             "21-30 F10.6 deg DEdeg declination", "32-37 F6.3 mag Vmag magnitude",
                             rule, ""]))


def forms(stars):
    """(name, options) of each form, as it is written."""
    comma = "%s,%s,%s,%s\n"
    write_text("a.csv", stars, comma, "id,ra,dec,mag\n")
    yield "a.csv", ()
    write_text("a.csv.gz", stars, comma, "id,ra,dec,mag\n",
               open_file=lambda *words: gzip.open(*words, compresslevel=1))
    yield "a.csv.gz", ()
    write_text("bare.csv", stars, comma)
    yield "bare.csv", ("--columns", "id,ra,dec,mag")
    write_text("blanks.txt", stars, "%s %s %s %s\n", "# id ra dec mag\n")
    yield "blanks.txt", ()
    write_text("bars.dat", stars, "%s|%s|%s|%s|\n")
    yield "bars.dat", ("--columns", "id,ra,dec,mag,-")
    write_description()
    write_text("fixed.dat", stars, "%8s %10s %10s %6s\n")
    yield "fixed.dat", ("--describe", "stars.txt")
    write_text("rows.vot", stars, "<TR><TD>%s</TD><TD>%s</TD><TD>%s</TD><TD>%s</TD></TR>\n",
               "<VOTABLE><RESOURCE><TABLE>%s<DATA><TABLEDATA>\n"
               % fields(("long", "double", "double", "float")),
               "</TABLEDATA></DATA></TABLE></RESOURCE></VOTABLE>\n")
    yield "rows.vot", ()
    for form in ("BINARY", "BINARY2"):
        write_binary(form + ".vot", stars, form)
        yield form + ".vot", ()
    write_fits("a.fits", stars)
    yield "a.fits", ()


def build(name, options):
    """What was said, the index, seconds and megabytes."""
    for old in ("new.alidx", "numbers"):
        if os.path.exists(old):
            os.remove(old)
    done = subprocess.run([os.path.join(BUILD, "tests", "bench", "speed"), "--numbers", "numbers",
                           "--key", "build", "run", "--", os.path.join(BUILD, "alidade-index"),
                           "build", name, *options, "-o", "new.alidx", "--name", "stars",
                           "--faintest", "4.05"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          text=True)
    index, taken = b"", {}
    if os.path.exists("new.alidx"):
        with open("new.alidx", "rb") as made:
            index = made.read()
    if os.path.exists("numbers"):
        taken = dict(line.split() for line in open("numbers"))
    return (done.stdout, index, float(taken.get("speed.build.wall_s", "nan")),
            float(taken.get("speed.build.most_mb", "nan")))


def main():
    faults, first = [], None
    stars = make_stars()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        for name, options in forms(stars):
            said, index, seconds, megabytes = build(name, options)
            print("%-12s %8.1f MB of table, %5.1f s, %4.0f MB of memory"
                  % (name, os.path.getsize(name) / 1e6, seconds, megabytes))
            first = first or index
            if not index or index != first:
                faults.append("%s makes %s: %s" % (name, "another index" if index else "none", said))
            if not megabytes <= MOST_MB:
                faults.append("%s takes %.0f MB, expected at most %d" % (name, megabytes, MOST_MB))
            os.remove(name)
        os.chdir("/")
    for fault in faults:
        print("WRONG: " + fault)
    print("%d rows in each form, %d wrong" % (ROWS, len(faults)))
    return 1 if faults else 0


sys.exit(main())
