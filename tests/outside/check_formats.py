#!/usr/bin/env python3
"""Frames as other software reads and writes them.

exiftool: every EXIF value taken from raw files and JPEGs. LibRaw's own unprocessed_raw: the sensor
values of a DNG. Pillow, tiffcp and astropy write TIFF and FITS files of every kind; their
values must come back.
"""
import json
import math
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import warnings

import numpy as np
from astropy.io import fits
from PIL import Image

build = os.path.abspath(os.environ["BUILD"])
render = os.path.join(build, "demo/render")
dump = os.path.join(build, "tests/outside/frame_dump")
stars = os.path.abspath("catalogs/stars.tsv")
make_raw = os.path.abspath("tests/fuzz/make_raw.py")
failures = []
checks = 0


def demand(condition, text):
    global checks
    checks += 1
    if not condition:
        failures.append(text)
        print("FAILED:", text)


def read(name, most=0):
    out = subprocess.run([dump, name, "plane", str(most)], capture_output=True, text=True)
    if out.returncode:
        raise RuntimeError(out.stderr)
    facts = dict(line.split("\t") for line in out.stdout.splitlines())
    shape = int(facts["plane_height"]), int(facts["plane_width"])
    return facts, np.fromfile("plane", "<f4").reshape(shape)


def same(name, want, what, tolerance=0.0):
    """The plane of the file against an array, row by row from the top."""
    try:
        _, got = read(name)
    except RuntimeError as trouble:
        demand(False, "%s: %s" % (what, trouble))
        return
    good = got.shape == want.shape
    off = np.nanmax(np.abs(got - want)) if good else math.nan
    good = good and np.array_equal(np.isnan(got), np.isnan(want))
    demand(good and off <= tolerance, "%s: off by %s" % (what, off))


# ---- exiftool (Debian's libimage-exiftool-perl) ----

def exiftool(name, options=("-n",)):
    out = subprocess.run(["exiftool", *options, "-j", name], capture_output=True, text=True, check=True)
    return json.loads(out.stdout)[0]


def compare_exif(name, what):
    facts, _ = read(name)
    theirs = exiftool(name)
    numbers = {"focal_mm": "FocalLength", "focal_35mm": "FocalLengthIn35mmFormat",
               "exposure_s": "ExposureTime", "iso": "ISO", "f_number": "FNumber",
               "latitude_deg": "GPSLatitude", "longitude_deg": "GPSLongitude",
               "height_m": "GPSAltitude"}
    for ours, tag in numbers.items():
        demand((ours in facts) == (tag in theirs), "%s: %s read by one only" % (what, tag))
        if ours in facts and tag in theirs:
            got, want = float(facts[ours]), float(theirs[tag])
            demand(abs(got - want) <= 1e-6 * max(1, abs(want)),
                   "%s: %s %g, exiftool %g" % (what, tag, got, want))
    if "FocalPlaneXResolution" in theirs:
        unit = {2: 25400, 3: 10000, 4: 1000, 5: 1}[theirs["FocalPlaneResolutionUnit"]]
        want = unit / theirs["FocalPlaneXResolution"]
        demand(abs(float(facts["pixel_um"]) / want - 1) < 1e-5, "%s: pixel pitch" % what)
    if "DateTimeOriginal" in theirs:
        want = theirs["DateTimeOriginal"].replace(":", "-", 2).replace(" ", "T")
        fraction = str(theirs.get("SubSecTimeOriginal", ""))
        want += "." + fraction.zfill(2) if fraction else ""
        demand(facts["start_local"] == want, "%s: %s, exiftool %s"
               % (what, facts["start_local"], want))
    names = [theirs.get("Make", ""), theirs.get("Model", "")]
    if not any(names):  # then DNG's own name is all there is
        names = [theirs.get("UniqueCameraModel", "")]
    demand(facts["camera"] == " ".join(names), "%s: camera %s" % (what, facts["camera"]))


