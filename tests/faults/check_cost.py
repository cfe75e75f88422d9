#!/usr/bin/python3
"""What an input may cost at most, whatever is in it: memory of all processes of a run together beyond
what the index maps, and their processor time. Each input is made to be as costly as its kind can be.
The limits are this project's own promise; they hold with the usual --memory and --patience."""
import os
import resource
import struct
import subprocess
import sys
import tempfile
import time
import zlib

import numpy
from PIL import Image

from fault_runs import ALIDADE, BUILD, BUILDER, TOP, prepare

SIDE = 20000
Image.MAX_IMAGE_PIXELS = None
failures = []


def tree_of(pid):
    found = [pid]
    for one in found:
        try:
            with open(f"/proc/{one}/task/{one}/children") as file:
                found += [int(word) for word in file.read().split()]
        except OSError:
            pass
    return found


def anonymous_kb(pid):
    """Memory of its own: what is mapped from files, the index and the programs, is shared."""
    try:
        with open(f"/proc/{pid}/status") as file:
            return sum(int(line.split()[1]) for line in file if line.startswith("RssAnon"))
    except OSError:
        return 0


def run(*words):
    """Exit code, most memory in MB, processor seconds, and what it said."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                               stderr=subprocess.STDOUT)
    most, seconds = 0, {}
    while process.poll() is None:
        pids = tree_of(process.pid)
        most = max(most, sum(anonymous_kb(pid) for pid in pids))
        for pid in pids:
            try:
                with open(f"/proc/{pid}/stat") as file:
                    fields = file.read().rsplit(")", 1)[1].split()
                seconds[pid] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
            except OSError:
                pass
        time.sleep(0.01)
    said = process.stdout.read().decode(errors="replace")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    own = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    others = sum(s for pid, s in seconds.items() if pid != process.pid)
    return process.returncode, most / 1000, max(own, seconds.get(process.pid, 0)) + others, said


def cost(what, most_mb, most_s, *words, expect=(1, 3)):
    code, mb, s, said = run(*words)
    good = mb <= most_mb and s <= most_s and code in expect and said.strip()
    print(f"{'ok    ' if good else 'FAILED'} {what}: {mb:.0f} MB of {most_mb}, {s:.2f} s of {most_s}, exit {code}: "
          f"{said.strip().splitlines()[-1][:110] if said.strip() else ''}", flush=True)
    if not good:
        failures.append(what)


def gzip_of_zeros(name, head, zeros):
    """A few kilobytes that unpack to a head and many zeros: the same piece of a stream, repeated."""
    piece = 1 << 20
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    begin = packer.compress(head) + packer.flush(zlib.Z_FULL_FLUSH)
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    middle = packer.compress(bytes(piece)) + packer.flush(zlib.Z_FULL_FLUSH)
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    with open(name, "wb") as file:
        file.write(b"\x1f\x8b\x08" + b"\0" * 7 + begin)
        for _ in range(zeros // piece):
            file.write(middle)
        file.write(packer.flush() + struct.pack("<II", 0, (len(head) + zeros) & 0xffffffff))


def fits_head(*cards):
    return "".join(f"{key:8}= {value:>20}".ljust(80) for key, value in cards).encode() + b"END".ljust(80)


def padded(head):
    return head + b" " * (-len(head) % 2880)


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def packed_zeros(size):
    packer, out, block = zlib.compressobj(9), [], bytes(1 << 22)
    while size > 0:
        out.append(packer.compress(block[:size]))
        size -= len(block)
    return b"".join(out) + packer.flush()


def make_pictures():
    gzip_of_zeros("small.fits.gz", padded(fits_head(("SIMPLE", "T"), ("BITPIX", 8), ("NAXIS", 2), ("NAXIS1", 100),
                                                    ("NAXIS2", 100))), 3 << 30)
    gzip_of_zeros("large.fits.gz", padded(fits_head(("SIMPLE", "T"), ("BITPIX", -64), ("NAXIS", 3),
                                                    ("NAXIS1", SIDE), ("NAXIS2", SIDE), ("NAXIS3", 3))), 9600 << 20)
    rows = sum(((SIDE - top + down - 1) // down) * (1 + (SIDE - left + right - 1) // right)
               for left, top, right, down in ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4),
                                              (1, 0, 2, 2), (0, 1, 1, 2)))
    with open("interlaced.png", "wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", SIDE, SIDE, 8, 0, 0, 0, 1)) +
                   chunk(b"IDAT", packed_zeros(rows)) + chunk(b"IEND", b""))
    Image.new("L", (SIDE, SIDE), 40).save("progressive.jpg", progressive=True, quality=50)
    Image.fromarray(numpy.random.default_rng(1).integers(0, 255, (2000, 3000), "u1")).save(
        "base.jpg", progressive=True, quality=30)
    data = open("base.jpg", "rb").read()
    last = data.rindex(b"\xff\xda")
    with open("scans.jpg", "wb") as file:
        file.write(data[:-2] + data[last:-2] * 480 + b"\xff\xd9")
    strip = packed_zeros(2 * SIDE * SIDE)
    entries = [(256, 4, SIDE), (257, 4, SIDE), (258, 3, 16), (259, 3, 8), (262, 3, 1), (273, 4, 8), (277, 3, 1),
               (278, 4, SIDE), (279, 4, len(strip))]
    with open("strip.tif", "wb") as file:
        file.write(b"II*\0" + struct.pack("<I", 8 + len(strip) + len(strip) % 2) + strip + b"\0" * (len(strip) % 2) +
                   struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHII", tag, kind, 1, value)
                                                              for tag, kind, value in entries) + b"\0" * 4)
    dice = numpy.random.default_rng(2)
    sky = dice.normal(100, 5, (4000, 6000))
    y, x = dice.integers(1, 3999, 200000), dice.integers(1, 5999, 200000)
    light = dice.pareto(1.5, 200000) * 60
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            numpy.add.at(sky, (y + down, x + right), light * (1, .5, .25)[abs(down) + abs(right)])
    Image.fromarray(numpy.clip(sky, 0, 255).astype("u1")).save("stars.png", compress_level=1)
    noise = dice.integers(0, 255, (4000, 6000, 3), "u1")
    Image.fromarray(noise).save("noise.jpg", quality=95)


def make_texts():
    with open("endless.ini", "w") as file:
        file.write("[body A]\n" + "; x\n" * 5000000)
    with open("line.jsonl", "w") as file:
        file.write('{"frame": "a", "solved": true, ' + '"a": [' * 2000000)
    with open("lines.jsonl", "w") as file:
        for n in range(50000):
            file.write(f'{{"frame": "f-{n}.jpg", "format": 2, "solved": true, "picture": {{"width": 900, "height": 600}}, '
                       f'"centre": {{"ra_deg": {10 + n / 1e4}, "dec_deg": 20}}, "field": {{"width_deg": 7, "height_deg": 5}}, '
                       f'"scale_arcsec_px": 29, "up_angle_deg": 12, "stars": {{"detected": 100, "matched": 60}}, '
                       f'"time": {{"start_utc": "2026-02-25T{n // 3600 % 24:02}:{n // 60 % 60:02}:{n % 60:02}Z", '
                       f'"exposure_s": 1}}}}\n')
    with open("line.csv", "w") as file:
        file.write("ra,dec,mag\n" + "1," * 20000000 + "\n")
    with open("deep.vot", "w") as file:
        file.write("<VOTABLE>" + "<RESOURCE>" * 2000000)


def damage_index():
    whole = bytearray(open(BUILD + "/hipparcos.alidx", "rb").read())
    dice = numpy.random.default_rng(3)
    for place in dice.integers(2000, len(whole), 20000):
        whole[place] = dice.integers(0, 256)
    open("damaged.alidx", "wb").write(whole)


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        prepare()
        make_pictures()
        make_texts()
        damage_index()
        solve = (ALIDADE, "solve")
        cost("a gzip bomb of a small image", 100, 15, *solve, "small.fits.gz")
        cost("a gzip bomb of a large image", 1200, 60, *solve, "large.fits.gz")
        cost("an interlaced PNG of 400 megapixels", 1200, 60, *solve, "interlaced.png")
        cost("a progressive JPEG of 400 megapixels", 1200, 60, *solve, "progressive.jpg")
        cost("a JPEG of 490 scans", 200, 60, *solve, "scans.jpg")
        cost("a TIFF of one packed strip of 400 megapixels", 1200, 60, *solve, "strip.tif")
        cost("a picture of 200,000 stars", 400, 20, *solve, "stars.png")
        cost("noise of 24 megapixels", 400, 20, *solve, "noise.jpg")
        cost("a damaged index", 100, 5, *solve, "a.jpg", "--index", "damaged.alidx", expect=(0, 1, 3))
        cost("a settings file of 20 MB", 100, 3, *solve, "a.jpg", "--rig", "endless.ini", expect=(0, 2, 3))
        cost("a line of 12 MB", 200, 3, ALIDADE, "review", "--from", "line.jsonl", expect=(3,))
        cost("50,000 lines", 400, 30, ALIDADE, "review", "--from", "lines.jsonl", expect=(0, 1))
        cost("a plan of 12 MB", 100, 3, ALIDADE, "aim", "a.jpg", "--plan", "line.jsonl", expect=(2, 3))
        cost("a catalogue of one line", 300, 5, BUILDER, "build", "line.csv", "-o", "out.alidx", expect=(3,))
        cost("a VOTable nested without end", 300, 5, BUILDER, "build", "deep.vot", "-o", "out.alidx", expect=(3,))
        cost("a name of 100 kB", 100, 3, ALIDADE, "object", "M" * 100000, expect=(2,))
        os.chdir(TOP)
    print(f"{len(failures)} inputs cost more than they may")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
