"""Includes point one way: from a folder to those below it in the order here, never up or sideways,
and in no circle among modules (a header with its source; x_parts.h belongs to x). No two files of
the tree have the same name."""
import collections
import re
import subprocess
import sys

from c_source import ROOT, includes, listed, settle, sources

# Lowest first; folders of one row do not know each other.
ORDER = [["base"], ["sky"], ["image"], ["stars"], ["match"], ["health"], ["rig", "objects"], ["tripod"],
         ["plan"], ["night"], ["draw"], ["stack"], ["jobs"], ["page", "cage"], ["cli"], ["web"]]
RANK = {folder: rank for rank, row in enumerate(ORDER) for folder in row}
# What stands beside the library and may use only these folders of it. (night/file_kind.h knows all
# that an output must not destroy.)
BESIDE = {"index-build": {"base", "sky", "image", "match", "night", "manual"},
          "manual": {"base", "rig", "cli"},
          "demo": {"base", "sky", "image", "stars"}}
ALIKE = {"README.md", "run.sh"}  # one per folder


def folder(path):
    return path.parts[1] if path.parts[0] == "src" else path.parts[0]


def allowed(user, used):
    if user == used:
        return True
    if user == "web" and used == "index-build":
        return True  # the page has both programs
    if user in BESIDE:
        return used in BESIDE[user]
    return used in RANK and RANK[used] < RANK[user]


def upward(used_by):
    found = {}
    for path, used_files in used_by.items():
        if folder(path) not in RANK and folder(path) not in BESIDE:
            found[str(path)] = f"{path}: the folder {folder(path)} has no place in the order"
            continue
        for used in used_files:
            if not allowed(folder(path), folder(used)):
                found[f"{path}:{used}"] = f"{path} includes {used}, which is not below it"
    return found


def module(path):
    return path.parent / re.sub("_parts$", "", path.stem)


def circles(used_by, left_out):
    """{module: text} of the modules that come back to themselves through what they include."""
    edges = collections.defaultdict(set)
    for path, used_files in used_by.items():
        for used in map(module, used_files):
            if used != module(path) and f"{module(path)}:{used}" not in left_out:
                edges[module(path)].add(used)

    def reached(start):
        seen, waiting = set(), [start]
        while waiting:
            new = edges.get(waiting.pop(), set()) - seen
            seen |= new
            waiting += new
        return seen

    beyond = {m: reached(m) for m in list(edges)}
    back = {m: sorted(str(u) for u in edges[m] if m in beyond.get(u, ())) for m in edges}
    return {str(m): f"{m} is on a circle of includes, through {', '.join(back[m])}"
            for m in sorted(back) if back[m]}


def twins():
    listing = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    names = listing.stdout.split() or [str(p) for p in sources()]
    by_name = collections.defaultdict(list)
    for name in names:
        if "/corpus/" not in name and (ROOT / name).exists():
            by_name[name.rsplit("/", 1)[-1]].append(name)
    return {n: "several files have one name: " + ", ".join(paths)
            for n, paths in by_name.items() if len(paths) > 1 and n not in ALIKE}


def main():
    used_by = {path: includes(path) for path in sources()}
    excepted = listed("circles.txt")
    faults = settle("includes", upward(used_by), {})
    faults += settle("circles", circles(used_by, excepted), {})
    for edge in excepted:
        if not circles(used_by, set(excepted) - {edge}):
            print(f"{edge}: closes no circle any more, take it off tests/tree/circles.txt")
            faults += 1
    faults += settle("names", twins(), {})
    print(f"{len(used_by)} files include one way; {len(excepted)} modules close a circle, as listed")
    return 1 if faults else 0


sys.exit(main())
