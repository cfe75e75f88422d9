#!/usr/bin/python3
"""Two rendered nights: one that follows the plan and every alert exactly, and one that follows none.

The first must raise no alert but the re-centrings, be kept to 95 %, and its stacked stars must be
widened by what was promised: frames of a batch are aligned by homographies, as a stacking program
finds them from stars, and Gaussians are fitted to stars at the edge by all their pixels, once about
where each star is in its own frame and once about where it is in the stack, which is aligned on the
frame in its middle. Of the
second, each alert must come again.

Places of stars are the renderer's own, read by astropy; what a stack widens stars by is measured
from pixels alone.
"""
import json
import os
import subprocess
import sys
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS

from tripod_model import BUILD, CATALOGS, Head, run_in_folder

warnings.simplefilter("ignore")  # of headers without a picture

WIDTH, HEIGHT = 900, 600
RIG = """[body Otter]
pixels = %dx%d
pixel = 16
[lens Long]
focal = 200
aperture = 2.8
distortion = -4
[place Garden]
latitude = 50 N
longitude = 10 E
zone = UTC
""" % (WIDTH, HEIGHT)
CAMERA = ["--focal", "200", "--aperture", "2.8", "--pixel", "16", "--size",
          "%dx%d" % (WIDTH, HEIGHT), "--distortion", "-0.04", "--fwhm", "2.0", "--latitude", "50",
          "--longitude", "10", "--clean"]
TARGET, SETTLE, TOTAL_MIN = "M 42", 30, "4.5"
RECENTRING = {"near-edge", "recentre", "centred"}


def alidade(*arguments, code=0):
    done = subprocess.run([BUILD + "/alidade", *arguments], stdout=subprocess.PIPE, text=True)
    if done.returncode != code:
        sys.exit("alidade %s: exit code %d" % (" ".join(arguments), done.returncode))
    return done.stdout


def json_lines(*arguments):
    return [json.loads(line) for line in alidade(*arguments, "--json").splitlines()]


class Evening:
    """Time goes on while frames are taken and the camera is turned."""

    def __init__(self, folder):
        self.folder, self.taken = folder, 0
        os.mkdir(folder)
        planned = json_lines("plan", "--target", TARGET, "--date", "2026-02-24", "--total",
                             TOTAL_MIN, "--save", folder + "/night-plan.json")[0]["target"]
        self.plan = json.load(open(folder + "/night-plan.json"))
        self.now = numpy.datetime64(planned["best_utc"].rstrip("Z"), "ms")
        self.cadence = self.plan["exposure_s"] + self.plan["pause_s"]
        self.head = Head()
        self.head.pan, self.head.tilt = planned["azimuth_deg"] - 0.8, planned["altitude_deg"] + 0.5

    def wait(self, seconds):
        self.now += numpy.timedelta64(round(seconds * 1000), "ms")

    def expose(self, pattern, frames, *more):
        azimuth, altitude, roll = self.head.pointing()
        table = "stars.tsv" if os.path.exists("stars.tsv") else CATALOGS + "/stars.tsv"
        subprocess.run([BUILD + "/demo/render", *CAMERA, "--stars", table, "--exposure", str(self.plan["exposure_s"]),
                        "--interval", str(self.cadence), "--start", str(self.now), "--azimuth",
                        "%.6f" % azimuth, "--altitude", "%.6f" % altitude, "--roll", "%.6f" % roll,
                        "--frames", str(frames), "--seed", str(self.taken + 1), "--wcs",
                        pattern + ".wcs", "--out", pattern, *more],
                       check=True, stdout=subprocess.DEVNULL)
        self.wait(frames * self.cadence)

    def aim_first(self):
        self.expose("look.fits", 1)
        aimed = json_lines("aim", "look.fits", "--plan", self.folder + "/night-plan.json",
                           "--pressure", "0", "--settle", str(SETTLE))[0]
        if aimed["lead"]["frames"] != self.plan["batch_frames"]:
            sys.exit("aim leads %d frames" % aimed["lead"]["frames"])
        self.head.move(aimed["lead"])
        self.wait(SETTLE - self.cadence)

    def batch(self, frames, *more):
        """Renders into the folder, by names that go on."""
        self.expose("part-%03d.fits", frames, *more)
        names = []
        for i in range(frames):
            self.taken += 1
            names.append("%s/night-%03d.fits" % (self.folder, self.taken))
            os.rename("part-%03d.fits" % (i + 1), names[-1])
            os.rename("part-%03d.fits.wcs" % (i + 1), names[-1] + ".wcs")
        return names

    def watch(self):
        lines = json_lines("watch", self.folder, "--once", "--settle", str(SETTLE))
        return [line for line in lines if "alert" in line]


