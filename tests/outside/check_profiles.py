#!/usr/bin/python3
"""Colour profiles of pictures, against Pillow and its LittleCMS: what Pillow attached to a frame, it
must find in the annotated copy, to the byte, and a frame without one must come out as sRGB.
"""
import os
import subprocess
import sys
import tempfile

from PIL import Image, ImageCms

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
PAIRS = [("frame.png", "out.png"), ("frame.jpg", "out.jpg"), ("frame.tif", "out.png"),
         ("frame.jpg", "out.png"), ("frame.png", "out.jpg")]


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        sys.exit("%s: %s" % (" ".join(command), done.stderr))


def profile_after(folder, name, out, **how):
    """What Pillow says of the annotated copy of a frame saved in that way."""
    frame, drawn = os.path.join(folder, name), os.path.join(folder, out)
    with Image.open(os.path.join(folder, "plain.jpg")) as plain:
        plain.convert("RGB").save(frame, **how)
    run(os.path.join(BUILD, "alidade"), "annotate", frame, "-o", drawn,
        "--index", os.path.join(BUILD, "hipparcos.alidx"))
    with Image.open(drawn) as picture:
        return picture.info.get("icc_profile"), "srgb" in picture.info


def main():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with tempfile.TemporaryDirectory() as folder:
        run(os.path.join(BUILD, "demo/render"), "--ra", "5h35m", "--dec", "-2", "--focal", "50",
            "--pixel", "24", "--size", "900x600", "--out", os.path.join(folder, "plain.jpg"))
        for name, out in PAIRS:
            kept, _ = profile_after(folder, name, out, icc_profile=profile)
            if kept != profile:
                sys.exit("%s to %s: %s" % (name, out, "another profile" if kept else "no profile"))
        kept, srgb = profile_after(folder, "frame.png", "out.png")
        if kept or not srgb:
            sys.exit("without a profile: not stated to be sRGB")
    print("%d pictures keep a profile of %d bytes" % (len(PAIRS), len(profile)))


main()
