#!/usr/bin/python3
"""Holds the stack of `alidade watch --stack` against astropy, and a sigma-clipped mean by reproject.

demo/render of the folder that BUILD names (build by default) takes a night of frames that drift, with
an invented nebula whose light is about 0.03 of the noise a pixel in each. What is true of it comes
from the same view without noise, with and without it.

Bounds: the signal to noise that the program tells grows as the square root of the frames (photons are
Poisson's) and is the true one within 10 %, in the mean of three nights, since that of one is only known to some
5 %; that of its picture is at least 0.95 of the clipped mean's, both measured here in the same way, without the
faint stars that both have alike (it may be more: what is seen to cross a frame is left out whole, and a clipped
mean keeps its wings); stars of the stack are at most 1.1 times as wide as those of a frame, and lie within 0.3 px
of where astropy's reading of the stack's WCS puts them.
"""
import json
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.stats import sigma_clip, sigma_clipped_stats
from astropy.wcs import WCS

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
import nebula_tables  # noqa: E402

try:
    from reproject import reproject_interp
except ImportError:
    print("reproject is not installed")
    sys.exit(77)

warnings.simplefilter("ignore")  # of headers without a picture

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
CATALOGS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../catalogs")
NAME, RA, DEC, MAJOR, MINOR, TURN, MAG = "Inv 1", 83.80, -5.60, 42.0, 28.0, 30.0, 5.7
FRAMES, WIDTH, HEIGHT, SEEDS = 36, 900, 600, (11, 12, 13)
VIEW = ["--stars", CATALOGS + "/stars.tsv", "--focal", "200", "--aperture", "2.8", "--pixel", "8",
        "--size", "%dx%d" % (WIDTH, HEIGHT), "--exposure", "0.5", "--interval", "2", "--start",
        "2026-02-24T19:30:00", "--azimuth", "195.9", "--altitude", "33.4", "--sky", "18.3", "--clean"]


def run(*command):
    return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout


def render(*more):
    run(BUILD + "/demo/render", *VIEW, *more)


def outline(wcs, shape, times):
    """Whether pixels lie in the ellipse made so many times as large."""
    y, x = numpy.mgrid[:shape[0], :shape[1]]
    ra, dec = wcs.all_pix2world(x, y, 0)
    east, north = (ra - RA) * numpy.cos(numpy.radians(DEC)), dec - DEC
    turn = numpy.radians(TURN)
    along = east * numpy.sin(turn) + north * numpy.cos(turn)
    across = east * numpy.cos(turn) - north * numpy.sin(turn)
    return (along / (MAJOR / 120)) ** 2 + (across / (MINOR / 120)) ** 2 <= times ** 2


def regions(wcs, shape):
    return outline(wcs, shape, 1), outline(wcs, shape, 2) & ~outline(wcs, shape, 1.15)


def in_first_frame(wcs, shape):
    """Whether pixels lie where the true stars are known."""
    y, x = numpy.mgrid[:shape[0], :shape[1]]
    x, y = WCS(fits.getheader("true.wcs")).all_world2pix(*wcs.all_pix2world(x, y, 0), 0)
    return (x > 0) & (y > 0) & (x < WIDTH - 1) & (y < HEIGHT - 1)


def let_satellites_pass(seed):
    """Every sixth frame again, with a satellite through it, each another way."""
    begun = VIEW.index("--start") + 1
    usual = VIEW[begun]
    for i in range(2, FRAMES, 6):
        VIEW[begun] = "2026-02-24T19:%02d:%02d" % divmod(30 * 60 + 2 * i, 60)
        render("--objects", "drawn.tsv", "--seed", str(100 * (seed - 10) + i), "--satellites", "1",
               "--out", "f-%03d.fits" % (i + 1))
    VIEW[begun] = usual


