"""What the checks of this folder know of C: files, includes, prototypes and functions, read by the
shape that .clang-format gives them, without a compiler."""
import pathlib
import re

ROOT = pathlib.Path(__file__).resolve().parents[2]
FOLDERS = ["src", "index-build", "demo"]
ENDINGS = {".c", ".h", ".cc"}


def sources(folders=FOLDERS):
    """All C files below the folders, as paths relative to the root, in order."""
    return sorted(p.relative_to(ROOT) for f in folders for p in (ROOT / f).rglob("*")
                  if p.suffix in ENDINGS)


def includes(path):
    """The files of the tree that a file includes, relative to the root."""
    found = []
    for name in re.findall(r'^#include "([^"]+)"', (ROOT / path).read_text(), re.M):
        for base in (path.parent, pathlib.Path("src"), pathlib.Path("."), pathlib.Path("index-build")):
            if (ROOT / base / name).exists():
                found.append(base / name)
                break
    return found


def bare(text):
    """The text with comments, strings, character constants and directives blanked, line by line."""
    def blank(match):
        return "".join("\n" if c == "\n" else " " for c in match.group())
    text = re.sub(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'', blank, text,
                  flags=re.S)
    return re.sub(r"^[ \t]*#(?:[^\n]*\\\n)*[^\n]*", blank, text, flags=re.M)


def without_attributes(text):
    return re.sub(r"__attribute__\(\((?:[^()]|\([^()]*\))*\)\)", " ", text)


def prototypes(path):
    """Names of the functions that a header declares for others to define."""
    text = without_attributes(bare((ROOT / path).read_text()))
    text = re.sub(r'extern\s+\{', "", text)
    while re.search(r"\{[^{}]*\}", text):  # bodies, structures, lists
        text = re.sub(r"\{[^{}]*\}", " @ ", text)
    names = []
    for piece in re.split(r";|@(?!\s*[;\w*])", text):
        match = re.match(r"(?!typedef\b|static\b|@)[\w\s*]*?\b(\w+)\s*\((?!\s*\*)", piece.strip())
        if match:
            names.append(match.group(1))
    return names


def functions(path):
    """(name, whether static, first line, number of lines, text) of each function that a file defines:
    what lies between a line "{" and a line "}", with the lines of its head before it."""
    lines = without_attributes(bare((ROOT / path).read_text())).split("\n")
    found = []
    for opening in (i for i, line in enumerate(lines) if line.rstrip() == "{"):
        head = opening
        while head > 0 and lines[head - 1].strip() and lines[head - 1].rstrip()[-1] not in ";}{":
            head -= 1
        closing = next(i for i in range(opening, len(lines)) if lines[i].rstrip() == "}")
        signature = " ".join(lines[head:opening])
        match = re.search(r"(\w+)\s*\(", signature)
        if match:
            found.append((match.group(1), bool(re.match(r"\s*static\b", signature)), head + 1,
                          closing - head + 1, "\n".join(lines[opening:closing + 1])))
    return found


def listed(name):
    """A list of exceptions beside this file: {first word: the rest}; "#" begins a comment."""
    entries = {}
    for line in (pathlib.Path(__file__).parent / name).read_text().splitlines():
        if line.strip() and not line.startswith("#"):
            key, _, rest = line.partition(" ")
            entries[key] = rest.strip()
    return entries


def settle(what, found, exceptions):
    """Prints what is found and not excepted, and what is excepted without need, so that a list can
    only become shorter; returns the number of faults. found: {key: what is wrong}."""
    new = {k: v for k, v in found.items() if k not in exceptions}
    for key, text in new.items():
        print(text)
    idle = sorted(k for k in exceptions if k not in found)
    for key in idle:
        print(f"{key}: no exception any more, take it off the list of {what}")
    return len(new) + len(idle)
