#!/usr/bin/python3
"""The demo's own evening from plan to review: exposure, batch, next re-centring and lead are the same to
one frame in the plan's words, JSON and file, on the card, in what aim, watch and review say, and in
the report.

Camera, garden and tripod are those of demo/run.sh, read from it. What is shown of a batch is its
first three frames and its last dozen: between them nothing happens but the sky's drift.
"""
import json
import os
import re
import subprocess
import sys

import numpy

from tripod_model import BUILD, CATALOGS, Head, run_in_folder

STORY = open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../demo/run.sh")).read()
TARGET, DATE, SETTLE = "Orion Nebula", "2026-02-24", 30
PLAN, LAST = "frames/night-plan.json", 12
failures = []


def of_story(pattern):
    return re.search(pattern, STORY, re.S | re.M).group(1)


CAMERA = (of_story(r"^camera=\((.*?)\)") + " " + of_story(r"^garden=\((.*?)\)")).split()


def alidade(*arguments):
    done = subprocess.run([BUILD + "/alidade", *arguments, "--rig", "garden.ini"],
                          stdout=subprocess.PIPE, text=True)
    if done.returncode:
        sys.exit("alidade %s: exit code %d" % (" ".join(arguments), done.returncode))
    return done.stdout


def flat(text):
    return " ".join(text.split())


def says(who, text, pattern, wanted, within=0):
    """Each number that the words give there; they must be there."""
    found = [float(number.replace("−", "-")) for number in re.findall(pattern, flat(text))]
    if not found or any(abs(number - wanted) > within for number in found):
        failures.append("%s: %r says %s instead of %g to %g" % (who, pattern, found, wanted, within))


class Tripod:
    def __init__(self):
        self.head, self.taken = Head(), 0
        self.now = numpy.datetime64(DATE + "T" + of_story(r"^photograph test.dng 1 ([0-9:]+)"), "ms")
        self.head.pan, self.head.tilt = (float(of_story(r"^azimuth=%s" % at)) for at in
                                         (r"(\S+) altitude", r"\S+ altitude=(\S+) roll"))

    def photograph(self, name):
        azimuth, altitude, roll = self.head.pointing()
        self.taken += 1
        subprocess.run([BUILD + "/demo/render", "--stars", CATALOGS + "/stars.tsv", *CAMERA, "--start",
                        str(self.now), "--azimuth", "%.6f" % azimuth, "--altitude", "%.6f" % altitude,
                        "--roll", "%.6f" % roll, "--seed", str(self.taken), "--out", name],
                       check=True, stdout=subprocess.DEVNULL)

    def wait(self, seconds):
        self.now += numpy.timedelta64(round(seconds * 1000), "ms")


def make_plan():
    """Plan and card; the file, which all others are held against."""
    asked = ("plan", "--target", TARGET, "--date", DATE)
    words = alidade(*asked, "--save", PLAN, "--card", "card.pdf")
    told = json.loads(alidade(*asked, "--json"))["target"]["shots"]
    plan = json.load(open(PLAN))
    exposure, frames, batch = plan["exposure_s"], plan["frames"], plan["batch_frames"]
    says("plan", words, r"shoot \d+ x ([\d.]+) s", exposure)
    says("plan", words, r"shoot (\d+) x", frames)
    says("plan", words, r"re-centre every [\d.]+ min = (\d+) frames", batch)
    for key, wanted in (("exposure_s", exposure), ("frames", frames), ("recentre_frames", batch)):
        if told[key] != wanted:
            failures.append("plan --json: %s %s instead of %s" % (key, told[key], wanted))
    card = subprocess.run(["pdftotext", "-raw", "card.pdf", "-"], stdout=subprocess.PIPE,
                          text=True, check=True).stdout
    says("card", card, r"EXPOSURE ([\d.]+) s", exposure)
    says("card", card, r"Manual, f/[\d.]+, ([\d.]+) s", exposure)
    says("card", card, r"FRAMES (\d+)", frames)
    says("card", card, r"RE-CENTRE AFTER (\d+) frames", batch)
    return plan


def lead_frames(right, up, plan):
    """How many frames of drift the target begins before the middle."""
    cadence = plan["exposure_s"] + plan["pause_s"]
    drift = 15.041 * cadence * numpy.cos(numpy.radians(plan["middle_dec_deg"])) / 3600
    return numpy.hypot(right * plan["field_width_deg"], up * plan["field_height_deg"]) / drift


