#!/usr/bin/python3
"""Holds what `alidade plan --target --json` says beyond tonight against astropy: when it gets dark again,
the season of a target, and the next nights without the Moon.

astropy's get_sun, get_body("moon") and AltAz without air, every two minutes of the nights concerned:
asked for every 20 minutes, and a spline between (check_spline says how near that comes to asking for all).
The program scans the year in closed form: hours may be off by 4 minutes, and a night at the rim of a
season counts as either if it is within 4 minutes of the hour that is asked for. Dark again: the Sun's
lowest altitude, to 0.02 degrees. Rising and setting of the Moon: -0.833 degrees for the centre.
"""
import datetime
import json
import os
import subprocess
import sys
import warnings

import numpy
from astropy import units
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body, get_sun
from astropy.time import Time
from astropy.utils import iers
from scipy.interpolate import CubicSpline

iers.conf.auto_download = False
STEP_MIN, ASKED_MIN, SLACK_H, SLACK_DEG = 2, 20, 4 / 60, 0.02
LEVELS = (-18, -12, -6)
CASES = [  # latitude, longitude, date, target, least altitude
    (50.1, 10.2, "2026-01-18", "M 42", 30),
    (50.1, 10.2, "2026-09-03", "M 31", 30),
    (65.0, 25.5, "2026-06-10", "NGC 7000", 30),
    (-33.9, 151.2, "2026-11-29", "NGC 2070", 40),
    (20.7, -156.3, "2026-03-05", "M 8", 35),
]


def ask(latitude, longitude, date, target, least):
    program = os.path.join(os.environ.get("BUILD", "build"), "alidade")
    answer = subprocess.run(
        [program, "plan", "--place", "%g,%g" % (latitude, longitude), "--date", date, "--target", target,
         "--focal", "200", "--above", "%g" % least, "--json", "--nights", "4", "--zone", "Z"],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "XDG_CONFIG_HOME": "/dev/null"}).stdout
    return json.loads(answer)


class Night:
    """From one local mean noon to the next."""

    def __init__(self, case, date):
        self.place = EarthLocation.from_geodetic(case[1], case[0], 0)
        noon = Time(str(date) + "T12:00:00", scale="utc") - case[1] / 360 * units.day
        days = round((noon - Time(str(date) + "T12:00:00", scale="utc")).to_value("day"))
        self.noon = noon - days * units.day
        self.times = self.noon + numpy.arange(-ASKED_MIN, 1440 + 2 * ASKED_MIN, ASKED_MIN) * units.min
        self.frame = AltAz(obstime=self.times, location=self.place)
        self.sun = self.altitude(get_sun(self.times))

    def altitude(self, direction):
        """Degrees, every STEP_MIN: its sine is smooth wherever it passes."""
        asked = (self.times - self.noon).to_value("min")
        sine = CubicSpline(asked, numpy.sin(direction.transform_to(self.frame).alt.rad))
        return numpy.degrees(numpy.arcsin(sine(numpy.arange(0, 1440, STEP_MIN))))

    def dark(self):
        for level in LEVELS:
            if (self.sun < level).sum() * STEP_MIN >= 60:
                break
        return self.sun < level

    def up(self, case, direction):
        """The longest piece of the dark in which the target is up."""
        high = self.dark() & (self.altitude(direction) > case[4])
        best = numpy.zeros(high.shape, bool)
        start = None
        for i, state in enumerate(list(high) + [False]):
            if state and start is None:
                start = i
            elif not state and start is not None:
                if i - start > best.sum():
                    best[:] = False
                    best[start:i] = True
                start = None
        return best

    def moonless(self, up):
        moon = self.altitude(get_body("moon", self.times, self.place))
        return (up & (moon < -0.833)).sum() * STEP_MIN / 60


def check_spline(case):
    """A whole night, asked for at each step: the same to a hundredth of what is allowed of the Sun."""
    night = Night(case, day(case[2]))
    times = night.noon + numpy.arange(0, 1440, STEP_MIN) * units.min
    frame = AltAz(obstime=times, location=night.place)
    bodies = ((night.sun, get_sun(times)),
              (night.altitude(get_body("moon", night.times, night.place)), get_body("moon", times, night.place)))
    off = max(abs(by_spline - asked.transform_to(frame).alt.deg).max() for by_spline, asked in bodies)
    return [] if off < SLACK_DEG / 100 else ["%s: the spline is off by %.5f degrees" % (case[2], off)]


def day(text):
    return datetime.date.fromisoformat(text)


def hours(case, direction, date):
    return Night(case, date).up(case, direction).sum() * STEP_MIN / 60


def check_season(case, direction, season):
    """Faults at the rims of each run, and inside and outside of it."""
    faults, looks = [], 0
    one = datetime.timedelta(1)
    expected = []
    for run in season["runs"]:
        first, last = day(run["from"]), day(run["until"])
        expected += [(first, True), (first - one, False), (last, True), (last + one, False)]
    expected += [(day(case[2]) + i * 61 * one, season["all_year"]) for i in range(6)
                 if season["all_year"] or not season["runs"]]
    for date, wanted in expected:
        length = hours(case, direction, date)
        looks += 1
        if (length < 1 - SLACK_H) if wanted else (length > 1 + SLACK_H):
            faults.append("%s: %s is %s with %.2f h" % (case[3], date, wanted, length))
    return faults, looks


def check_moonless(case, direction, season):
    faults, worst, named = [], 0, {night["date"]: night["hours"] for night in season["moonless"]}
    last = max(named, default=None)
    date = day(case[2])
    while last and str(date) <= last:
        night = Night(case, date)
        true = night.moonless(night.up(case, direction))
        said = named.get(str(date))
        if said is not None:
            worst = max(worst, abs(said - true))
        if (said is None and true > 2 + SLACK_H) or (said is not None and abs(said - true) > SLACK_H):
            faults.append("%s: %s has %.2f h without the Moon, said %s" % (case[3], date, true, said))
        date += datetime.timedelta(1)
    return faults, worst


def check_again(case, night):
    if "dark_again" not in night:
        return [] if Night(case, day(case[2])).sun.min() < -18 else ["%s: is not dark" % case[2]]
    date = day(night["dark_again"])
    first = Night(case, date).sun.min()
    before = Night(case, date - datetime.timedelta(1)).sun.min()
    good = first < -18 + SLACK_DEG and before > -18 - SLACK_DEG
    return [] if good else ["%s: dark again on %s: %.2f, %.2f before" % (case[2], date, first, before)]


def main():
    warnings.simplefilter("ignore")
    faults, looks, worst = check_spline(CASES[0]), 0, 0
    for case in CASES:
        answer = ask(*case)
        target = answer["target"]
        direction = SkyCoord(target["ra_deg"] * units.deg, target["dec_deg"] * units.deg)
        found, count = check_season(case, direction, answer["season"])
        missed, off = check_moonless(case, direction, answer["season"])
        faults += found + missed + check_again(case, answer["night"])
        looks, worst = looks + count, max(worst, off)
    for fault in faults:
        print(fault)
    print("%d targets, %d nights at the rims of seasons; hours without the Moon within %.1f min of "
          "astropy's (bound %d)" % (len(CASES), looks, worst * 60, SLACK_H * 60))
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
