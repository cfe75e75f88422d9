"""A tripod head and a camera on it, for tests that follow aim's advice picture by picture.

The head is modelled from its axes alone: the pan axis leans, the tilt axis hangs on the pan, the
camera on the tilt. demo/render of the folder that BUILD names (build by default) takes the pictures.
"""
import json
import os
import subprocess
import sys
import tempfile

import numpy

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
CATALOGS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../catalogs")
LATITUDE, LONGITUDE = 50, 10
START = numpy.datetime64("2026-02-24T19:30:00")
# 1500 x 1000 px of 12.2 arcsec, 5.1 degrees wide: the demo's lens with large pixels.
CAMERA = ["--focal", "250", "--aperture", "4", "--pixel", "14.8", "--size", "1500x1000",
          "--exposure", "2", "--latitude", str(LATITUDE), "--longitude", str(LONGITUDE),
          "--stars", os.path.join(CATALOGS, "stars.tsv")]
# The renderer's air bends no light.
WHERE = ["--place", "%g,%g" % (LATITUDE, LONGITUDE), "--zone", "+00:00", "--pressure", "0"]


def turn(axis, degrees):
    """The matrix of a right-handed turn about a unit axis (east, north, up)."""
    x, y, z = axis
    cross = numpy.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = numpy.radians(degrees)
    return numpy.eye(3) + numpy.sin(angle) * cross + (1 - numpy.cos(angle)) * cross @ cross


def direction(azimuth, altitude):
    a, h = numpy.radians(azimuth), numpy.radians(altitude)
    return numpy.array([numpy.cos(h) * numpy.sin(a), numpy.cos(h) * numpy.cos(a), numpy.sin(h)])


class Head:
    """At pan and tilt 0 the camera looks north, square to the pan axis, upright on it but for roll."""

    def __init__(self, lean=0, lean_to=0, skew=0, roll=0):
        self.pan_axis = direction(lean_to, 90 - lean)
        side = numpy.cross([0, 1, 0], self.pan_axis)
        side /= numpy.linalg.norm(side)
        out = numpy.cross(self.pan_axis, side)
        self.tilt_axis = turn(out, -skew) @ side
        self.zero = numpy.array([turn(out, roll) @ side, turn(out, roll) @ self.pan_axis, out])
        self.pan = self.tilt = 0.0

    def pointing(self):
        """Azimuth, altitude and roll as the renderer takes them."""
        whole = turn(self.pan_axis, -self.pan) @ turn(self.tilt_axis, self.tilt)
        right, up, out = (whole @ side for side in self.zero)
        azimuth = numpy.degrees(numpy.arctan2(out[0], out[1]))
        altitude = numpy.degrees(numpy.arcsin(out[2]))
        level = direction(azimuth + 90, 0)
        upright = numpy.cross(level, out)
        roll = numpy.degrees(numpy.arctan2(up @ level, up @ upright))
        return azimuth, altitude, roll

    def move(self, advice):
        self.pan += advice["pan_right_deg"]
        self.tilt += advice["tilt_up_deg"]


def photograph(name, head, seconds=0.0):
    azimuth, altitude, roll = head.pointing()
    start = START + numpy.timedelta64(round(seconds * 1000), "ms")
    subprocess.run([BUILD + "/demo/render", *CAMERA, "--start", str(start), "--azimuth",
                    "%.6f" % azimuth, "--altitude", "%.6f" % altitude, "--roll", "%.6f" % roll,
                    "--seed", str(photograph.shots), "--wcs", name + ".wcs", "--out", name],
                   check=True, stdout=subprocess.DEVNULL)
    photograph.shots += 1
    return name


photograph.shots = 1


def alidade(*arguments):
    done = subprocess.run([BUILD + "/alidade", "aim", "--json", "--catalogs", CATALOGS,
                           *arguments], stdout=subprocess.PIPE, text=True, check=False)
    if done.returncode:
        sys.exit("alidade aim %s: exit code %d" % (" ".join(arguments), done.returncode))
    return [json.loads(line) for line in done.stdout.splitlines()]


def target_near(name, distance, angle):
    """A place on the sky so many degrees from where the picture really points."""
    cards = open(name + ".wcs", "rb").read().decode("ascii")
    value = {cards[i:i + 8].strip(): cards[i + 10:i + 30] for i in range(0, len(cards), 80)}
    ra, dec = (numpy.radians(float(value[key])) for key in ("CRVAL1", "CRVAL2"))
    away, turned = numpy.radians(distance), numpy.radians(angle)
    sine = numpy.sin(dec) * numpy.cos(away) + numpy.cos(dec) * numpy.sin(away) * numpy.cos(turned)
    ra += numpy.arctan2(numpy.sin(turned) * numpy.sin(away) * numpy.cos(dec),
                        numpy.cos(away) - numpy.sin(dec) * sine)
    return "%.5f,%.5f" % (numpy.degrees(ra) % 360, numpy.degrees(numpy.arcsin(sine)))


def run_in_folder(check):
    """Calls check in an empty folder, with no settings file but those that it writes there."""
    for variable in ("ALIDADE_RIG", "ALIDADE_INDEX"):
        os.environ.pop(variable, None)
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        os.environ["XDG_CONFIG_HOME"] = folder
        check()
        os.chdir("/")
