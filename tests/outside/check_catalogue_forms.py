#!/usr/bin/python3
"""Star catalogues in every form that is read, written by astropy and held against what astropy
itself reads from the same file; motions against its apply_space_motion.

Usage: check_catalogue_forms.py [BUILD_DIR]   (default: $BUILD, else build). Excerpts of real
catalogues are looked at where ../shared/data/catalogues (or $ALIDADE_CATALOGUES) holds them.

An index keeps directions to 0.0002 arcsec and magnitudes to 0.001; the numbers of the catalogue,
here of 64 bits, must be the same.
"""
import gzip
import os
import shutil
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy import units
from astropy.coordinates import SkyCoord
from astropy.io import ascii, fits
from astropy.table import Table
from astropy.time import Time

warnings.simplefilter("ignore")
BUILD = os.path.abspath(sys.argv[1] if len(sys.argv) > 1 else os.environ.get("BUILD", "build"))
EXCERPTS = os.path.abspath(os.environ.get("ALIDADE_CATALOGUES",
                                          os.path.join("..", "shared", "data", "catalogues")))
STARS = 400
ARCSEC = 3600.0
faults, checked = [], 0


def demand(holds, sentence):
    global checked
    checked += 1
    if not holds:
        print("WRONG: " + sentence)
        faults.append(sentence)


