#!/usr/bin/python3
"""Sixty hostile texts as file names, as what cameras and lenses are called, as names of objects and
as all that a line of a log says, through every output: terminal, JSON, CSV, list, report, SVG, PDF,
alert commands and the page. Each output is read by what is strict about it: a parser of JSON that
refuses a key twice, Python's reader of CSV, expat, xmllint, qpdf, and Chromium, in which no script
may run and from which nothing may be fetched. No XMP is written."""
import csv
import html.parser
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.dom.minidom

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path[:0] = [HERE, os.path.join(HERE, ".."), os.path.join(HERE, "..", "page")]
from devtools import Browser, missing  # noqa: E402
from hostile_texts import ALL  # noqa: E402
from live_page import ALIDADE, BUILD, ROOT, environment  # noqa: E402
from strict_json import strict  # noqa: E402

PATIENCE = int(os.environ.get("PATIENCE", "120"))
# What speaks to a terminal: control characters, C1's among them, and turns of direction.
SPEAKS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
failures, done = [], []


def check(what, good, shown=""):
    done.append(what)
    if not good:
        failures.append(what)
        print(f"FAILED: {what} {shown!r}"[:400])


def alidade(*words, expect=(0, 1, 3)):
    run = subprocess.run([ALIDADE, *words], env=environment(), capture_output=True,
                         timeout=PATIENCE, stdin=subprocess.DEVNULL)
    said = run.stderr.decode("utf-8", errors="strict")
    check(f"{words[0]}: exit code", run.returncode in expect, (run.returncode, said))
    check(f"{words[0]}: complaints speak to no terminal", not SPEAKS.search(said), said)
    return run.stdout.decode("utf-8", errors="strict")


def is_quiet(what, text):
    found = SPEAKS.search(text)
    check(what + " speaks to no terminal", not found, text[found.start() - 40:found.start() + 40] if found else "")
    check(what + " has no forged line", not re.search(r"^forged", text, re.M))


def render():
    subprocess.run([BUILD + "/demo/render", "--stars", ROOT + "/catalogs/stars.tsv", "--ra", "83.8", "--dec",
                    "-5.4", "--focal", "85", "--pixel", "24", "--size", "450x300", "--exposure", "2",
                    "--out", "good.jpg"], check=True, stdout=subprocess.DEVNULL)


def with_camera(data, text):
    """The JPEG with an EXIF block of these bytes as model and lens, and a number that makes it
    another file."""
    raw = text.encode("utf-8", "surrogatepass") + b"\0"
    raw += b"\0" * (len(raw) % 2)
    first, second = 8, 8 + 2 + 2 * 12 + 4
    data_at = second + 2 + 12 + 4
    tiff = (b"II*\0\x08\0\0\0" + (2).to_bytes(2, "little") + entry(0x110, 2, len(raw), data_at) +
            entry(0x8769, 4, 1, second) + b"\0" * 4 + (1).to_bytes(2, "little") +
            entry(0xa434, 2, len(raw), data_at) + b"\0" * 4 + raw)
    assert first == 8
    block = b"Exif\0\0" + tiff
    # The picture's own block goes.
    at = 2
    while data[at + 1] in range(0xe0, 0xf0):
        at += 2 + int.from_bytes(data[at + 2:at + 4], "big")
    return b"\xff\xd8\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + data[at:]


def entry(tag, kind, count, value):
    return b"".join((tag.to_bytes(2, "little"), kind.to_bytes(2, "little"),
                     count.to_bytes(4, "little"), value.to_bytes(4, "little")))


def make_night():
    """A file for each text that can be a name; each is another picture, and its camera is so called."""
    good = open("good.jpg", "rb").read()
    os.mkdir("night")
    names = []
    for number, text in enumerate(ALL):
        name = text.replace("/", "_")[:120] + ".jpg"
        names.append(name)
        with open(os.path.join("night", name), "wb") as out:
            out.write(with_camera(good, text) + b"%d" % number)
    return names


def line_of(text, model):
    """A line of a log in which every text is hostile."""
    frame = json.loads(model)
    frame["frame"] = text + ".jpg"
    frame["camera"].update(model=text, lens=text)
    frame["picture"]["format"] = text
    frame["target"] = {"name": text, "ra_deg": 83.8, "dec_deg": -5.4, "verdict": text}
    frame.pop("file", None)
    return json.dumps(frame)


