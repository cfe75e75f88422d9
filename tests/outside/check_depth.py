#!/usr/bin/python3
"""Holds what `alidade aim --stack` foretells from one frame against the CCD equation and pixels.

demo/render of the folder that BUILD names (build by default) takes frames of a round cluster. The
equation is that of Howell, Handbook of CCD Astronomy (eq. 4.4 for one pixel, from memory; Merline &
Howell 1995 is its source), fed with what the renderer was told; aim sees the frame alone. Then the
cluster's light and the noise are measured in the pixels of a stack of frames, with and without the
cluster, by numpy.

Bounds: the signal to noise of one frame within 10 % of both, so that the number of frames is right
within 20 %; the sky within 0.1 mag; an electron within 10 %.
"""
import json
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.io import fits
from astropy.wcs import WCS

warnings.simplefilter("ignore")  # of a header without a picture

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
CATALOGS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../catalogs")
# M 13 as the table of objects has it.
RA, DEC, MAG, ARCMIN = 250.4235, 36.4613, 5.9, 20
FOCAL, PIXEL = 250, 7.4
# Names, levels without light, and electrons a value: the renderer widens FITS files to 16 bits.
FILES = [("frame.fits", 2048, 0.0625), ("frame.dng", None, 0.25)]
SCALE = PIXEL / 1000 / FOCAL * 206264.806
# Of a star of V = 0, in electrons a second and square centimetre; what the renderer assumes.
ZERO_E = 0.9e5
# The rendered cluster is half a core, half exp(-r) with the outline at r = 3.2.
INSIDE = 1 - 0.5 * (1 + 3.2) * numpy.exp(-3.2)
SCENES = [  # exposure, f-number, sky, read noise, frames in the stack
    (2, 4, 20.5, 5, 3), (8, 2.8, 18.3, 5, 2), (30, 4, 20, 2, 2)]
worst = {"equation": 0.0, "pixels": 0.0, "stack": 0.0, "sky": 0.0, "electron": 0.0}


def render(name, scene, seed, *more):
    exposure, f_number, sky, noise, _ = scene
    subprocess.run([BUILD + "/demo/render", "--ra", str(RA), "--dec", str(DEC), "--focal",
                    str(FOCAL), "--pixel", str(PIXEL), "--size", "1500x1000", "--exposure",
                    str(exposure), "--aperture", str(f_number), "--sky", str(sky), "--read-noise",
                    str(noise), "--tracked", "--clean", "--seed", str(seed), "--stars",
                    CATALOGS + "/stars.tsv", *more, "--wcs", "true.wcs", "--out", name],
                   check=True, stdout=subprocess.DEVNULL)
    return fits.getdata(name).astype(float) if name.endswith(".fits") else None


def foretell(name, scene, black):
    """What aim says; the settings file tells the read noise, as a photographer would."""
    with open("rig.ini", "w") as rig:
        rig.write("[body Test]\npixels = 1500x1000\npixel = 7.4\nread noise = %g\n" % scene[3])
    told = ["--black", str(black)] if black else []
    done = subprocess.run([BUILD + "/alidade", "aim", name, "--target", "M 13", "--stack",
                           str(scene[4]), *told, "--json", "--rig", "rig.ini", "--body", "Test",
                           "--catalogs", CATALOGS],
                          stdout=subprocess.PIPE, text=True, check=False)
    depth = json.loads(done.stdout)["depth"] if done.returncode == 0 else {"known": False}
    if not depth["known"]:
        sys.exit("aim %s: %s" % (name, depth))
    return depth


def equation(scene):
    """Of one pixel in one frame, from the catalogue's magnitude spread over the outline."""
    exposure, f_number, sky, noise, _ = scene
    rate = ZERO_E * exposure * numpy.pi / 4 * (FOCAL / f_number / 10) ** 2
    target = rate * 10 ** (-0.4 * MAG) * SCALE ** 2 / (numpy.pi / 4 * (60 * ARCMIN) ** 2)
    ground = rate * 10 ** (-0.4 * sky) * SCALE ** 2
    return target / numpy.sqrt(target + ground + noise ** 2)


def measure(scene):
    """The same in pixels: of one frame, and of the mean of some."""
    objects = ("--objects", CATALOGS + "/objects.tsv")
    bare = [render("bare.fits", scene, 100 + i) for i in range(scene[4])]
    full = [render("full.fits", scene, 200 + i, *objects) for i in range(2 * scene[4])]
    sky = WCS(fits.Header.fromstring(open("true.wcs").read()))
    x, y = sky.all_world2pix([[RA, DEC]], 0)[0]
    rows, columns = numpy.indices(full[0].shape)
    within = numpy.hypot(columns - x, rows - y) < ARCMIN * 30 / SCALE
    dim = numpy.mean(bare, axis=0) < numpy.median(bare[0]) + 3 * numpy.std(bare[0][:50])
    chosen = within & dim
    light = numpy.mean((numpy.mean(full, axis=0) - numpy.mean(bare, axis=0))[chosen]) / INSIDE
    once = numpy.std((full[0] - full[1])[chosen]) / numpy.sqrt(2)
    half = scene[4]
    stack = numpy.std((numpy.mean(full[:half], axis=0) -
                       numpy.mean(full[half:], axis=0))[chosen]) / numpy.sqrt(2)
    return light / once, light / stack


def note(what, ratio):
    worst[what] = max(worst[what], abs(ratio - 1))


def main():
    for scene in SCENES:
        once, stack = measure(scene)
        for name, black, electrons in FILES:
            render(name, scene, 1, "--objects", CATALOGS + "/objects.tsv")
            depth = foretell(name, scene, black)
            note("equation", depth["snr_once"] / equation(scene))
            note("pixels", depth["snr_once"] / once)
            note("stack", depth["snr_stack"] / stack)
            note("electron", depth["electrons_a_value"] / electrons)
            worst["sky"] = max(worst["sky"], abs(depth["sky_mag_arcsec2"] - scene[2]))
    good = max(worst["equation"], worst["pixels"], worst["stack"], worst["electron"]) < 0.1
    print("signal to noise foretold from one frame: %.1f %% from the CCD equation, %.1f %% from that "
          "of one frame's pixels, %.1f %% from a stack's (bound 10); an electron %.1f %% (10); the "
          "sky %.2f mag (0.1)" % (*(100 * worst[what] for what in
                                    ("equation", "pixels", "stack", "electron")), worst["sky"]))
    return 0 if good and worst["sky"] < 0.1 else 1


with tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    os.environ["XDG_CONFIG_HOME"] = folder
    code = main()
    os.chdir("/")
sys.exit(code)
