#!/usr/bin/python3
"""What lines the tests reach, by gcov: a row for each folder, and for the library and the command line
together, which have goals. Files far below their goal are listed with the reason that
tests/coverage/uncovered.txt gives; one without a reason there is a fault, and so is a goal that is missed.

usage: covered_lines.py BUILD_DIR
"""
import collections
import glob
import json
import os
import subprocess
import sys

GOALS = {"library": 95.0, "cli": 90.0}  # per cent of lines
FAR_BELOW = 80.0  # of a file
NOT_LIBRARY = ("cli", "page", "cage", "manual", "web")
HERE = os.path.dirname(os.path.abspath(__file__))


def lines_by_file(build):
    """file -> line -> how often it ran, the most of all objects that have it."""
    found = collections.defaultdict(lambda: collections.defaultdict(int))
    notes = [n for n in glob.glob(build + "/src/**/*.gcno", recursive=True)]
    for start in range(0, len(notes), 40):
        text = subprocess.run(["gcov", "--json-format", "--stdout", *notes[start:start + 40]],
                              capture_output=True, check=True, text=True).stdout
        for part in text.splitlines():
            for file in json.loads(part)["files"]:
                name = os.path.relpath(file["file"], os.getcwd()) if file["file"].startswith("/") else file["file"]
                name = name.removeprefix("./")
                if name.startswith("src/") and name.endswith((".c", ".cc")):
                    for line in file["lines"]:
                        known = found[name]
                        known[line["line_number"]] = max(known[line["line_number"]], line["count"])
    return found


def reasons():
    out = {}
    with open(HERE + "/uncovered.txt", encoding="utf-8") as file:
        for line in file:
            if line.strip() and not line.startswith("#"):
                name, reason = line.split(None, 1)
                out[name] = reason.strip()
    return out


def share(counts):
    return 100 * sum(c > 0 for c in counts) / len(counts) if counts else 100.0


def main():
    found, known, bad = lines_by_file(sys.argv[1]), reasons(), 0
    rooms = collections.defaultdict(list)
    for name, lines in found.items():
        folder = name.split("/")[1]
        for key in (folder, "library" if folder not in NOT_LIBRARY else "rest"):
            rooms[key].extend(lines.values())
    for name in sorted(rooms, key=lambda n: (n in GOALS, n)):
        print(f"{name:10} {share(rooms[name]):6.2f} % of {len(rooms[name]):6} lines")
    for name, goal in GOALS.items():
        if share(rooms[name]) < goal:
            bad += 1
            print(f"MISSED: {name}: {share(rooms[name]):.2f} %, the goal is {goal:g} %")
    for name in sorted(found):
        part = share(found[name].values())
        if part < FAR_BELOW:
            bad += name not in known
            missing = sorted(n for n, c in found[name].items() if c == 0)
            print(f"{name}: {part:.1f} %: {known.get(name, 'NO REASON GIVEN')}; first lines: "
                  f"{', '.join(map(str, missing[:6]))}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