def follow():
    """Returns the frames batch by batch, and stars where those of the first smear most."""
    evening = Evening("followed")
    evening.aim_first()
    stars, worst_px = add_stars(evening)
    batches, left = [], evening.plan["frames"]
    while left > 0:
        frames = min(left, evening.plan["batch_frames"])
        batches.append(evening.batch(frames))
        left -= frames
        alerts = evening.watch()
        said = [alert["alert"] for alert in alerts]
        if set(said) - RECENTRING or any("again" in alert for alert in alerts):
            sys.exit("batch %d: said %s" % (len(batches), alerts))
        if frames == evening.plan["batch_frames"]:
            if said[-1] != "recentre" or alerts[-1]["at"] not in batches[-1][-2:]:
                sys.exit("batch %d ends without a word: %s" % (len(batches), alerts))
            evening.head.move(alerts[-1]["move"])
            evening.wait(SETTLE - evening.cadence)
    review = json_lines("review", evening.folder, "--target", TARGET)[0]
    kept = sum(frame["verdict"] == "keep" for frame in review["frames"])
    if kept < 0.95 * evening.taken:
        sys.exit("%d of %d frames kept" % (kept, evening.taken))
    return evening, batches, kept, stars, worst_px


def ignore():
    """The camera is never turned, and a cloud comes and stays. Returns how often each alert came
    again."""
    evening = Evening("ignored")
    evening.aim_first()
    alerts = []
    evening.batch(evening.plan["batch_frames"])
    alerts += evening.watch()
    evening.batch(32, "--cloud", "1.2")
    alerts += evening.watch()
    again = {}
    for alert in alerts:
        again[alert["alert"]] = max(again.get(alert["alert"], 0), alert.get("again", 0))
    for kind in ("recentre", "cloud"):
        if not again.get(kind):
            sys.exit("%s was not said again: %s" % (kind, alerts))
    return again


def load(name):
    """Pixels and WCS of a frame, rows from the top as the program counts them."""
    wcs = WCS(fits.Header.fromstring(open(name + ".wcs").read()))
    return fits.getdata(name)[::-1].astype(float), wcs


def places(wcs, sky):
    at = wcs.all_world2pix(sky, 0, quiet=True)
    return numpy.column_stack([at[:, 0], HEIGHT - 1 - at[:, 1]])


def homography(here, there):
    """The one that takes places here to places there with the least squares."""
    unit = numpy.hypot(WIDTH, HEIGHT) / 2
    a, b = ((p - (WIDTH / 2, HEIGHT / 2)) / unit for p in (here, there))
    m = numpy.array([1., 0, 0, 0, 1, 0, 0, 0])

    def mapped(p):
        q = (p - (WIDTH / 2, HEIGHT / 2)) / unit
        below = m[6] * q[:, 0] + m[7] * q[:, 1] + 1
        x, y = m[0] * q[:, 0] + m[1] * q[:, 1] + m[2], m[3] * q[:, 0] + m[4] * q[:, 1] + m[5]
        return numpy.column_stack([x / below, y / below]) * unit + (WIDTH / 2, HEIGHT / 2)

    for _ in range(5):
        below = m[6] * a[:, 0] + m[7] * a[:, 1] + 1
        at = (mapped(here) - (WIDTH / 2, HEIGHT / 2)) / unit
        one, zero = 1 / below, 0 * below
        right = numpy.column_stack([a[:, 0] / below, a[:, 1] / below, one, zero, zero, zero,
                                    -at[:, 0] * a[:, 0] / below, -at[:, 0] * a[:, 1] / below])
        down = numpy.column_stack([zero, zero, zero, a[:, 0] / below, a[:, 1] / below, one,
                                   -at[:, 1] * a[:, 0] / below, -at[:, 1] * a[:, 1] / below])
        m += numpy.linalg.lstsq(numpy.vstack([right, down]),
                                numpy.concatenate((b - at).T), rcond=None)[0]
    return mapped