def find_truth():
    """Signal to noise a pixel of the nebula in one frame."""
    render("--stacked", "100000", "--objects", "drawn.tsv", "--wcs", "true.wcs", "--truth",
           "true.tsv", "--out", "with.fits")
    render("--stacked", "100000", "--out", "without.fits")
    light = fits.getdata("with.fits").astype(float) - fits.getdata("without.fits")
    inside, around = regions(WCS(fits.getheader("true.wcs")), light.shape)
    difference = (fits.getdata("f-001.fits").astype(float) -
                  fits.getdata("f-002.fits").astype(float)) / numpy.sqrt(2)
    noise = sigma_clipped_stats(difference, sigma=3, maxiters=10)[2]
    return (light[inside].mean() - light[around].mean()) / noise


def clipped_mean(header):
    """The plain way: each frame on the same grid, its sky off, a sigma-clipped mean."""
    layers = []
    for i in range(FRAMES):
        name = "f-%03d" % (i + 1)
        data = fits.getdata(name + ".fits").astype(float)
        wcs = WCS(fits.getheader(name + ".wcs"))
        sky = ~outline(wcs, data.shape, 1.3)
        data -= sigma_clipped_stats(data[sky], sigma=3)[1]
        layers.append(reproject_interp((data, wcs), header, order="bicubic",
                                       return_footprint=False).astype(numpy.float32))
    cube = sigma_clip(numpy.array(layers), sigma=4, axis=0, maxiters=3, masked=False, copy=False)
    halves = numpy.nanmean(cube[::2], axis=0) - numpy.nanmean(cube[1::2], axis=0)
    return numpy.nanmean(cube, axis=0), halves / 2


def measure(picture, halves, stars, known, inside, around):
    """Signal to noise a pixel: what the outline has more than the sky around, without stars, against
    the scatter of means of 16 x 16 pixels of how two halves of the frames differ."""
    good = known & ~stars & numpy.isfinite(picture)
    level = (sigma_clipped_stats(picture[inside & good], sigma=3)[0] -
             sigma_clipped_stats(picture[around & good], sigma=3)[0])
    rows, columns = picture.shape[0] // 16, picture.shape[1] // 16
    cut = numpy.where(good, halves, numpy.nan)[:rows * 16, :columns * 16]
    blocks = cut.reshape(rows, 16, columns, 16).transpose(0, 2, 1, 3).reshape(rows, columns, 256)
    count = numpy.isfinite(blocks).sum(axis=2)
    means = numpy.nanmean(blocks, axis=2) * numpy.sqrt(count)
    noise = sigma_clipped_stats(means[count > 128], sigma=4)[2]
    if "SHOW" in os.environ:
        print("level %.3f noise %.3f" % (level, noise))
    return level / noise


def watch(numbers):
    """What is told of the stack of these frames, its picture and header."""
    folder = "night-%d" % len(os.listdir("."))
    os.mkdir(folder)
    for i in numbers:
        os.symlink("../f-%03d.fits" % (i + 1), folder + "/f-%03d.fits" % (i + 1))
    told = run(BUILD + "/alidade", "watch", folder, "--once", "--json", "--target", NAME,
               "--catalogs", "tables", "--place", "50,10", "--stack", folder + ".fits")
    steps = [json.loads(line)["stack"] for line in told.splitlines() if '{"stack"' in line]
    return steps, fits.getdata(folder + ".fits"), fits.getheader(folder + ".fits")


def star_places(header):
    """Pixels of true stars on the stack's grid, the brightest first, by astropy."""
    lines = [line.rstrip("\n").split("\t") for line in open("true.tsv") if line[0] != "#"]
    at = {name: i for i, name in enumerate(lines[0])}
    truth = WCS(fits.getheader("true.wcs"))
    x = numpy.array([float(line[at["x"]]) for line in lines[1:]])
    y = numpy.array([float(line[at["y"]]) for line in lines[1:]])
    electrons = numpy.array([float(line[at["electrons"]]) for line in lines[1:]])
    ra, dec = truth.all_pix2world(x, HEIGHT - 1 - y, 0)
    order = numpy.argsort(-electrons)
    px, py = WCS(header).all_world2pix(ra, dec, 0)
    return px[order], py[order], x[order], HEIGHT - 1 - y[order]