def check_aim(tripod, plan):
    batch = plan["batch_frames"]
    tripod.photograph("test.dng")
    asked = ("aim", "test.dng", "--plan", PLAN, "--settle", str(SETTLE))
    words, told = alidade(*asked), json.loads(alidade(*asked, "--json"))["lead"]
    says("aim", words, r"centred on average over (\d+) frames", batch)
    says("aim", words, r"batch (\d+) frames, as planned", batch)
    says("aim", words, r"test.dng: pan ([\d.]+)°", abs(told["pan_right_deg"]), 0.051)
    says("aim", words, r"tilt ([\d.]+)°", abs(told["tilt_up_deg"]), 0.051)
    if told["frames"] != batch:
        failures.append("aim --json: leads %d frames" % told["frames"])
    led = lead_frames(*told["target_at_start"].values(), plan)
    planned = lead_frames(plan["lead_right"], plan["lead_up"], plan)
    if abs(led - planned) > 1:
        failures.append("aim leads by %.1f frames, the plan by %.1f" % (led, planned))
    if abs(led - (batch - 1) / 2) > 1:
        failures.append("a batch of %d is led by %.1f frames" % (batch, led))
    tripod.head.move(told)
    tripod.wait(plan["exposure_s"] + SETTLE)
    return led


def shoot(tripod, plan):
    batch, cadence = plan["batch_frames"], plan["exposure_s"] + plan["pause_s"]
    first = tripod.now
    for frame in [1, 2, 3, *range(batch + 1 - LAST, batch + 2)]:
        tripod.now = first + numpy.timedelta64(round((frame - 1) * cadence * 1000), "ms")
        tripod.photograph("frames/night-%03d.dng" % frame)


def number_of(name):
    return int(re.search(r"night-(\d+)", name).group(1))


def check_watch(plan):
    """Returns the frame at which the next re-centring is called."""
    batch = plan["batch_frames"]
    lines = [json.loads(line) for line in
             alidade("watch", "frames", "--once", "--settle", str(SETTLE), "--json").splitlines()]
    os.remove("frames/alidade-night.jsonl")
    words = alidade("watch", "frames", "--once", "--settle", str(SETTLE))
    called = [line for line in lines if line.get("alert") == "recentre" and "again" not in line]
    if len(called) != 1 or abs(number_of(called[0]["at"]) - batch) > 1:
        failures.append("watch calls for re-centring at %s" % [line["at"] for line in called])
        return None
    said = called[0]["text"]
    says("watch --json", said, r"this batch of (\d+) frames is complete", batch)
    says("watch", words, r"which centres (\d+) frames", batch)
    counted = 0
    for left, name in re.findall(r"target in, (\d+) left.* (\S+\.dng)$", words, re.M):
        counted += 1
        if abs(int(left) - (batch + 1 - number_of(name))) > 1:
            failures.append("watch: %s frames left at %s" % (left, name))
    if counted < LAST + 2:
        failures.append("watch: frames left of %d frames" % counted)
    move = called[0]["move"]
    says("watch", words, r"RE-CENTRE NOW .*? pan ([\d.]+)°", abs(move["pan_right_deg"]), 0.051)
    return number_of(called[0]["at"])


def check_review(plan):
    exposure = "%g s" % plan["exposure_s"]
    keep = r"keep to the plan: %s, re-centre every (\d+) frames" % re.escape(exposure)
    asked = ("review", "frames", "--target", TARGET)
    for who, text in (("review", alidade(*asked, "--html", "night.html")),
                      ("review --json", alidade(*asked, "--json")),
                      ("report", open("night.html").read())):
        says(who, text, keep, plan["batch_frames"])


def check():
    open("garden.ini", "w").write(of_story(r"^cat >garden.ini <<'INI'\n(.*?)^INI$"))
    os.mkdir("frames")
    plan = make_plan()
    tripod = Tripod()
    led = check_aim(tripod, plan)
    shoot(tripod, plan)
    called = check_watch(plan)
    check_review(plan)
    print("\n".join(failures) or
          "%g s, a batch of %d frames, led by %.1f, re-centring called at frame %s: plan, card, aim, "
          "watch, review and report agree" % (plan["exposure_s"], plan["batch_frames"], led, called))
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    os.environ["ALIDADE_CATALOGS"] = CATALOGS
    run_in_folder(check)
