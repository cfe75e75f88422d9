"""What checks of faults share: commands, what they work on, and what is wrong with a run of one."""
import os
import re
import shutil
import subprocess
import tempfile

BUILD = os.path.abspath(os.environ.get("BUILD", "build"))
TOP = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
PATIENCE = int(os.environ.get("PATIENCE", "60"))
ALIDADE, BUILDER = BUILD + "/alidade", BUILD + "/alidade-index"

# What a run says of time and of its own speed differs from run to run.
TIMES = re.compile(rb'"elapsed_ms": \{[^}]*\}|"modified_ns": \d+|\d+(\.\d+)? m?s\b')

# Name, words, outputs; what a run writes lies in "out".
COMMANDS = [
    ("solve", [ALIDADE, "solve", "--json", "a.jpg"], []),
    ("solve, no cage", [ALIDADE, "solve", "--json", "--no-cage", "a.jpg", "--header", "out/a.wcs"],
     ["a.wcs"]),
    ("aim", [ALIDADE, "aim", "--json", "a.jpg", "--target", "M 42"], []),
    ("annotate", [ALIDADE, "annotate", "a.jpg", "-o", "out/a.png"], ["a.png"]),
    ("annotate PDF", [ALIDADE, "annotate", "a.jpg", "-o", "out/a.pdf", "--no-cage"], []),
    ("plan", [ALIDADE, "plan", "--json", "--place", "50,10", "--focal", "250", "--target", "M 42",
              "--date", "2026-12-01", "--save", "out/plan.json"], ["plan.json"]),
    ("object", [ALIDADE, "object", "--json", "M 42"], []),
    ("review", [ALIDADE, "review", "--json", "night", "--log", "out/log.jsonl", "--csv",
                "out/a.csv", "--html", "out/a.html"], ["a.csv"]),
    ("watch", [ALIDADE, "watch", "night", "--once", "--target", "M 42", "--log", "out/log.jsonl"],
     []),
    ("index build", [BUILDER, "build", "stars.tsv", "-o", "out/a.alidx"], ["a.alidx"]),
]
KEPT_LOG = "log.jsonl"  # grows line by line, each of them whole


def make_inputs():
    for i in (1, 2):
        subprocess.run([BUILD + "/demo/render", "--stars", TOP + "/catalogs/stars.tsv", "--ra", "83.8",
                        "--dec", "-5.4", "--focal", "85", "--pixel", "24", "--size", "450x300",
                        "--exposure", "2", "--seed", str(i), "--out", f"{i}.jpg"], check=True,
                       stdout=subprocess.DEVNULL)
    os.mkdir("night")
    shutil.copy("1.jpg", "a.jpg")
    for i in (1, 2):
        os.rename(f"{i}.jpg", f"night/{i}.jpg")
        os.utime(f"night/{i}.jpg", (1.79e9, 1.79e9))
    with open(TOP + "/catalogs/stars.tsv") as whole, open("stars.tsv", "w") as bright:
        for line in whole:
            if not re.match(r"\d", line) or float(line.split("\t")[3]) < 4:
                bright.write(line)


def run(words, **settings):
    """A run with these in its environment: what it printed, and the files that it wrote."""
    shutil.rmtree("out", ignore_errors=True)
    os.mkdir("out")
    done = subprocess.run(words, env=dict(os.environ, **settings), capture_output=True,
                          timeout=PATIENCE, stdin=subprocess.DEVNULL)
    files = {name: open("out/" + name, "rb").read() for name in sorted(os.listdir("out"))}
    return done, files


def usual_run(name, words, outputs):
    """A run without a fault, and its files; None if two such runs differ."""
    done, files = run(words)
    again, files_again = run(words)
    same = TIMES.sub(b"", done.stdout) == TIMES.sub(b"", again.stdout)
    if done.returncode or not same or any(files_again[o] != files[o] for o in outputs):
        print(f"FAILED: {name}: cannot be held against itself: {done.stderr!r}")
        return None
    return done, files


def prepare():
    """Into a folder of one's own, with inputs, and nobody's settings."""
    os.environ.update(ALIDADE_CATALOGS=TOP + "/catalogs", ALIDADE_INDEX=BUILD + "/hipparcos.alidx",
                      XDG_CONFIG_HOME="/dev/null")
    os.environ.pop("ALIDADE_RIG", None)
    make_inputs()


def faults(done, files, usual_run_of, outputs):
    """What is wrong with a run, in words."""
    usual, usual_files = usual_run_of
    said = done.stderr.decode(errors="replace")
    told = said.strip() or re.search(rb"out of memory|unread|could not be read", done.stdout)
    if done.returncode < 0 or done.returncode > 4:
        yield f"ends with {done.returncode}: {said[-200:]}"
    odd = set(files) - set(usual_files)
    if odd:
        yield f"leaves {', '.join(odd)}"
    for line in files.get(KEPT_LOG, b"").splitlines(True):
        if not line.endswith(b"}\n"):
            yield "its log has a torn line"
    for name in outputs if not told else []:
        if name in files and files[name] != usual_files[name]:
            yield f"{name} is another one"
    if done.returncode == usual.returncode:
        if TIMES.sub(b"", done.stdout) != TIMES.sub(b"", usual.stdout) and not told:
            yield "gives another answer without a word"
        elif set(files) != set(usual_files) and not told:
            yield "leaves out a file without a word"
    elif not told:
        yield f"ends with {done.returncode} and says nothing"


def try_all(try_command, what):
    """Each command, in one folder that goes away; 1 if a run was wrong, else 0. try_command takes a name, words and
    outputs, and returns how many runs there were and how many were wrong."""
    tried = bad = 0
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        prepare()
        for command in COMMANDS:
            some, wrong = try_command(*command)
            tried, bad = tried + some, bad + wrong
        os.chdir(TOP)
    print(f"{tried} runs {what}, {bad} faults")
    return 1 if bad else 0
