#!/usr/bin/env python3
"""Writes small camera raw files of the kinds that are not built like a DNG.

Usage: make_raw.py FOLDER [WIDTH HEIGHT]

Each is the least that makes LibRaw see a frame: the container with its own marks, one frame of noise,
nothing else; but for CR3, whose boxes LibRaw reads and then finds no frame in. WIDTH and HEIGHT
(default 64 x 48) is what the file claims, whatever it holds: with them the same writer makes the
files that must be refused. Layouts as published for users of these files:
TIFF 6.0; ISO/IEC 14496-12 for CR3; the descriptions of MRW, RAF, ORF, RW2 and CR3 that come with
libopenraw, exiv2 and exiftool (from memory). Makers' names are what LibRaw tells the layouts by.
"""
import os
import random
import struct
import sys

SHORT, LONG, ASCII, UNDEFINED = 3, 4, 2, 7
SIDES = 64, 48  # of the frame that is really there


def noise(count):
    dice = random.Random(5)
    return [dice.randrange(200, 900) for _ in range(count)]


def shorts(order, values):
    return struct.pack("%s%dH" % (order, len(values)), *values)


def entry_bytes(order, kind, value):
    if kind in (ASCII, UNDEFINED):
        return len(value), value
    values = value if isinstance(value, list) else [value]
    return len(values), struct.pack("%s%d%s" % (order, len(values), "H" if kind == SHORT else "I"),
                                    *values)


def directory(order, entries, start):
    """One TIFF directory that lies at start, and after it what does not fit into its entries."""
    entries = sorted(entries)
    far = start + 2 + 12 * len(entries) + 4
    head, tail = struct.pack(order + "H", len(entries)), b""
    for tag, kind, value in entries:
        count, data = entry_bytes(order, kind, value)
        head += struct.pack(order + "HHI", tag, kind, count)
        if len(data) <= 4:
            head += data.ljust(4, b"\0")
        else:
            head += struct.pack(order + "I", far + len(tail))
            tail += data + b"\0" * (len(data) % 2)
    return head + struct.pack(order + "I", 0) + tail


def tiff(order, entries, mark=None):
    mark = mark or {"<": b"II*\0", ">": b"MM\0*"}[order]
    return mark + struct.pack(order + "I", 8) + directory(order, entries, 8)


def tiff_with_frame(order, entries, place_tags, mark=None, frame=None):
    """place_tags: the entry that holds the offset of the frame, and that of its length."""
    frame = frame or shorts(order, noise(SIDES[0] * SIDES[1]))
    if place_tags[1]:
        entries = entries + [(place_tags[1], LONG, len(frame))]
    size = len(tiff(order, entries + [(place_tags[0], LONG, 0)], mark))
    return tiff(order, entries + [(place_tags[0], LONG, size)], mark) + frame


def names(make, model):
    return [(271, ASCII, make + b"\0"), (272, ASCII, model + b"\0")]


def orf(width, height):
    return tiff_with_frame("<", names(b"OLYMPUS IMAGING CORP.", b"E-1") + [
        (256, LONG, width), (257, LONG, height), (258, SHORT, 12), (259, SHORT, 1),
        (262, SHORT, 32803), (277, SHORT, 1), (278, LONG, height)], (273, 279), b"IIRO")


def pef(width, height):
    return tiff_with_frame(">", names(b"PENTAX Corporation", b"PENTAX *ist D") + [
        (256, LONG, width), (257, LONG, height), (258, SHORT, 16), (259, SHORT, 1),
        (262, SHORT, 32803), (277, SHORT, 1), (278, LONG, height)], (273, 279))


def rw2(width, height):
    width, height = min(width, 65535), min(height, 65535)
    return tiff_with_frame("<", names(b"Panasonic", b"DMC-LX2") + [
        (1, UNDEFINED, b"0310"), (2, SHORT, width), (3, SHORT, height), (4, SHORT, 0),
        (5, SHORT, 0), (6, SHORT, height), (7, SHORT, width), (8, SHORT, 1), (9, SHORT, 3),
        (10, SHORT, 12),
        (11, SHORT, 34316), (23, SHORT, 100)], (0x118, None), b"IIU\0",
        shorts("<", noise(0x2000)))  # this code is read in blocks of 16 KB