def moments(picture, x, y, reach=7):
    """Centroid and rms width of a star, above the sky around."""
    i, j = int(round(x)), int(round(y))
    part = picture[j - reach:j + reach + 1, i - reach:i + reach + 1].astype(float)
    if part.shape != (2 * reach + 1,) * 2 or not numpy.isfinite(part).all():
        return None
    v, u = numpy.mgrid[-reach:reach + 1, -reach:reach + 1]
    rim = numpy.hypot(u, v)
    light = numpy.where(rim <= 5, part - numpy.median(part[rim > 6]), 0)
    cx, cy = (u * light).sum() / light.sum(), (v * light).sum() / light.sum()
    spread = (((u - cx) ** 2 + (v - cy) ** 2) * light).sum() / light.sum()
    return i + cx - x, j + cy - y, numpy.sqrt(max(spread, 0) / 2)


def alone(x, y, k, distance=16):
    return (numpy.hypot(x[:400] - x[k], y[:400] - y[k]) < distance).sum() == 1


def check_stars(stack, px, py, x, y):
    frame = fits.getdata("f-001.fits").astype(float)
    misses, ratios = [], []
    for k in range(2, 60):
        if len(misses) == 7 or not alone(px, py, k):  # of fainter ones noise moves the centroid
            continue
        there, here = moments(stack, px[k], py[k]), moments(frame, x[k], y[k])
        if there and here:
            misses.append(numpy.hypot(there[0], there[1]))
            ratios.append(there[2] / here[2])
    return numpy.max(misses), numpy.median(ratios), len(misses)


def mask_stars(shape, px, py):
    stars = numpy.zeros(shape, bool)
    for k in range(len(px)):
        if -9 < px[k] < shape[1] + 9 and -9 < py[k] < shape[0] + 9:
            i, j, reach = int(px[k]), int(py[k]), 12 if k < 40 else 6
            stars[max(j - reach, 0):j + reach + 1, max(i - reach, 0):i + reach + 1] = True
    return stars


def render_night(seed):
    render("--objects", "drawn.tsv", "--frames", str(FRAMES), "--seed", str(seed), "--out", "f-%03d.fits")
    let_satellites_pass(seed)
    for i in range(FRAMES):
        run(BUILD + "/alidade", "solve", "f-%03d.fits" % (i + 1), "--header", "f-%03d.wcs" % (i + 1),
            "--catalogs", "tables", "--replace")


def hold_night(true_snr):
    """What is told over what is true, ours over the clipped mean, and how stars lie."""
    steps, stack, header = watch(range(FRAMES))
    halves = (watch(range(0, FRAMES, 2))[1] - watch(range(1, FRAMES, 2))[1]) / 2
    wcs = WCS(header)
    inside, around = regions(wcs, stack.shape)
    px, py, x, y = star_places(header)
    stars, known = mask_stars(stack.shape, px, py), in_first_frame(wcs, stack.shape)
    ours = measure(stack, halves, stars, known, inside, around)
    plain = measure(*clipped_mean(header), stars, known, inside, around)
    told = numpy.mean([s["snr"] / (true_snr * s["frames"] ** 0.5) for s in steps if s["frames"] >= 24])
    return (told, ours / plain) + check_stars(stack, px, py, x, y)


with tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    os.environ["XDG_CONFIG_HOME"] = folder
    nebula_tables.write(CATALOGS, [NAME, str(RA), str(DEC), "even nebula", str(MAG), str(MAJOR), str(MINOR),
                                   str(TURN), "", "", ""])
    results = []
    for seed in SEEDS:
        render_night(seed)
        true_snr = find_truth()
        results.append(hold_night(true_snr))
    told, ratio, miss, width, measured = numpy.array(results).T

print("true %.4f a frame; told is that times the root of the frames times %s; the picture's is that of the clipped "
      "mean times %s; %d stars or more within %.2f px, %.3f times as wide"
      % (true_snr, ", ".join("%.3f" % t for t in told), ", ".join("%.3f" % r for r in ratio),
         measured.min(), miss.max(), width.max()))
sys.exit(not (abs(told.mean() - 1) < 0.1 and ratio.mean() > 0.95 and width.max() < 1.1 and miss.max() < 0.3
              and measured.min() >= 6 and 0.02 < true_snr < 0.04))
