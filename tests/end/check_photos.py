#!/usr/bin/python3
"""Real photographs, which are not part of the project: those of a folder with a README.md whose
table says what they show, how wide they are and where the main object is.

The folder is $ALIDADE_PHOTOS, else shared/photos beside the project; without it the check skips
with 77. Each photograph must solve with default settings, as it is and without its EXIF part, so
that the main object is not farther from the middle than the field is wide, and as wide as the table
says, within what an estimate can be off. What has no solution must have none.
"""
import json
import math
import os
import re
import subprocess
import sys
import tempfile

BUILD = os.environ.get("BUILD", "build")
FOLDER = os.environ.get("ALIDADE_PHOTOS", os.path.join("..", "shared", "photos"))
# Where the table knows no position: a comet in Ophiuchus, middle and radius of the constellation.
ELSEWHERE = {"p09.jpg": (257, -4, 25)}
faults = []


def read_table():
    """name, position (or None), (least, most) width in degrees, whether it must solve."""
    rows = []
    with open(os.path.join(FOLDER, "README.md"), encoding="utf-8") as lines:
        for line in lines:
            cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
            if len(cells) < 4 or not re.fullmatch(r"p\d+\.\w+", cells[0]):
                continue
            numbers = re.findall(r"[-+]?\d+(?:\.\d+)?", cells[2])
            position = tuple(float(n) for n in numbers) if len(numbers) == 2 else None
            rows.append((cells[0], position, width_range(cells[3]), cells[2] != "no solution"))
    return rows


def width_range(text):
    """An estimate may be 25 % off; of "57 x 72" either side may be the width."""
    numbers = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)]
    if not numbers:
        return 0, 180
    return 0 if text.startswith("up to") else 0.75 * min(numbers), 1.25 * max(numbers)


def angle_deg(ra1, dec1, ra2, dec2):
    ra1, dec1, ra2, dec2 = (math.radians(a) for a in (ra1, dec1, ra2, dec2))
    half = math.sin((dec1 - dec2) / 2) ** 2
    half += math.cos(dec1) * math.cos(dec2) * math.sin((ra1 - ra2) / 2) ** 2
    return math.degrees(2 * math.asin(math.sqrt(half)))


def without_exif(source, target):
    """Copies a JPEG file but for its APP1 segments, which hold EXIF and XMP."""
    with open(source, "rb") as file:
        data = file.read()
    out, place = bytearray(data[:2]), 2
    while data[place] == 0xFF and data[place + 1] != 0xDA:
        length = 2 + int.from_bytes(data[place + 2:place + 4], "big")
        if data[place + 1] != 0xE1:
            out += data[place:place + length]
        place += length
    out += data[place:]
    with open(target, "wb") as file:
        file.write(out)
    return len(out) < len(data)


def judge(row, answer):
    """What is wrong with an answer; None if nothing is."""
    name, position, (least, most), must_solve = row
    if not must_solve:
        return "solved, though there is nothing to solve" if answer["solved"] else None
    if not answer["solved"]:
        return "not solved: " + answer["why"]
    centre, field = answer["centre"], answer["field"]
    reach = max(field["width_deg"], field["height_deg"])
    if name in ELSEWHERE:
        position, reach = ELSEWHERE[name][:2], ELSEWHERE[name][2]
    off = angle_deg(*position, centre["ra_deg"], centre["dec_deg"])
    if off > reach:
        return "%.1f degrees from its main object, in a field of %.1f" % (off, reach)
    if not least <= field["width_deg"] <= most:
        return "%.2f degrees wide, expected %.1f to %.1f" % (field["width_deg"], least, most)
    return None


def check(names, table):
    """names: file -> name in the table."""
    done = subprocess.run([os.path.join(BUILD, "alidade"), "solve", "--json", *names],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, check=False)
    answers = {a["frame"]: a for a in map(json.loads, done.stdout.splitlines())}
    for file, name in names.items():
        fault = judge(table[name], answers[file]) if file in answers else "no answer"
        if fault:
            faults.append(file)
            print("WRONG: %s: %s" % (file, fault))
    if done.stderr:
        faults.append("stderr")
        print(done.stderr)


def main():
    if not os.path.exists(os.path.join(FOLDER, "README.md")):
        print("no folder of photographs (ALIDADE_PHOTOS is not set)")
        return 77
    table = {row[0]: row for row in read_table()}
    with tempfile.TemporaryDirectory() as scratch:
        names = {os.path.join(FOLDER, name): name for name in table}
        for name in table:
            stripped = os.path.join(scratch, name)
            if name.endswith(".jpg") and without_exif(os.path.join(FOLDER, name), stripped):
                names[stripped] = name
        check(names, table)
    print("%d photographs, %d of them also without EXIF, %d faults"
          % (len(table), len(names) - len(table), len(faults)))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