class Page(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.attributes = set(), []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += [(name, value or "") for name, value in attrs]


def check_page(name):
    page = Page()
    page.feed(open(name, encoding="utf-8").read())
    check("report: no element of a text's", not page.tags & {"iframe", "script", "object", "a"}, page.tags)
    check("report: no handler, no address", not [a for a in page.attributes if a[0].startswith("on") or
                                                "x.invalid" in a[1] or "javascript:" in a[1]])


def check_table(name, texts):
    text = open(name, encoding="utf-8", newline="").read()
    rows = list(csv.reader(io.StringIO(text), strict=True))
    check("CSV: as many rows as frames", len(rows) == len(texts) + 1, len(rows))
    check("CSV: rows of one length", len({len(row) for row in rows}) == 1)
    for row in rows[1:]:
        for cell in row:
            number = re.fullmatch(r"[-+]?[0-9.]+(e[-+]?\d+)?", cell)
            check("CSV: no formula", number or not cell[:1] in "=+-@\t\r\n" or not cell, cell)


def check_lines():
    alidade("review", "night", "--log", "log.jsonl", "--csv", "night.csv", "--html", "night.html")
    with open("log.jsonl") as log:
        model = next(line for line in log if '"solved": true' in line)
    with open("hostile.jsonl", "w") as out:
        out.write("".join(line_of(text, model) + "\n" for text in ALL))
    is_quiet("review of lines", alidade("review", "--from", "hostile.jsonl", "--csv", "lines.csv", "--html",
                                        "lines.html", "--list", "lines.txt"))
    answer = strict(alidade("review", "--from", "hostile.jsonl", "--json"))
    names = {frame["frame"] for frame in answer["frames"]}
    check("JSON keeps every name", names == {text + ".jpg" for text in ALL}, len(names))
    check_table("lines.csv", ALL)
    for page in ("night.html", "lines.html"):
        check_page(page)


def check_names(names):
    paths = [os.path.join("night", name) for name in names]
    is_quiet("solve", alidade("solve", *paths))
    is_quiet("review", alidade("review", "night", "--log", "log.jsonl"))
    answers = [strict(line) for line in alidade("solve", "--json", *paths).split("\n")[:-1]]
    check("solve: a line each", len(answers) == len(paths), len(answers))
    check("solve: JSON keeps every name", {a["frame"] for a in answers} == set(paths))
    alerts = alidade("watch", "night", "--once", "--json", "--target", "10,80", "--log", "watch.jsonl", "--on-alert",
                     'printf "%s|%s|" "$ALIDADE_FRAME" "$ALIDADE_TEXT" >>alerts; printf "\\0" >>alerts')
    kinds = [strict(line) for line in alerts.split("\n")[:-1]]
    shown = [name for name in names if not name.startswith(".")]  # it leaves out hidden files
    check("watch: a frame each", sum("solved" in k for k in kinds) == len(shown), len(kinds))
    with open("alerts", "rb") as file:
        told = file.read().split(b"\0")[:-1]
    known = {os.fsencode(path) for path in paths} | {os.fsencode(name) for name in names} | {b""}
    check("an alert command gets names as they are", told and all(
        any(one.startswith(k + b"|") for k in known) for one in told), told[:2])
    check("no alert command ran a text", not os.path.exists("harmed"))


def make_tables():
    """The tables of objects with hostile names in the middle of the frame."""
    shutil.copytree(ROOT + "/catalogs", "tables")
    with open("tables/objects.tsv", encoding="utf-8") as file:
        lines = file.read().splitlines(True)
    head = next(i for i, line in enumerate(lines) if line.startswith("id\t"))
    rows = []
    for number, text in enumerate(ALL):
        name = re.sub("[\t\r\n;]", " ", text).strip()[:60]
        if name:
            rows.append(f"X {number}\t{82.5 + 0.05 * number:.4f}\t{-5.4 + 0.07 * (number % 9 - 4):.4f}\topen cluster"
                        f"\t3\t5\t5\t\t\t{name}\t{name}\n")
    with open("tables/objects.tsv", "w", encoding="utf-8") as out:
        out.writelines(lines[:head + 1] + rows + lines[head + 1:])


def check_drawings():
    make_tables()
    for name in ("a.svg", "a.pdf", "a.png"):
        is_quiet("annotate", alidade("annotate", "good.jpg", "-o", name, "--catalogs", "tables", "--show",
                                     "objects,legend"))
    drawn = xml.dom.minidom.parse("a.svg")
    check("SVG: no script", not drawn.getElementsByTagName("script"))
    check("SVG: nothing from elsewhere", "x.invalid" not in open("a.svg", encoding="utf-8").read())
    for tool in (["xmllint", "--noout", "--nonet", "a.svg"], ["qpdf", "--check", "a.pdf"], ["pdftotext", "a.pdf", "a.txt"]):
        if shutil.which(tool[0]):
            run = subprocess.run(tool, capture_output=True)
            check(tool[0], run.returncode == 0, run.stderr)
        else:
            print(tool[0] + " is not here")
    is_quiet("object", alidade("object", "--in", "good.jpg", "--catalogs", "tables"))
    strict(alidade("object", "--in", "good.jpg", "--json", "--catalogs", "tables"))


def check_browser():
    if missing():
        print("without Chromium: " + missing())
        return
    browser = Browser()
    try:
        for page in ("night.html", "lines.html", "a.svg"):
            browser.open("file://" + os.path.abspath(page))
            check(page + ": no script ran", browser.evaluate("window.harmed") is None)
        odd = [url for url in browser.requests if not url.startswith(("file://", "data:", "about:", "blob:"))]
        check("nothing was fetched", not odd, odd)
    finally:
        browser.close()


def main():
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        render()
        names = make_night()
        check_lines()
        check_names(names)
        check_drawings()
        check_browser()
        os.chdir(ROOT)
    print(f"{len(done)} checks of {len(ALL)} hostile texts, {len(failures)} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
