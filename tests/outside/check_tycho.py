#!/usr/bin/python3
"""Solves a sky map of Tycho-2 stars that nobody here made: six faces of a cube, each 90 degrees
wide and high, from the npm package @cesium/engine (Apache-2.0; the map is a public-domain rendering
of Tycho-2), and crops of them.

Usage: check_tycho.py [BUILD_DIR]   (default: $BUILD, else build); skips with 77 without the faces.

The faces look along the axes of the equatorial frame, so the solved middles must be there, and at
right angles to each other: 0.1 degrees, a pixel, is allowed. (They come out turned about the pole
by 0.022 degrees, a quarter of a pixel: so the map was drawn.)

A crop keeps the projection of its face: its optical axis is where the face's is, beside the middle
of the crop or outside it, which no camera does but one with a shifted lens.
"""
import csv
import io
import math
import os
import subprocess
import sys

BUILD = sys.argv[1] if len(sys.argv) > 1 else os.environ.get("BUILD", "build")
FOLDER = os.path.join(BUILD, "outside", "tycho")
CROPS, SEED = max(2, int(10 * float(os.environ.get("SAMPLE_TIMES", 1)))), 1
# How far the middle of the crop is from the optical axis, degrees; and how many must be solved in
# all. Wanted are all of them. Stars of these faces are a pixel wide and stand among the traces of a
# strong compression, so that in many crops the detector finds a dozen true ones; where it finds
# more, the stretch of the projection hides the patterns. One in ten leaves room for a crop that
# another compiler's rounding loses: of the first ten two are right, of the first forty five.
GROUPS = ((0, 15), (15, 30), (30, 60))
LEAST = CROPS // 10
faults = []


def demand(holds, sentence):
    print(("" if holds else "WRONG: ") + sentence)
    if not holds:
        faults.append(sentence)


def measure():
    done = subprocess.run([os.path.join(BUILD, "tests", "outside", "tycho_solve"),
                           os.path.join(BUILD, "hipparcos.alidx"), FOLDER, str(CROPS), str(SEED)],
                          stdout=subprocess.PIPE, text=True, check=True)
    return list(csv.DictReader(io.StringIO(done.stdout), delimiter="\t"))


def angle_deg(a, b):
    dot = sum(p * q for p, q in zip(a, b))
    return math.degrees(math.acos(max(-1, min(1, dot))))


def check_faces(faces):
    solved = {f["face"]: f for f in faces if f["solved"] == "1"}
    demand(len(solved) == 6, "%d of 6 faces solve" % len(solved))
    for name, face in solved.items():
        demand(float(face["off_deg"]) < 0.1 and face["mirrored"] == "0",
               "face %s: %.3f degrees off its axis, mirrored: %s"
               % (name, float(face["off_deg"]), face["mirrored"]))
    middle = {n: [float(f[k]) for k in "xyz"] for n, f in solved.items()}
    for a in middle:
        for b in middle:
            if a < b:
                expected = 180 if a[1] == b[1] else 90
                off = abs(angle_deg(middle[a], middle[b]) - expected)
                demand(off < 0.1, "faces %s and %s: %.3f degrees from %d" % (a, b, off, expected))


def check_crops(crops):
    # 0.5 degrees is two to three parts in a hundred of the narrowest crops' widths.
    right = [c for c in crops if c["solved"] == "1" and float(c["off_deg"]) < 0.5]
    wrong = [c for c in crops if c["solved"] == "1" and float(c["off_deg"]) >= 0.5]
    for crop in wrong:
        print("crop %(number)s of %(face)s: %(off_deg)s degrees off, chance 1e%(log10_chance)s"
              % crop)
    demand(not wrong, "%d of %d crops are solved to a wrong place" % (len(wrong), len(crops)))
    for low, high in GROUPS:
        group = [c for c in crops if low <= float(c["axis_deg"]) < high]
        print("middle %d to %d degrees off the axis: %d of %d crops are right"
              % (low, high, sum(c in right for c in group), len(group)))
    demand(len(right) >= LEAST, "%d of %d crops are right, at least %d expected"
           % (len(right), len(crops), LEAST))


def main():
    if not os.path.exists(os.path.join(FOLDER, "tycho2t3_80_px.jpg")):
        print("the Tycho-2 sky map is not there (npm package @cesium/engine)")
        return 77
    rows = measure()
    check_faces([r for r in rows if r["kind"] == "face"])
    check_crops([r for r in rows if r["kind"] == "crop"])
    print("6 faces, %d crops, %d faults" % (CROPS, len(faults)))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
