"""The evening of README.md prints what README.md shows: each block of its seven steps that has a
line "$ COMMAND" is run on the frames of demo/evening.sh, all in one shell, and what comes out is
held against what stands below the command. With --renew, README.md gets what came out instead.
README.md keeps to 300 lines."""
import os
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
BUILD = (ROOT / os.environ.get("BUILD", "build")).resolve()
README = ROOT / "README.md"
MOST_LINES = 300
BLOCK = re.compile(r"(?<=^```\n)(\$ .*?)(?=^```$)", re.M | re.S)


def commands(block):
    return re.findall(r"^\$ (.*)$", block, re.M)


def answers(lines, folder):
    """What each command prints, on both channels, and its exit code as the shell has it."""
    mark = "=== end of an answer ==="
    script = "".join(f"{line}\necho \"{mark}$?\"\n" for line in lines)
    environment = {**os.environ, "PATH": f"{BUILD}:{os.environ['PATH']}", "ALIDADE_RIG": "rig.ini",
                   "ALIDADE_CATALOGS": str(ROOT / "catalogs"), "LC_ALL": "C.UTF-8"}
    run = subprocess.run(["bash", "-c", script], cwd=folder, env=environment, text=True,
                         stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=True)
    return re.findall(r"(.*?)" + re.escape(mark) + r"(\d+)\n", run.stdout, re.S)


def main():
    text = README.read_text()
    start = text.index("## An evening in seven steps")
    end = text.index("\n## ", start + 1)
    blocks = BLOCK.findall(text[start:end])
    lines = [line for block in blocks for line in commands(block)]
    with tempfile.TemporaryDirectory() as work:
        folder = f"{work}/evening"
        subprocess.run(["bash", ROOT / "demo/evening.sh", BUILD, folder], check=True)
        printed = answers(lines, folder)
    faults = [f"exit code {code} of {line}\n{out}"
              for line, (out, code) in zip(lines, printed) if code != "0"]
    given = iter(zip(lines, printed))
    renewed = {block: "".join(f"$ {line}\n{out}" for line, (out, _) in
                              (next(given) for _ in commands(block))) for block in blocks}
    if "--renew" in sys.argv:
        for block, new in renewed.items():
            text = text.replace(block, new)
        README.write_text(text)
    for block, new in renewed.items():
        if block != new and "--renew" not in sys.argv:
            faults.append(f"README.md shows\n{block}but what is printed is\n{new}"
                          "(`make renew-readme` puts it there)")
    if len(text.splitlines()) > MOST_LINES:
        faults.append(f"README.md has {len(text.splitlines())} lines, at most {MOST_LINES}")
    if len(lines) < 7:
        faults.append(f"only {len(lines)} commands found")
    print("\n".join(faults) or f"{len(lines)} commands of README.md print what it shows, "
                               f"{len(text.splitlines())} lines")
    return bool(faults)


sys.exit(main())