def mrw(width, height):
    width, height = min(width, 65535), min(height, 65535)
    facts = b"27820001" + struct.pack(">HHHHBBHHH", height, width, height, width, 16, 16, 0x59, 0,
                                      1)
    exif = tiff(">", names(b"Minolta Co., Ltd.", b"DiMAGE A1"))
    gains = struct.pack(">BBBBHHHH", 2, 2, 2, 2, 256, 256, 256, 256)
    blocks = b"".join(mark + struct.pack(">I", len(body)) + body
                      for mark, body in ((b"\0PRD", facts), (b"\0TTW", exif), (b"\0WBG", gains)))
    return (b"\0MRM" + struct.pack(">I", len(blocks)) + blocks +
            shorts(">", noise(SIDES[0] * SIDES[1])))


def raf(width, height):
    width, height = min(width, 65535), min(height, 65535)
    exif = tiff("<", names(b"FUJIFILM", b"FinePix S5500"))
    jpeg = (b"\xff\xd8\xff\xe1" + struct.pack(">H", len(exif) + 8) + b"Exif\0\0" + exif +
            b"\xff\xd9")
    facts = [(0x100, shorts(">", [height, width])), (0x121, shorts(">", [height, width])),
             (0x130, b"\0\x08\0\0")]
    table = struct.pack(">I", len(facts)) + b"".join(
        struct.pack(">HH", tag, len(body)) + body for tag, body in facts)
    frame = shorts("<", noise(SIDES[0] * SIDES[1]))
    start = 160
    places = [start, len(jpeg), start + len(jpeg), len(table), start + len(jpeg) + len(table),
              len(frame)]
    head = b"FUJIFILMCCD-RAW 0201FF129502" + b"FinePix S5500".ljust(32, b"\0") + b"0100"
    head = head.ljust(84, b"\0") + struct.pack(">6I", *places)
    return head.ljust(start, b"\0") + jpeg + table + frame


def box(kind, *bodies):
    body = b"".join(bodies)
    return struct.pack(">I", len(body) + 8) + kind + body


def cr3(width, height):
    codec = struct.pack(">HHHHIIIIBBHI", 0xffff, 0x30, 0x100, 0, width, height, width, height, 14,
                        0x40, 0, 0).ljust(0x30, b"\0")
    sample = box(b"CRAW", b"\0" * 6, struct.pack(">H", 1), b"\0" * 16,
                 struct.pack(">HH", width & 0xffff, height & 0xffff), b"\0" * 50,
                 struct.pack(">HH", 1, 1), box(b"CMP1", codec))
    frame = b"\xff\x01\0\x08" + bytes(v & 255 for v in noise(600))
    uuid = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")

    def file(place):
        track = box(b"trak", box(b"tkhd", b"\0" * 84), box(b"mdia", box(b"mdhd", b"\0" * 24), box(
            b"hdlr", b"\0" * 8, b"vide", b"\0" * 13), box(b"minf", box(b"stbl", box(
                b"stsd", struct.pack(">II", 0, 1), sample), box(
                    b"stsz", struct.pack(">III", 0, len(frame), 1)), box(
                        b"co64", struct.pack(">IIQ", 0, 1, place))))))
        movie = box(b"moov", box(b"uuid", uuid, box(
            b"CNCV", b"CanonCR3_001/00.09.00/00.00.00"), box(
                b"CMT1", tiff("<", names(b"Canon", b"Canon EOS M50") + [
                    (256, LONG, width), (257, LONG, height)])), box(b"CMT2", tiff("<", [
                        (0x8827, SHORT, 100)])), box(b"CMT3", tiff("<", [(1, SHORT, [0] * 4)]))),
            box(b"mvhd", b"\0" * 100), track)
        return box(b"ftyp", b"crx ", struct.pack(">I", 1), b"crx isom") + movie, box(b"mdat", frame)

    head, data = file(0)
    head, data = file(len(head) + 8)
    return head + data


