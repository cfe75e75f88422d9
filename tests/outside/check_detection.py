#!/usr/bin/python3
"""Holds the detector against photutils on the same rendered frames.

Both get the same pixels. photutils works as its documentation advises: Background2D, convolution
with the star's own shape (which it is told, while our detector must find it), detect_sources and
deblend_sources at a threshold in noises of the convolved image, SourceCatalog's centroids.

What is a star is known from the renderer's table. Signal to noise is that of a star weighed with its
own profile on the sky's noise. Completeness is the share of true stars within 3 px (plus half the
trail) of a detection, by signal to noise; what is near no true star above 2 is a false one. Fails
if photutils finds clearly more stars without more false ones, or if positions are clearly better.
"""
import os
import subprocess
import sys
import tempfile
import warnings

import numpy
from astropy.convolution import Gaussian2DKernel, convolve
from astropy.io import fits
from astropy.stats import SigmaClip
from photutils.background import Background2D, SExtractorBackground
from photutils.segmentation import SourceCatalog, deblend_sources, detect_sources
from scipy.spatial import cKDTree

BUILD = os.environ.get("BUILD", "build")
SIZE = (1500, 1000)
OPTIONS = ["--focal", "200", "--pixel", "7.4", "--size", "%dx%d" % SIZE]
FRAMES = {
    "round": ["--ra", "56.75", "--dec", "24.1", "--tracked"],
    "crowded": ["--ra", "305.5", "--dec", "40.3", "--tracked", "--exposure", "8"],
    "trails": ["--ra", "83.8", "--dec", "-5.4", "--exposure", "2"],
    "moonlit": ["--ra", "150", "--dec", "30", "--tracked", "--sky", "16.5", "--moon", "1"],
    "dirty": ["--ra", "10.7", "--dec", "41.3", "--tracked", "--dead-columns", "6", "--satellites",
              "2", "--amp-glow", "800"],
}
BINS = [(3, 5), (5, 8), (8, 15), (15, 50), (50, 1e9)]
E_PER_UNIT = 0.25 / 4  # the renderer's 16-bit units


def render(folder, name, options):
    frame, truth = (os.path.join(folder, name + end) for end in (".fits", ".tsv"))
    subprocess.run([os.path.join(BUILD, "demo/render"), "--stars", "catalogs/stars.tsv", "--out",
                    frame, "--truth", truth] + OPTIONS + options, check=True,
                   stdout=subprocess.DEVNULL)
    table = numpy.genfromtxt(truth, delimiter="\t", names=True, comments="#")
    return frame, table


def trail_px(options):
    value = dict(zip(options, options[1:]))
    if "--tracked" in options:
        return 0
    scale = 206.265 * 7.4 / 200
    return 15.041 * float(value["--exposure"]) * numpy.cos(numpy.radians(float(value["--dec"]))) / scale


def true_snr(image, table, trail):
    """Light over the noise of the sky in the pixels that count: 2 sqrt(pi) s (L + 2 sqrt(pi) s)."""
    sigma = 2.8 / 2.3548
    area = 2 * numpy.sqrt(numpy.pi) * sigma * (trail + 2 * numpy.sqrt(numpy.pi) * sigma)
    difference = numpy.diff(image.astype(float), axis=1)
    noise = 1.4826 * numpy.median(numpy.abs(difference)) / numpy.sqrt(2) * E_PER_UNIT
    return table["electrons"] / (noise * numpy.sqrt(area))


def ours(frame):
    out = subprocess.run([os.path.join(BUILD, "tests/outside/star_samples"), frame], check=True,
                         capture_output=True, text=True).stdout
    return numpy.array([[float(v) for v in line.split("\t")[:2]] for line in out.splitlines()])


def photutils_stars(image, trail, angle):
    data = image.astype(float)
    sky = Background2D(data, 64, filter_size=3, sigma_clip=SigmaClip(3),
                       bkg_estimator=SExtractorBackground())
    data = data - sky.background
    sigma = 2.8 / 2.3548
    kernel = Gaussian2DKernel(numpy.hypot(sigma, trail / numpy.sqrt(12)), sigma,
                              numpy.radians(angle))
    smooth = convolve(data, kernel, normalize_kernel=True)
    noise = 1.4826 * numpy.median(numpy.abs(smooth - numpy.median(smooth)))
    found = detect_sources(smooth, 3.5 * noise, npixels=4)
    found = deblend_sources(smooth, found, npixels=4, nlevels=16, contrast=0.005,
                            progress_bar=False)
    catalogue = SourceCatalog(data, found, convolved_data=smooth)
    keep = catalogue.max_value > 0
    peak = numpy.array([smooth[s].max() for s in catalogue.slices]) / noise
    return numpy.transpose([catalogue.xcentroid, catalogue.ycentroid])[keep & (peak > 4.2)]


def judge(found, table, snr, reach):
    """Completeness by bin, false detections, median distance of bright stars, px."""
    places = numpy.transpose([table["x"], table["y"]])
    inside = ((places > 10) & (places < numpy.array(SIZE) - 10)).all(axis=1)
    distance, _ = cKDTree(found).query(places)
    share = [numpy.mean(distance[inside & (snr >= low) & (snr < high)] < reach)
             for low, high in BINS]
    away, _ = cKDTree(places[snr > 2]).query(found)
    middling = inside & (snr > 30) & (snr < 300) & (distance < reach)
    return share, int((away > reach).sum()), numpy.median(distance[middling])


def main():
    warnings.simplefilter("ignore")
    bad = 0
    print("completeness by signal to noise:  3-5   5-8  8-15 15-50   50-   false  median off, px")
    with tempfile.TemporaryDirectory() as folder:
        for name, options in FRAMES.items():
            frame, table = render(folder, name, options)
            image = fits.getdata(frame)[::-1]
            trail = trail_px(options)
            snr = true_snr(image, table, trail)
            reach = 3 + trail / 2
            results = {"alidade": judge(ours(frame), table, snr, reach),
                       "photutils": judge(photutils_stars(image, trail, 0), table, snr, reach)}
            for who, (share, false, off) in results.items():
                print("  %-10s %-16s" % (name, who),
                      " ".join("%5.1f" % (100 * s) for s in share), "%7d %10.3f" % (false, off))
            mine, other = results["alidade"], results["photutils"]
            fewer = any(m < o - 0.05 for m, o in zip(mine[0][2:], other[0][2:]))
            if (fewer and mine[1] >= other[1]) or mine[2] > 1.2 * other[2] + 0.02:
                print("  %s: photutils does better" % name)
                bad += 1
    print("the detector is no worse than photutils on %d of %d frames" % (len(FRAMES) - bad,
                                                                          len(FRAMES)))
    return 1 if bad else 0


if __name__ == "__main__":
    os.chdir(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", ".."))
    sys.exit(main())