def check_exif():
    if not shutil.which("exiftool"):
        print("exiftool is not here")
        return
    cases = [("a.dng", ["--state-zone", "--state-place", "--latitude", "-33.4567", "--longitude",
                        "-70.6543", "--zone", "-210", "--focal", "51.3"]),
             ("b.dng", ["--exposure", "0.0125", "--aperture", "5.6", "--focal", "24"]),
             ("c.dng", ["--bare"]), ("d.jpg", ["--zone", "90"])]
    for name, options in cases:
        subprocess.run([render, "--stars", stars, "--size", "120x80", "--start",
                        "2026-02-24T23:59:59.25", "--azimuth", "120", "--out", name] + options,
                       check=True, stdout=subprocess.DEVNULL)
        compare_exif(name, "%s %s" % (name, " ".join(options)))
    # The answer tells where the camera stood.
    out = subprocess.run([os.path.join(build, "alidade"), "solve", "--json",
                          "--index", os.path.join(build, "hipparcos.alidx"), "a.dng"],
                         capture_output=True, text=True)
    place, theirs = json.loads(out.stdout).get("place", {}), exiftool("a.dng")
    for key, tag in (("latitude_deg", "GPSLatitude"), ("longitude_deg", "GPSLongitude"),
                     ("height_m", "GPSAltitude")):
        demand(abs(place.get(key, 1e9) - theirs.get(tag, 0)) < 1e-5 or key == "height_m" and
               abs(place.get(key, 1e9) - theirs.get(tag, 0)) < 0.06,
               "%s in the answer: %s, exiftool %s" % (key, place.get(key), theirs.get(tag)))
    # Values that the renderer never writes, put there by exiftool itself.
    subprocess.run(["exiftool", "-q", "-overwrite_original", "-ISO=51200", "-LensModel=Long One",
                    "-GPSAltitude=412.5", "-GPSAltitudeRef=0", "-GPSLatitude=50.25",
                    "-GPSLatitudeRef=N", "-GPSLongitude=123.5", "-GPSLongitudeRef=E",
                    "-FocalLength=135",
                    "-OffsetTimeOriginal=+05:45", "-SubSecTimeOriginal=07", "d.jpg"], check=True)
    compare_exif("d.jpg", "d.jpg edited")
    facts, _ = read("d.jpg")
    demand(facts["lens"] == "Long One", "lens model: %s" % facts["lens"])
    demand(facts["start_utc"] == "2026-02-24T19:44:59.07Z", "offset: %s" % facts["start_utc"])


# ---- LibRaw's unprocessed_raw (Debian's libraw-bin) ----

def check_sensor_values():
    if not shutil.which("unprocessed_raw"):
        print("unprocessed_raw is not here")
        return
    subprocess.run([render, "--stars", stars, "--size", "300x200", "--ra", "83.8", "--dec", "-5.4",
                    "--focal", "85", "--out", "e.dng"], check=True, stdout=subprocess.DEVNULL)
    subprocess.run(["unprocessed_raw", "-T", "e.dng"], check=True, stdout=subprocess.DEVNULL)
    out = [n for n in os.listdir(".") if n.startswith("e.dng") and n != "e.dng"]
    raw = np.asarray(Image.open(out[0])).astype(float)
    cells = raw.reshape(100, 2, 150, 2).mean(axis=(1, 3)) - 512
    same("e.dng", cells, "cells of unprocessed_raw", 1e-3)


# Raw files that nothing but LibRaw knows: what it reads of them is what must come out, but for the
# black level, which is the same everywhere.