def build(*words):
    """Exit code and what was said; the index is new.alidx."""
    if os.path.exists("new.alidx"):
        os.remove("new.alidx")
    done = subprocess.run([os.path.join(BUILD, "alidade-index"), "build", *words, "-o", "new.alidx",
                           "--density", "100000"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True, timeout=120)
    return done.returncode, done.stderr


def star_rows():
    """(number, ra, dec, mag, colour) of new.alidx, as texts."""
    done = subprocess.run([os.path.join(BUILD, "tests", "outside", "index_stars"), "new.alidx"],
                          stdout=subprocess.PIPE, text=True, check=True)
    return [line.split("\t") for line in done.stdout.splitlines()]


def stars():
    """{number: (ra, dec, mag, colour)} of new.alidx."""
    return {int(r[0]): tuple(float(x) for x in r[1:]) for r in star_rows()}


def apart_arcsec(ra, dec, ra2, dec2):
    east = (numpy.asarray(ra) - ra2 + 180) % 360 - 180
    return ARCSEC * numpy.hypot(east * numpy.cos(numpy.radians(dec2)), numpy.asarray(dec) - dec2)


def compare(name, number, ra, dec, mag, *words, most_arcsec=0.0003, files=None):
    """Builds and holds the index against the values given."""
    code, said = build(*(files or [name]), *words)
    demand(code == 0, "%s: exit code %d: %s" % (name, code, said))
    if code:
        return
    have = stars()
    number = [int(n) for n in number]
    demand(sorted(have) == sorted(number), "%s: numbers differ" % name)
    if sorted(have) != sorted(number):
        return
    got = numpy.array([have[n] for n in number])
    off = apart_arcsec(got[:, 0], got[:, 1], numpy.asarray(ra, float), numpy.asarray(dec, float))
    demand(off.max() < most_arcsec, "%s: a place is %.5f arcsec off" % (name, off.max()))
    demand(numpy.abs(got[:, 2] - numpy.asarray(mag, float)).max() < 0.00051,
           "%s: magnitudes differ" % name)


def make_table(seed=3):
    dice = numpy.random.default_rng(seed)
    table = Table()
    table["source_number"] = dice.integers(2 ** 40, 2 ** 62, STARS)
    table["ra"] = dice.uniform(0, 360, STARS) * units.deg
    table["dec"] = numpy.degrees(numpy.arcsin(dice.uniform(-1, 1, STARS))) * units.deg
    table["vmag"] = numpy.round(dice.uniform(2, 12, STARS), 3) * units.mag
    table["pmra"] = dice.normal(0, 300, STARS) * units.mas / units.yr
    table["pmdec"] = dice.normal(0, 300, STARS) * units.mas / units.yr
    return table


def pack(name):
    with open(name, "rb") as plain, gzip.open(name + ".gz", "wb") as packed:
        shutil.copyfileobj(plain, packed)
    return name + ".gz"


def check_read(name, read, *words):
    """The file and its packed copy against what astropy reads from it."""
    table = read(name)
    for each in (name, pack(name)):
        compare(each, table["source_number"], table["ra"], table["dec"], table["vmag"], "--id",
                "source_number", *words)


def check_text(table):
    for name, form in (("a.csv", "csv"), ("a.tsv", "tab"), ("a.ecsv", "ecsv"), ("a.txt", "basic"),
                       ("a.dat", "commented_header"), ("a.bar", "fixed_width"),
                       ("a.two", "fixed_width_two_line")):
        table.write(name, format="ascii." + form, overwrite=True)
        check_read(name, lambda n, f=form: Table.read(n, format="ascii." + f))
    table.write("a.none", format="ascii.no_header", overwrite=True)
    compare("a.none", table["source_number"], table["ra"], table["dec"], table["vmag"],
            "--columns", "id,ra,dec,mag,-,-")
    hours = table.copy()
    hours["ra"] = (table["ra"].to(units.hourangle).value) * units.hourangle
    hours.write("h.ecsv", format="ascii.ecsv", overwrite=True)
    compare("h.ecsv", table["source_number"], table["ra"], table["dec"], table["vmag"], "--id",
            "source_number")
    hours.write("h.csv", format="ascii.csv", overwrite=True)
    code, said = build("h.csv")
    demand(code == 3 and "--ra ra:h" in said, "hours are not asked about: %s" % said)
    compare("h.csv", table["source_number"], table["ra"], table["dec"], table["vmag"], "--id",
            "source_number", "--ra", "ra:h")


def check_described(table):
    """The journals' form, description on top; and the services', description beside."""
    table.write("a.mrt", format="ascii.mrt", overwrite=True)
    check_read("a.mrt", lambda n: Table.read(n, format="ascii.mrt"))
    os.makedirs("beside", exist_ok=True)
    with open("beside/stars.dat", "w") as out:
        for row in table:
            place = SkyCoord(row["ra"] * units.deg, row["dec"] * units.deg)
            h, d = place.ra.hms, place.dec.signed_dms
            out.write("%19d %02d %02d %09.6f %s%02d %02d %08.5f %6.3f\n"
                      % (row["source_number"], h.h, h.m, min(h.s, 59.999999),
                         "-" if d.sign < 0 else "+", d.d, d.m, min(d.s, 59.99999), row["vmag"]))
    rule = "-" * 80
    with open("beside/ReadMe", "w") as out:
        out.write("\n".join([
            "A table of stars", "", "Byte-by-byte Description of file: stars.dat", rule,
            "   Bytes Format Units   Label  Explanations", rule,
            "   1- 19 I19    ---     source_number  Number of the star",
            "  21- 22 I2     h       RAh    Right ascension (J2000), hours",
            "  24- 25 I2     min     RAm    Right ascension (J2000), minutes",
            "  27- 35 F9.6   s       RAs    Right ascension (J2000), seconds",
            "      37 A1     ---     DE-    Sign of the declination",
            "  38- 39 I2     deg     DEd    Declination (J2000), degrees",
            "  41- 42 I2     arcmin  DEm    Declination (J2000), minutes",
            "  44- 51 F8.5   arcsec  DEs    ?Declination (J2000), seconds",
            "  53- 58 F6.3   mag     Vmag   ?=99.999 Magnitude", rule, ""]))
    read = ascii.get_reader(ascii.Cds, readme="beside/ReadMe").read("beside/stars.dat")
    ra = 15 * (read["RAh"] + read["RAm"] / 60 + read["RAs"] / 3600)
    dec = read["DEd"] + read["DEm"] / 60 + read["DEs"] / 3600
    dec = numpy.where(read["DE-"] == "-", -dec, dec)
    for name in ("beside/stars.dat", pack("beside/stars.dat")):
        compare(name, table["source_number"], ra, dec, read["Vmag"], "--id", "source_number")


def check_votable(table):
    for form in ("tabledata", "binary", "binary2"):
        name = form + ".vot"
        table.write(name, format="votable", tabledata_format=form, overwrite=True)
        check_read(name, lambda n: Table.read(n, format="votable"))
    mixed = table.copy()
    mixed["name"] = ["star %d" % (i * 37) for i in range(STARS)]
    mixed["flag"] = numpy.arange(STARS) % 3 == 0
    mixed["pair"] = numpy.arange(2 * STARS).reshape(STARS, 2)
    mixed["words"] = numpy.array(["x" * (i % 9) for i in range(STARS)], dtype=object)
    mixed = mixed["name", "flag", "pair", "words", "source_number", "ra", "dec", "vmag"]
    mixed["vmag"] = mixed["vmag"].astype("f4")
    for form in ("tabledata", "binary", "binary2"):
        name = "mixed-" + form + ".vot"
        mixed.write(name, format="votable", tabledata_format=form, overwrite=True)
        check_read(name, lambda n: Table.read(n, format="votable"))


def check_fits(table):
    table.write("a.fits", format="fits", overwrite=True)
    check_read("a.fits", lambda n: Table.read(n, format="fits"))
    fits.HDUList([fits.PrimaryHDU(), fits.TableHDU.from_columns([
        fits.Column("ra", "F20.12", "deg", array=numpy.array(table["ra"])),
        fits.Column("dec", "F20.12", "deg", array=numpy.array(table["dec"])),
        fits.Column("vmag", "F8.3", "mag", array=numpy.array(table["vmag"])),
        fits.Column("source_number", "A20",
                    array=numpy.array([str(n) for n in table["source_number"]]))])]).writeto(
        "text.fits", overwrite=True)
    compare("text.fits", table["source_number"], table["ra"], table["dec"], table["vmag"], "--id",
            "source_number")
    thousandths = numpy.round(numpy.array(table["vmag"]) * 1000).astype("u2")
    thousandths[-1] = 0  # with its zero point that is the mark of a missing value
    types = fits.HDUList([fits.PrimaryHDU(), fits.BinTableHDU.from_columns([
        fits.Column("HIP", "J", null=-1, array=numpy.arange(1, STARS + 1)),
        fits.Column("ra", "J", "0.001 arcsec",
                    array=numpy.round(numpy.array(table["ra"]) * 3.6e6).astype("i4")),
        fits.Column("dec", "D", "rad", array=numpy.radians(numpy.array(table["dec"]))),
        fits.Column("vmag", "I", "mmag", bzero=32768, null=-32768, array=thousandths),
        fits.Column("bv", "2E", array=numpy.ones((STARS, 2))),
        fits.Column("flags", "X", array=numpy.ones((STARS, 1), bool))])])
    types.writeto("types.fits", overwrite=True)
    compare("types.fits", range(1, STARS), (numpy.round(numpy.array(table["ra"]) * 3.6e6) / 3.6e6)[:-1],
            table["dec"][:-1], table["vmag"][:-1], most_arcsec=0.0006)
    demand("row %d: no magnitude" % STARS in build("types.fits")[1], "a missing value is told")
    packed = fits.BinTableHDU.from_columns([fits.Column(n, "1PB(9)", array=numpy.array(
        [[1, 2]] * 9, dtype=object)) for n in ("ra", "dec", "vmag")])
    packed.header["ZTABLE"] = True
    packed.writeto("packed.fits", overwrite=True)
    code, said = build("packed.fits")
    demand(code == 3 and "compressed within it" in said, "packed rows: %d, %s" % (code, said))


def refused(name, data, sentence):
    """One sentence, and nothing written."""
    with open(name, "wb") as out:
        out.write(data)
    code, said = build(name)
    demand(code == 3 and sentence in said and said.count("\n") == 1 and
           not os.path.exists("new.alidx"), "%s: exit code %d: %s" % (name, code, said))


def check_bad_forms(table):
    """Each form that tells where it ends, cut; units that are none; more columns than there are."""
    table.write("b.fits", format="fits", overwrite=True)
    with open("b.fits", "rb") as file:
        sound = file.read()
    refused("bad.fits", sound[:-6000], "cannot read rows")
    refused("bad.fits", sound[:4000], "holds no table")
    refused("bad.fits", sound.replace(b"= 'deg     '", b"= 'furlong '"), 'unknown unit "furlong"')
    card = sound.index(b"TFIELDS =")
    refused("bad.fits", sound[:card] + b"TFIELDS =              1000000".ljust(80) +
            sound[card + 80:], "expected TFIELDS to be a whole number from 0 to 999")
    for form, sentence in (("tabledata", "cut short"), ("binary", "cut short"),
                           ("binary2", "cut short")):
        table.write("b.vot", format="votable", tabledata_format=form, overwrite=True)
        with open("b.vot", "rb") as file:
            sound = file.read()
        refused("bad.vot", sound[:len(sound) * 2 // 3], sentence)
        refused("bad.vot", gzip.compress(sound)[:len(sound) // 5], "cut short")
        refused("bad.vot", sound.replace(b'unit="deg"', b'unit="furlong"'), 'unknown unit "furlong"')


def check_motion(table):
    """From Gaia's epoch to 2040; a step of 0.002 arcsec is allowed for the years' two scales."""
    gaia = Table({"source_id": table["source_number"], "ra": table["ra"], "dec": table["dec"],
                  "phot_g_mean_mag": table["vmag"], "pmra": table["pmra"],
                  "pmdec": table["pmdec"]})
    place = SkyCoord(table["ra"], table["dec"], pm_ra_cosdec=table["pmra"], pm_dec=table["pmdec"],
                     distance=1 * units.kpc, radial_velocity=0 * units.km / units.s,
                     obstime=Time(2016, format="jyear", scale="tcb"))
    moved = place.apply_space_motion(new_obstime=Time(2040, format="jyear", scale="tcb"))
    gaia.write("g.csv", format="ascii.csv", overwrite=True)
    compare("g.csv", gaia["source_id"], moved.ra.deg, moved.dec.deg, gaia["phot_g_mean_mag"],
            "--epoch", "2040", most_arcsec=0.002)
    own = gaia.copy()
    own["ref_epoch"] = 2016.0
    own.write("g.vot", format="votable", overwrite=True)
    compare("g.vot", gaia["source_id"], moved.ra.deg, moved.dec.deg, gaia["phot_g_mean_mag"],
            "--epoch", "2040", most_arcsec=0.002)
    seconds = Table({"id": table["source_number"], "ra": table["ra"], "dec": table["dec"],
                     "mag": table["vmag"], "pmra": gaia["pmra"].value / 15000
                     / numpy.cos(numpy.radians(gaia["dec"].value)),
                     "pmdec": gaia["pmdec"].value / 1000})
    seconds.write("s.csv", format="ascii.csv", overwrite=True)
    slow = numpy.abs(gaia["dec"].value) < 89  # nearer to a pole no unit of the coordinate is usual
    compare_some("s.csv", slow, gaia, moved, "--pm-ra", "pmra:s/yr", "--pm-dec", "pmdec:arcsec/yr")
    bare = seconds.copy()
    bare["pmra"] = bare["pmra"] * 15000
    bare["pmdec"] = gaia["pmdec"].value
    bare.write("b.csv", format="ascii.csv", overwrite=True)
    compare_some("b.csv", slow, gaia, moved, "--pm-without-cos-dec")


def compare_some(name, slow, gaia, moved, *words):
    code, said = build(name, "--from-epoch", "2016", "--epoch", "2040", *words)
    demand(code == 0, "%s: %s" % (name, said))
    if code == 0:
        have = stars()
        got = numpy.array([have[int(n)] for n in gaia["source_id"]])
        off = apart_arcsec(got[:, 0], got[:, 1], moved.ra.deg, moved.dec.deg)[slow]
        demand(off.max() < 0.002, "%s: a place is %.4f arcsec off" % (name, off.max()))


def excerpt(name):
    return os.path.join(EXCERPTS, name)


def check_gaia_excerpts():
    for name, form in (("br_gaia_hrd.csv", "ascii.csv"), ("br_m45.csv", "ascii.csv"),
                       ("br_m45.fits", "fits"), ("em_gaia.csv", "ascii.csv")):
        table = Table.read(excerpt(name), format=form)
        compare(name, table["source_id"], table["ra"], table["dec"], table["phot_g_mean_mag"],
                files=[excerpt(name)])
    two = Table.read(excerpt("aq_gaia.vot"), format="votable")
    many = Table.read(excerpt("em_gaia.csv"), format="ascii.csv")
    two.rename_columns(["SOURCE_ID"], ["source_id"])
    join = [numpy.concatenate([numpy.array(two[c]), numpy.array(many[c])])
            for c in ("source_id", "ra", "dec", "phot_g_mean_mag")]
    compare("aq_gaia.vot", *join, files=[excerpt("aq_gaia.vot"), excerpt("em_gaia.csv")])
    cluster = Table.read(excerpt("em_clustercat.tsv"), format="ascii.tab")
    for name in ("em_clustercat.tsv", "em_clustercat.dat"):
        compare(name, cluster["Gaia_EDR3_Source_ID"], cluster["RA"], cluster["Dec"], cluster["G"],
                files=[excerpt(name)])


def check_other_excerpts():
    hyg = Table.read(excerpt("el_hyg65.csv"), format="ascii.csv")
    hyg = hyg[~hyg["hip"].mask] if hasattr(hyg["hip"], "mask") else hyg
    code, said = build(excerpt("el_hyg65.csv"))
    have = stars() if code == 0 else {}
    worst = max((apart_arcsec(*have[int(r["hip"])][:2], numpy.degrees(r["rarad"]),
                              numpy.degrees(r["decrad"])) for r in hyg), default=numpy.inf)
    # The hours have six decimals: 0.054 arcsec.
    demand(code == 0 and worst < 0.06, "el_hyg65.csv: %.3f arcsec, %s" % (worst, said))
    bsc = Table.read(excerpt("am_bsc5.fits"), format="fits")
    compare("am_bsc5.fits", bsc["MY_BSC_ID"], bsc["RA"], bsc["DEC"], bsc["VMAG"], "--id",
            "MY_BSC_ID", files=[excerpt("am_bsc5.fits")])
    places = numpy.array([bsc["RA"], bsc["DEC"]]).T
    code, said = build(excerpt("ks_bsc.txt"))
    have = stars() if code == 0 else {}
    near = [apart_arcsec(places[:, 0], places[:, 1], ra, dec).min()
            for ra, dec, *_ in have.values()]
    # The one rounds seconds of time to 0.1, the other takes the same to 1e-5 degrees.
    demand(len(near) == 596 and max(near) < 0.1, "ks_bsc.txt: %d stars, %s" % (len(near), said))


def check_hipparcos_excerpts():
    rows = [line.split("|") for line in open(excerpt("sf_hip_main.dat"))]
    rows = [r for r in rows if r[8].strip()]
    for name in ("sf_hip_main.dat", "sf_hip_main.dat.gz"):
        compare(name, [r[1] for r in rows], [float(r[8]) for r in rows], [float(r[9]) for r in rows],
                [float(r[5]) for r in rows], files=[excerpt(name)])
    code, said = build(excerpt("ks_hip.txt"), "--epoch", "2000")
    have = stars() if code == 0 else {}
    # Sirius and Vega, ICRS, J2000 (values of the literature, from memory).
    for hip, ra, dec in ((32349, 101.287155, -16.716116), (91262, 279.234735, 38.783689)):
        off = apart_arcsec(*have.get(hip, (0, 0))[:2], ra, dec)
        demand(off < 0.05, "ks_hip.txt: HIP %d is %.3f arcsec off, %s" % (hip, off, said))


def check_fixed_excerpts():
    lines = [x for x in open(excerpt("ucac4.txt")) if not x.startswith("#")]
    lines = [x for x in lines if x[63:69].strip() not in ("20.000", "---")]
    compare("ucac4.txt", [x[0:3] + x[4:10] for x in lines], [float(x[11:22]) for x in lines],
            [float(x[22:33]) for x in lines], [float(x[63:69]) for x in lines],
            files=[excerpt("ucac4.txt")])
    rule = "-" * 30
    with open("osbsc.txt", "w") as out:
        out.write("\n".join(["Byte-by-byte Description of file: jo_osbsc.utf8", rule, rule,
                             " 1- 6 I6 --- HIP x", " 9- 24 A16 h:m:s RA x",
                             " 27- 42 A16 d:m:s DE x", "148-152 F5.2 mag Vmag x", rule, ""]))
    lines = open(excerpt("jo_osbsc.utf8"), encoding="utf-8").read().splitlines()
    # The spelt right ascension has 7 decimals of a second, the radians 10: 0.00002 arcsec.
    compare("jo_osbsc.utf8", [x[0:6] for x in lines],
            [numpy.degrees(float(x[42:56])) for x in lines],
            [numpy.degrees(float(x[56:71])) for x in lines], [float(x[147:152]) for x in lines],
            "--describe", "osbsc.txt", files=[excerpt("jo_osbsc.utf8")])


# What becomes of each excerpt: with which options, and how many stars, or why none. Of those that
# hold positions and magnitudes all but one build as they are: two stars make no index.
WHAT_BECOMES = (
    ("am_bsc5.fits", "", 9096),
    ("aq_gaia.vot", "", "2 usable stars are too few"),
    ("aq_viz.xml", "", "holds several tables of stars, I/149A/catalog and I/196/main among them; "
                       "choose one with --table"),
    ("aq_viz.xml", "--table I/149A/catalog", "1 usable star is too few"),
    ("aq_viz.xml", "--table III/244/catalog", "no four of the 5 stars make a quad"),
    ("aq_viz.xml", "--table II/134/data", "is for the equinox B1950, expected J2000"),
    ("aq_viz.xml", "--table II/246/out", "no column looks like the magnitude"),
    ("aq_x.csv", "", "expected a header row with at least two columns"),
    ("br_gaia_hrd.csv", "", 598),
    ("br_m3.csv", "", "no column looks like the magnitude"),
    ("br_m45.csv", "", 598),
    ("br_m45.fits", "", 2000),
    ("el_hyg65.csv", "", 503),
    ("em_clustercat.dat", "", 598),
    ("em_clustercat.tsv", "", 598),
    ("em_gaia.csv", "", 320),
    ("jo_hipva2.dat", "", "expected the names of the columns, found numbers"),
    ("jo_hipva2.dat", "--columns hip,-,-,-,-,-,mag" + ",-" * 16,
     "no column looks like the right ascension"),
    ("jo_osbsc.utf8", "", "expected the names of the columns, found numbers"),
    ("jo_osbsc.utf8", "--describe osbsc.txt", 599),
    ("ks_bsc.txt", "", 596),
    ("ks_hip.txt", "", 593),
    ("ksp_gaia.csv", "", "no column looks like the right ascension"),
    ("sf_hip_main.dat", "", 354),
    ("sf_hip_main.dat.gz", "", 354),
    ("ty_cse.csv", "", "expected the names of the columns, found numbers"),
    ("ty_cse.csv", "--columns id,ra,dec,-", "no column looks like the magnitude"),
    ("ty_edd.csv", "", "expected the names of the columns, found numbers"),
    ("ty_edd.csv", "--columns id,ra,dec", "no column looks like the magnitude"),
    ("ucac4.txt", "", 540))


def check_all_excerpts():
    """Each is used or refused with a sentence that says what is missing; nothing else is there."""
    for name, options, outcome in WHAT_BECOMES:
        code, said = build(excerpt(name), *options.split())
        if isinstance(outcome, int):
            count = len(star_rows()) if code == 0 else 0
            demand(count == outcome, "%s %s: %d stars: %s" % (name, options, count, said))
        else:
            demand(code == 3 and outcome in said and said.strip().count("\n") == 0 and
                   not os.path.exists("new.alidx"),
                   "%s %s: exit code %d: %s" % (name, options, code, said))
    demand(set(os.listdir(EXCERPTS)) == {row[0] for row in WHAT_BECOMES}, "an excerpt is left out")


def main():
    table = make_table()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        check_text(table)
        check_described(table)
        check_votable(table)
        check_fits(table)
        check_bad_forms(table)
        check_motion(table)
        seen = os.path.isdir(EXCERPTS)
        if seen:
            check_gaia_excerpts()
            check_other_excerpts()
            check_hipparcos_excerpts()
            check_fixed_excerpts()
            check_all_excerpts()
        os.chdir("/")
    print("%d checks, %d wrong%s" % (checked, len(faults), "" if seen else "; no excerpts here"))
    return 1 if faults else 0


sys.exit(main())