def grid(columns, rows, margin):
    right, down = numpy.meshgrid(numpy.linspace(margin, WIDTH - 1 - margin, columns),
                                 numpy.linspace(margin, HEIGHT - 1 - margin, rows))
    return numpy.column_stack([right.ravel(), down.ravel()])


def rim():
    """Places all along the edge of a frame."""
    across, along = numpy.linspace(-0.49, WIDTH - 0.51, 901), numpy.linspace(-0.49, HEIGHT - 0.51, 601)
    return numpy.concatenate([[(x, y) for x in across for y in along[[0, -1]]],
                              [(x, y) for y in along for x in across[[0, -1]]]])


def directions(wcs, at):
    return wcs.all_pix2world(numpy.column_stack([at[:, 0], HEIGHT - 1 - at[:, 1]]), 0)


def inside(at, margin=0):
    return (at > margin - 0.5).all(axis=1) & (at < (WIDTH - margin - 0.5,
                                                    HEIGHT - margin - 0.5)).all(axis=1)


def align(middle, other):
    """Homography from a frame to the middle one, by stars evenly over what both show."""
    stars = directions(middle, grid(24, 16, 12))
    there = places(other, stars)
    both = inside(there)
    return homography(there[both], places(middle, stars)[both])


def misses(middle, other, stars):
    """By how much a stack has them beside where the middle frame does; NaN outside."""
    at = places(other, stars)
    missed = align(middle, other)(at) - places(middle, stars)
    return numpy.where(inside(at)[:, None], missed, numpy.nan)


def spans(first, middle, last, stars):
    """From where a stack has them of the first frame to where it has them of the last, px."""
    return numpy.hypot(*(misses(middle, last, stars) - misses(middle, first, stars)).T)