def check_libraw_alone():
    if not shutil.which("unprocessed_raw"):
        return
    subprocess.run([sys.executable, make_raw, "."], check=True)
    for name, rim in (("small.crw", 0), ("small.iiq", 0), ("small.raw", 0), ("small.k25", 2)):
        subprocess.run(["unprocessed_raw", "-T", name], check=True, stdout=subprocess.DEVNULL)
        raw = np.asarray(Image.open(name + ".tiff")).astype(float)
        try:
            facts, got = read(name)
        except RuntimeError as trouble:
            demand(False, "%s: %s" % (name, trouble))
            continue
        high, wide = got.shape
        raw = raw[rim:rim + 2 * high, rim:rim + 2 * wide]
        off = raw.reshape(high, 2, wide, 2).mean(axis=(1, 3)) - got
        demand(facts["format"] == "camera raw" and np.ptp(off) < 1e-3 and raw.std() > 10,
               "%s: %s, off by %g" % (name, facts["format"], np.ptp(off)))
    # The second directory's place is lost; LibRaw would go through 2^32 entries.
    with open("small.iiq", "rb") as stream:
        data = stream.read()
    with open("lost.iiq", "wb") as stream:
        stream.write(data.replace(b"\x10\1\0\0\1\0\0\0", b"\x11\1\0\0\1\0\0\0", 1))
    refused("lost.iiq", "its two directories")


def refused(name, reason):
    try:
        read(name)
        demand(False, "%s is read" % name)
    except RuntimeError as trouble:
        demand(reason in str(trouble), "%s: %s" % (name, trouble))


def check_dng_facts():
    if not shutil.which("exiftool"):
        return
    subprocess.run([render, "--stars", stars, "--size", "300x200", "--ra", "80", "--dec", "9", "--exposure",
                    "4", "--focal", "85", "--out", "r.dng"], check=True, stdout=subprocess.DEVNULL)
    pitch = float(read("r.dng")[0]["pixel_um"])
    # DNG 1.4: a frame of 600 x 400 that was reduced to half of that since.
    subprocess.run(["exiftool", "-q", "-o", "half.dng", "-IFD0:OriginalDefaultFinalSize=600 400",
                    "-IFD0:DefaultCropSize=300 200", "r.dng"], check=True)
    half = float(read("half.dng")[0]["pixel_um"])
    demand(abs(half / pitch - 2) < 1e-6, "pitch of a reduced DNG: %g for %g" % (half, pitch))
    # A camera that knows neither writes zeros, also in powers of two.
    subprocess.run(["exiftool", "-q", "-n", "-o", "zero.dng", "-ExposureTime=0", "-FNumber=0",
                    "-ShutterSpeedValue=1", "-ApertureValue=1", "r.dng"], check=True)
    facts = read("zero.dng")[0]
    demand("exposure_s" not in facts and "f_number" not in facts, "zeros are taken: %s" % facts)
    # Pixels that are not there, and pixels of nothing; exiftool puts them last.
    with open("half.dng", "rb") as stream:
        data = stream.read()
    start = exiftool("half.dng")["StripOffsets"]
    for name, changed, reason in (
            ("cut.dng", data[:-5000], "the file ends early"),
            ("head.dng", data[:start], "the file ends early"),
            ("none.dng", data[:start] + bytes(len(data) - start), "of which there are none")):
        with open(name, "wb") as stream:
            stream.write(changed)
        refused(name, reason)


# ---- ISO in a maker's own tags, as exiftool finds it ----

def entry(tag, kind, count, value):
    return struct.pack("<HHI", tag, kind, count) + value.ljust(4, b"\0")


def directory(*entries):
    return struct.pack("<H", len(entries)) + b"".join(entries) + bytes(4)


def write_with_note(name, make, note):
    """A picture whose EXIF states nothing but the maker and what follows from note(its place)."""
    place = 8 + 30 + 18
    note, make = note(place), make.encode() + b"\0"
    first = directory(entry(0x010f, 2, len(make), struct.pack("<I", place + len(note))),
                      entry(0x8769, 4, 1, struct.pack("<I", 8 + 30)))
    camera = directory(entry(0x927c, 7, len(note), struct.pack("<I", place)))
    block = b"II*\0" + struct.pack("<I", 8) + first + camera + note + make
    Image.new("L", (64, 48), 40).save(name, exif=b"Exif\0\0" + block)


def short(value):
    return struct.pack("<H", value)


