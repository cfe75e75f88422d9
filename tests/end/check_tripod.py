#!/usr/bin/python3
"""Follows aim's advice with the simulated tripod head of tripod_model.py, picture by picture.

Bounds: the target lands within 1 % of the picture's width, a learned axis within 0.2 degrees.
"""
import sys

import numpy

from tripod_model import WHERE, Head, alidade, direction, photograph, run_in_folder, target_near

worst = {"axis": 0.0, "landing": 0.0}


def land(head, target, *more):
    """Takes a picture, does what is advised, takes another; returns by what part of the width it
    missed."""
    before = alidade(photograph("before.fits", head), "--target", target, *WHERE, *more)[0]
    head.move(before["move"])
    after = alidade(photograph("after.fits", head), "--target", target, *WHERE, *more)[0]
    place = after["from_middle"]
    return numpy.hypot(place["right_widths"], place["up_heights"] * 1000 / 1500)


def check_moves():
    cases = [  # pan, tilt, roll, distance, direction of the target
        (199, 30, 0, 4.5, 20), (195, 33, 25, 3, 250), (2, 50, -70, 6, 100), (120, 86, 10, 3, 0),
        (0, 50.1, 0, 8, 300), (280, 70, 90, 12, 180)]
    for pan, tilt, roll, distance, angle in cases:
        head = Head(roll=roll)
        head.pan, head.tilt = pan, tilt
        photograph("look.fits", head)
        missed = land(head, target_near("look.fits", distance, angle))
        worst["landing"] = max(worst["landing"], missed)


def check_learning():
    rig = ["--rig", "rig.ini"]
    for lean, lean_to, skew, roll in ((10, 200, 0, 3), (6, 75, 2, 3), (3, 120, 1, 92)):
        head = Head(lean, lean_to, skew, roll=roll)
        head.pan, head.tilt = 180, 35
        names = [photograph("pan-0.fits", head)]
        head.pan += 5
        names.append(photograph("pan-1.fits", head))
        head.tilt += 5
        names.append(photograph("tilt-1.fits", head))
        open("rig.ini", "w").write("[place Here]\nlatitude = 50\nlongitude = 10\n")
        pan = alidade("--learn-head", "pan", names[0], names[1], *WHERE, *rig)[0]["head"]
        tilt = alidade("--learn-head", "tilt", names[1], names[2], *WHERE, *rig)[0]["head"]
        found = direction(numpy.degrees(numpy.arctan2(tilt["lean_east_deg"],
                                                      tilt["lean_north_deg"])),
                          90 - numpy.hypot(tilt["lean_east_deg"], tilt["lean_north_deg"]))
        worst["axis"] = max(worst["axis"], abs(tilt["skew_deg"] - skew),
                            numpy.degrees(numpy.arccos(min(1, found @ head.pan_axis))))
        if not 4.9 < pan["turned_deg"] < 5.1:
            sys.exit("turned by %g degrees" % pan["turned_deg"])
        target = target_near("tilt-1.fits", 5, 60)
        worst["landing"] = max(worst["landing"], land(head, target, *rig))


def main():
    run_in_folder(lambda: (check_moves(), check_learning()))
    print("9 moves of levelled and leaning heads: the worst lands %.2f %% of the width off (bound 1); "
          "axes learned to %.3f degrees (0.2)" % (100 * worst["landing"], worst["axis"]))
    sys.exit(0 if worst["landing"] < 0.01 and worst["axis"] < 0.2 else 1)


if __name__ == "__main__":
    main()