def crw(width, height):
    """A heap: values, then a directory of them, whose place the last four bytes tell.
    The codes begin at byte 540; these keep to the range of values."""
    names_ = b"Canon\0Canon PowerShot G2\0".ljust(64, b"\0")
    values = [(0x2005, bytes(540 - 26) + b"\x55" * 6000), (0x080a, names_),
              (0x1031, shorts("<", [34, width & 0xffff, height & 0xffff] + [0] * 5)),
              (0x1835, struct.pack("<I", 0))]
    heap, table = b"", struct.pack("<H", len(values))
    for kind, body in values:
        table += struct.pack("<HII", kind, len(body), len(heap))
        heap += body
    return (b"II" + struct.pack("<I", 26) + b"HEAPCCDR" + struct.pack("<I", 0x10002)).ljust(
        26, b"\0") + heap + table + struct.pack("<I", len(heap))


def iiq(width, height):
    """A TIFF file of one pixel; the maker's own directory begins at its ninth byte."""
    order, facts = "<", {0x108: width, 0x109: height, 0x10a: 0, 0x10b: 0, 0x10c: width,
                         0x10d: height, 0x10e: 0, 0x10f: 0, 0x110: 0, 0x21d: 0}
    own = 16 + 8 + 16 * len(facts)
    facts[0x10f] = own + 200  # places count from the maker's mark
    facts[0x110] = own        # a second directory, with nothing in it
    table = struct.pack("<II", len(facts), 0) + b"".join(
        struct.pack("<IIII", tag, 1, 4, value) for tag, value in sorted(facts.items()))
    marks = b"IIIITwaR" + struct.pack("<I", 16) + b"\0" * 4
    second = b"II".ljust(8, b"\0") + struct.pack("<III", 12, 0, 0)
    body = (marks + table + second).ljust(own + 200, b"\0") + shorts(order, noise(SIDES[0] * SIDES[1]))
    start = 8 + len(body)
    entries = names(b"Phase One A/S", b"P 25") + [
        (256, LONG, 1), (257, LONG, 1), (258, SHORT, 8), (259, SHORT, 1), (262, SHORT, 1),
        (273, LONG, 8), (277, SHORT, 1), (278, LONG, 1), (279, LONG, 1)]
    return b"II*\0" + struct.pack("<I", start) + body + directory("<", entries, start)


def k25(width, height):
    """A TIFF file of one pixel, whose camera is known to put 512 x 244 bytes at 15424."""
    return tiff_with_frame(">", names(b"Kodak", b"DC25") + [
        (256, LONG, 1), (257, LONG, 1), (258, SHORT, 8), (259, SHORT, 1), (262, SHORT, 1),
        (277, SHORT, 1), (278, LONG, 1), (279, LONG, 1)], (273, None),
        frame=bytes(v & 255 for v in noise(15424 + 512 * 244)))


def telephone(width, height):
    """Known by its first bytes to LibRaw alone."""
    head = b"NOKIARAW".ljust(300, b"\0") + struct.pack("<II", 400, width * height) + shorts(
        "<", [width & 0xffff, height & 0xffff])
    return head.ljust(400, b"\0") + bytes(v & 255 for v in noise(SIDES[0] * SIDES[1]))


WRITERS = {"small.crw": crw, "small.iiq": iiq, "small.k25": k25, "small.raw": telephone, "small.orf": orf, "small.pef": pef, "small.rw2": rw2, "small.mrw": mrw,
           "small.raf": raf, "small.cr3": cr3}


def main(arguments):
    if len(arguments) not in (2, 4):
        sys.exit(__doc__.strip())
    width, height = (int(text) for text in arguments[2:]) if len(arguments) == 4 else SIDES
    for name, write in WRITERS.items():
        with open(os.path.join(arguments[1], name), "wb") as stream:
            stream.write(write(width, height))


if __name__ == "__main__":
    main(sys.argv)