def canon_settings(place):
    """Tag 1: numbers of 16 bits, the 17th a code for the speed."""
    numbers = [92] + 45 * [0]
    numbers[16] = 18
    return (directory(entry(1, 3, 46, struct.pack("<I", place + 18))) +
            struct.pack("<46H", *numbers))


def canon_shot(place):
    """Tag 4: what the camera chose, as powers of two: speed, and gain over it."""
    return (directory(entry(4, 3, 30, struct.pack("<I", place + 18))) +
            struct.pack("<30H", 60, 32, 224, *27 * [0]))


def olympus(place):
    """Tag 0x1001: the speed as a power of two."""
    head = b"OLYMP\0\1\0"
    return (head + directory(entry(0x1001, 10, 1, struct.pack("<I", place + len(head) + 18))) +
            struct.pack("<ii", 7, 1))


def nikon(place):
    """Two numbers, of which the second counts; a directory of its own byte order."""
    return (b"Nikon\0\2\x10\0\0MM\0*\0\0\0\x08" +
            struct.pack(">HHHIHHI", 1, 2, 3, 2, 0, 640, 0))


def check_maker_iso():
    cases = [("NIKON", nikon), ("Canon", canon_settings), ("Canon", canon_shot),
             ("OLYMPUS CORPORATION", olympus)]
    # Pentax and Casio have a list of speeds, in which this is the number.
    for code in (3, 4, 9, 16, 21, 33, 100, 258, 267, 274):
        cases.append(("PENTAX Corporation",
                      lambda place, c=code: b"AOC\0II" + directory(entry(0x14, 3, 1, short(c)))))
    for code in (3, 6, 9):
        cases.append(("CASIO COMPUTER CO.,LTD",
                      lambda place, c=code: b"QVC\0\0\0" + directory(entry(0x14, 3, 1, short(c)))))
    for number, (make, note) in enumerate(cases):
        name = "iso-%d.jpg" % number
        write_with_note(name, make, note)
        ours = read(name)[0].get("iso")
        if number == 0:
            demand(ours == "640", "ISO of a maker's tags: %s" % ours)
        if shutil.which("exiftool"):
            shown = exiftool(name, ())
            theirs = str(shown.get("ISO", shown.get("ISOValue"))).split()[-1]
            demand(ours is not None and float(ours) == float(theirs),
                   "%s, case %d: ISO %s, exiftool %s" % (make, number, ours, theirs))


# ---- TIFF by Pillow, laid out anew by libtiff's tiffcp ----

def check_tiff(rng):
    grey8 = rng.integers(0, 256, (61, 83), dtype=np.uint8)
    grey16 = rng.integers(0, 65536, (61, 83), dtype=np.uint16)
    single = rng.normal(0, 1000, (61, 83)).astype(np.float32)
    rgb = rng.integers(0, 256, (61, 83, 3), dtype=np.uint8)
    for packing in (None, "tiff_lzw", "tiff_adobe_deflate", "packbits"):
        for what, array in (("8-bit", grey8), ("16-bit", grey16), ("float", single)):
            Image.fromarray(array).save("p.tif", compression=packing)
            same("p.tif", array, "Pillow's %s TIFF, %s" % (what, packing))
        Image.fromarray(rgb).save("p.tif", compression=packing)
        same("p.tif", rgb.mean(axis=2), "Pillow's RGB TIFF, %s" % packing, 1e-4)
    Image.fromarray(rgb).save("p.tif")
    Image.fromarray(grey16).save("g.tif")
    for options in (["-p", "separate"], ["-t", "-w", "32", "-l", "32"],
                    ["-t", "-w", "32", "-l", "32", "-p", "separate", "-c", "zip:p2"],
                    ["-B", "-c", "zip"], ["-c", "lzw:2", "-r", "7"], ["-f", "lsb2msb"]):
        subprocess.run(["tiffcp", "-8", *options, "p.tif", "m.tif"], check=True)
        same("m.tif", rgb.mean(axis=2), "tiffcp's BigTIFF %s" % options, 1e-4)
        if "separate" in options:  # which tiffcp does to 8 bits only
            continue
        subprocess.run(["tiffcp", *options, "g.tif", "m.tif"], check=True)
        same("m.tif", grey16, "tiffcp's 16-bit TIFF %s" % options)