def add_stars(evening):
    """Bright stars where those of the batch that begins now will miss each other most, since the sky
    may have none there; returns their directions, and the miss."""
    wcs, now = [], evening.now
    for frame in (0, evening.plan["batch_frames"] // 2, evening.plan["batch_frames"] - 1):
        evening.now = now + numpy.timedelta64(round(frame * evening.cadence * 1000), "ms")
        evening.expose("probe-%d.fits" % frame, 1)
        wcs.append(load("probe-%d.fits" % frame)[1])
    evening.now = now
    sky = numpy.concatenate([directions(frame, rim()) for frame in wcs])
    spanned = numpy.where(inside(places(wcs[1], sky)), spans(*wcs, sky), numpy.nan)
    worst = numpy.nanargmax(spanned)
    corner = places(wcs[1], sky[worst:worst + 1])[0]
    inward = numpy.sign((WIDTH / 2, HEIGHT / 2) - corner)
    at = corner + inward * [(20 + 24 * i, 14 + 22 * k) for i in range(4) for k in range(2)]
    stars = directions(wcs[1], at)
    table = open(CATALOGS + "/stars.tsv").read()  # of magnitude 7: these are not saturated
    near = "".join("%d\t%.5f\t%.5f\t7.0\t0.6\n" % (900000 + i, *star)
                   for i, star in enumerate(stars))
    open("stars.tsv", "w").write(table + near)
    return stars, spanned[worst]


REACH = 7


def pixels_about(pixels, place, centre):
    """Right and down of a centre, and the light, of the pixels about a place."""
    x, y = int(round(place[0])), int(round(place[1]))
    box = pixels[y - REACH:y + REACH + 1, x - REACH:x + REACH + 1]
    down, right = numpy.mgrid[y - REACH:y + REACH + 1, x - REACH:x + REACH + 1]
    rim = numpy.ones_like(box, bool)
    rim[1:-1, 1:-1] = False
    light = box - numpy.median(box[rim])
    return numpy.column_stack([(right - centre[0]).ravel(), (down - centre[1]).ravel(),
                               light.ravel()])


def width(samples):
    """Of the Gaussian that fits the pixels of a star best: root of its mean variance over both
    directions."""
    x, y, light = numpy.concatenate(samples).T
    fit = numpy.array([light.max(), 0, 0, 1.5, 0, 1.5])  # height, place, covariance
    for _ in range(30):
        height, x0, y0, xx, xy, yy = fit
        both = xx * yy - xy * xy
        u, v = x - x0, y - y0
        p, q = (yy * u - xy * v) / both, (xx * v - xy * u) / both
        shape = numpy.exp(-(p * u + q * v) / 2)
        slope = numpy.column_stack([shape, height * shape * p, height * shape * q,
                                    height * shape * p * p / 2, height * shape * p * q,
                                    height * shape * q * q / 2])
        fit = fit + numpy.linalg.lstsq(slope, light - height * shape, rcond=None)[0]
    return numpy.sqrt((fit[3] + fit[5]) / 2)


def measure_batch(names, stars, worst_px):
    """Widening where stars miss each other most, from the pixels of stars near it."""
    frames = [load(name) for name in names]
    first, middle, last = (frames[i][1] for i in (0, len(frames) // 2, -1))
    single, stack = [[] for _ in stars], [[] for _ in stars]
    seen = numpy.ones(len(stars), bool)
    for pixels, wcs in frames:
        at = places(wcs, stars)
        missed = misses(middle, wcs, stars)
        seen &= inside(at, REACH + 2)
        for i in numpy.flatnonzero(seen):
            single[i].append(pixels_about(pixels, at[i], at[i]))
            stack[i].append(pixels_about(pixels, at[i], at[i] - missed[i]))
    part = spans(first, middle, last, stars) / worst_px
    near = numpy.flatnonzero(seen & (part > 0.75))
    if len(near) < 3:
        sys.exit("only %d stars where they smear" % len(near))
    ones = numpy.array([width(single[i]) for i in near])
    added = numpy.array([width(stack[i]) ** 2 for i in near]) - ones ** 2
    return numpy.sqrt(1 + numpy.mean(added / part[near] ** 2) / numpy.mean(ones ** 2)) - 1


def corner_width():
    """As the photographer reads it off a frame of that lens."""
    probe = Evening("probe")
    probe.expose("probe.fits", 1)
    shape = json_lines("solve", "probe.fits")[0]["health"]
    return numpy.mean([value for value in shape["fwhm_corners_px"] if value])


def check():
    open("rig.ini", "w").write(RIG)
    os.environ["ALIDADE_RIG"] = os.path.abspath("rig.ini")
    star_px = corner_width()
    open("rig.ini", "w").write(RIG.replace("[place", "star width = %.1f\n[place" % star_px))
    evening, batches, kept, stars, worst_px = follow()
    promised = evening.plan["widening"]
    widened = measure_batch(batches[0], stars, worst_px)
    again = ignore()
    print("%d of %d frames kept, nothing said but %s; stars at the edge wider by %.1f %%, promised "
          "%.1f %%; ignored, told again: %s"
          % (kept, evening.taken, "re-centrings", 100 * widened, 100 * promised,
             ", ".join("%s %d" % item for item in sorted(again.items()) if item[1])))
    sys.exit(0 if abs(widened - promised) < 0.1 * promised else 1)


if __name__ == "__main__":
    os.environ["ALIDADE_CATALOGS"] = CATALOGS
    run_in_folder(check)
