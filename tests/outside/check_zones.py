#!/usr/bin/python3
"""Compares what clocks show in 40 zones at 2,000 times and more with Python's zoneinfo (PEP 615).

The program zone_samples, of the folder that BUILD names, prints ours. Times are random ones of 1970
to 2100, and those within two hours of a change of the clock, where it shows an hour twice or not at
all. Compared are the offset, the letters, and the time that a clock's face stands for (fold=0, PEP
495). All must agree to the second.
"""
import datetime
import os
import random
import subprocess
import sys
import zoneinfo

FOLDER = "/usr/share/zoneinfo"
UTC = datetime.timezone.utc
# Of every continent, half hours and quarters, southern summers, changes at midnight, zones without
# summer time, and rules that begin on the day before.
ZONES = """Europe/Berlin Europe/London Europe/Dublin Europe/Lisbon Europe/Moscow Europe/Kyiv
Europe/Istanbul America/New_York America/Chicago America/Denver America/Phoenix America/Los_Angeles
America/Anchorage America/St_Johns America/Halifax America/Sao_Paulo America/Santiago America/Nuuk
America/Havana America/Mexico_City America/Caracas Asia/Tokyo Asia/Kolkata Asia/Kathmandu Asia/Tehran
Asia/Jerusalem Asia/Gaza Asia/Shanghai Asia/Beirut Australia/Sydney Australia/Adelaide
Australia/Lord_Howe Pacific/Auckland Pacific/Chatham Pacific/Apia Pacific/Honolulu Africa/Casablanca
Africa/Cairo Africa/Windhoek Antarctica/Troll""".split()


def change_times(zone, start, stop):
    """Seconds at which the zone's offset has changed, to the hour."""
    day, found = 86400, []
    offset = lambda s: datetime.datetime.fromtimestamp(s, UTC).astimezone(zone).utcoffset()
    for second in range(start, stop, day):
        if offset(second) != offset(second + day):
            found += [s for s in range(second, second + day, 900) if offset(s) != offset(s + 900)]
    return found


def choose(dice):
    first = int(datetime.datetime(1970, 1, 3, tzinfo=UTC).timestamp())
    last = int(datetime.datetime(2100, 1, 1, tzinfo=UTC).timestamp())
    for name in ZONES:
        zone = zoneinfo.ZoneInfo(name)
        for _ in range(50):
            yield name, dice.randrange(first, last)
        year = int(datetime.datetime(dice.randrange(2005, 2060), 1, 1, tzinfo=UTC).timestamp())
        for change in change_times(zone, year, year + 366 * 86400):
            ahead = datetime.datetime.fromtimestamp(change, UTC).astimezone(zone).utcoffset()
            for _ in range(4):
                yield name, change + dice.randrange(-7200, 7200)
                yield name, change + int(ahead.total_seconds()) + dice.randrange(-7200, 7200)


def expected(name, seconds):
    zone = zoneinfo.ZoneInfo(name)
    here = datetime.datetime.fromtimestamp(seconds, UTC).astimezone(zone)
    face = datetime.datetime.fromtimestamp(seconds, UTC).replace(tzinfo=zone)
    offsets = [face.replace(fold=fold).utcoffset() for fold in (0, 1)]
    shows = 0 if offsets[0] == offsets[1] else 1 if offsets[0] > offsets[1] else 2
    return (int(here.utcoffset().total_seconds()), here.tzname(), shows,
            seconds - int(offsets[0].total_seconds()))


def main():
    if not os.path.exists(FOLDER + "/Europe/Berlin"):
        print("no time zones in " + FOLDER)
        return 77
    zoneinfo.reset_tzpath([FOLDER])
    asked = list(choose(random.Random(4)))
    program = os.path.join(os.environ.get("BUILD", "build"), "tests/outside/zone_samples")
    text = subprocess.run([program, FOLDER], check=True, stdout=subprocess.PIPE, text=True,
                          input="".join("%s %d\n" % row for row in asked)).stdout
    lines = [line.split() for line in text.splitlines()]
    wrong, faces = [], [0, 0, 0]
    for (name, seconds), got in zip(asked, lines):
        want = expected(name, seconds)
        faces[want[2]] += 1
        if (got[0], int(got[1])) != (name, seconds) or \
                (int(got[2]), got[3], int(got[4]), int(got[5])) != want:
            wrong.append("%s at %d: %s, zoneinfo has %s" % (name, seconds, got[2:], want))
    for line in wrong[:10]:
        print(line)
    print("%d times in %d zones, %d shown twice, %d never: %d differ from zoneinfo"
          % (len(lines), len(ZONES), faces[1], faces[2], len(wrong)))
    return 1 if wrong or len(lines) != len(asked) or len(lines) < 2000 or min(faces) < 20 else 0


sys.exit(main())