# ---- FITS by astropy ----

def check_fits(rng):
    for kind in ("u1", "i2", "i4", "i8", "f4", "f8", "u2", "u4"):
        array = rng.integers(0, 100, (61, 83)).astype(kind)
        fits.PrimaryHDU(array).writeto("f.fits", overwrite=True)
        same("f.fits", array[::-1], "astropy's FITS of %s" % kind)
        hdu = fits.PrimaryHDU(array)
        hdu.header["ROWORDER"] = "TOP-DOWN"
        hdu.writeto("f.fits", overwrite=True)
        same("f.fits", array, "astropy's FITS of %s from the top" % kind)
    holes = rng.normal(0, 1, (61, 83)).astype("f4")
    holes[3:9, 10:40] = np.nan
    fits.PrimaryHDU(holes).writeto("f.fits", overwrite=True)
    same("f.fits", holes[::-1], "astropy's FITS with NaN")
    scaled = fits.PrimaryHDU(rng.integers(-3000, 3000, (61, 83)).astype("i2"))
    scaled.header["BZERO"] = 100.0
    scaled.header["BSCALE"] = 0.5
    want = scaled.data[::-1] * 0.5 + 100
    scaled.writeto("f.fits", overwrite=True)
    same("f.fits", want, "astropy's scaled FITS", 1e-3)
    whole = rng.integers(0, 60000, (61, 83)).astype("u2")
    for code in ("RICE_1", "GZIP_1", "GZIP_2", "HCOMPRESS_1"):
        fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(whole, compression_type=code)]).writeto(
            "f.fits", overwrite=True)
        same("f.fits", whole[::-1], "astropy's FITS packed by %s" % code)
    check_tile_codes(rng)
    check_lzw(whole)
    mosaic = fits.PrimaryHDU(whole[:60, :82])
    mosaic.header["BAYERPAT"] = "RGGB"
    mosaic.writeto("f.fits", overwrite=True)
    same("f.fits", whole[:60, :82].reshape(30, 2, 41, 2).mean(axis=(1, 3))[::-1],
         "cells of a mosaic in FITS", 0.01)
    check_cards(whole)


def blank_cards(name, keys):
    """Cards of the second header that become comments."""
    with open(name, "rb") as stream:
        data = stream.read()
    for key in keys:
        place = 2880
        while data[place:place + 8] != key.ljust(8).encode():
            place += 80
        data = data[:place] + b"COMMENT".ljust(80) + data[place + 80:]
    with open(name, "wb") as stream:
        stream.write(data)


def check_tile_codes(rng):
    mask = np.where(rng.random((61, 83)) < 0.1, rng.integers(1, 3000, (61, 83)), 0)
    for array, code, what in ((mask.astype("i2"), "PLIO_1", "a mask"),
                              (mask.astype("i4"), "PLIO_1", "a mask of 32 bits"),
                              (rng.integers(-99999, 99999, (61, 83)).astype("i4"), "HCOMPRESS_1",
                               "32 bits"),
                              (rng.integers(0, 255, (20, 300)).astype("u1"), "HCOMPRESS_1",
                               "a strip")):
        fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(array, compression_type=code)]).writeto(
            "f.fits", overwrite=True)
        same("f.fits", array[::-1], "astropy's FITS packed by %s, %s" % (code, what))
    # FITS 4.0, table 36: BYTEPIX is 4 where the header does not state it.
    wide = rng.integers(0, 60000, (61, 83)).astype("i4")
    fits.HDUList([fits.PrimaryHDU(), fits.CompImageHDU(wide, compression_type="RICE_1")]).writeto(
        "f.fits", overwrite=True)
    blank_cards("f.fits", ("ZNAME2", "ZVAL2"))
    demand(np.array_equal(fits.getdata("f.fits", 1), wide), "astropy's reading without BYTEPIX")
    same("f.fits", wide[::-1], "RICE_1 without BYTEPIX")


def lzw(data, most):
    """Codes as in .Z files; gzip unpacks them again in check_lzw."""
    out, group, width, held, bits = bytearray(b"\x1f\x9d" + bytes([0x80 | most])), 0, 9, 0, 0

    def align():
        nonlocal held, bits, group
        size = (len(out) - 3 - group) * 8 + bits
        for _ in range((-size // width) % 8 if size % (8 * width) else 0):
            put(0)
        group = len(out) - 3

    def put(code):
        nonlocal held, bits
        held |= code << bits
        bits += width
        while bits >= 8:
            out.append(held & 255)
            held >>= 8
            bits -= 8

    table, free, known = {bytes([i]): i for i in range(256)}, 257, b""
    for i in range(len(data)):
        longer = known + data[i:i + 1]
        if longer in table:
            known = longer
            continue
        put(table[known])
        known = data[i:i + 1]
        if free < 1 << most:
            if free > (1 << width) - 1:
                align()
                width += 1
            table[longer] = free
            free += 1
        elif i % 40000 == 0:  # now and then all is forgotten
            put(256)
            align()
            width, free, table = 9, 257, {bytes([i]): i for i in range(256)}
    put(table[known])
    if bits:
        out.append(held & 255)
    return bytes(out)


def check_lzw(array):
    fits.PrimaryHDU(array).writeto("f.fits", overwrite=True)
    with open("f.fits", "rb") as stream:
        data = stream.read() + bytes(2880)
    for most in (10, 12, 16):
        with open("f.fits.Z", "wb") as stream:
            stream.write(lzw(data, most))
        plain = subprocess.run(["gzip", "-dc", "f.fits.Z"], capture_output=True)
        demand(plain.stdout == data, "gzip's reading of LZW to %d bits: %s" % (most, plain.stderr))
        same("f.fits.Z", array[::-1], "FITS packed by LZW to %d bits" % most)


def check_cards(array):
    hdu = fits.PrimaryHDU(array)
    cards = {"FOCALLEN": 530.0, "XPIXSZ": 3.76, "EXPTIME": 120.0, "OBJCTRA": "20 58 47",
             "OBJCTDEC": "-00 20 02", "SITELAT": "-33 27 24", "SITELONG": "-70 39 15.5",
             "DATE-AVG": "2026-01-01T00:00:30.5", "FOCRATIO": 5.3}
    for key, value in cards.items():
        hdu.header[key] = value
    hdu.writeto("f.fits", overwrite=True)
    facts, _ = read("f.fits")
    wants = {"focal_mm": 530, "pixel_um": 3.76, "exposure_s": 120, "f_number": 5.3,
             "ra_deg": (20 + 58 / 60 + 47 / 3600) * 15, "dec_deg": -(20 / 60 + 2 / 3600),
             "latitude_deg": -(33 + 27 / 60 + 24 / 3600),
             "longitude_deg": -(70 + 39 / 60 + 15.5 / 3600)}
    for key, want in wants.items():
        demand(abs(float(facts.get(key, "nan")) - want) < 1e-6, "FITS card for %s: %s"
               % (key, facts.get(key)))
    # The middle of the exposure, less a minute, crosses the year.
    demand(facts["start_utc"] == "2025-12-31T23:59:30.500Z", "DATE-AVG: %s" % facts["start_utc"])


def main():
    warnings.simplefilter("ignore")
    rng = np.random.default_rng(5)
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        check_exif()
        check_sensor_values()
        check_libraw_alone()
        check_dng_facts()
        check_maker_iso()
        check_tiff(rng)
        check_fits(rng)
        os.chdir("/")
    print("%d comparisons with exiftool, LibRaw, Pillow, tiffcp and astropy, %d wrong"
          % (checks, len(failures)))
    return 1 if failures else 0


sys.exit(main())
