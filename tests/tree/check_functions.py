"""Each public function is defined where its header says: what x.h (or x_parts.h) declares stands in
x.c or x_*.c beside it. No function is longer than 60 lines or has more than 15 branches, counted as
McCabe does: 1, and 1 for each if, for, while, case, &&, || and ?."""
import collections
import re
import sys

from c_source import functions, listed, prototypes, settle, sources

MOST_LINES, MOST_BRANCHES = 60, 15
STAND_INS = "stand-ins"  # what other libraries declare in headers of their own division
BRANCH = re.compile(r"\b(?:if|for|while|case)\b|&&|\|\||\?")


def definitions(paths):
    """({name: [files that define it for others]}, [(name, file, line, lines, branches)])."""
    public, every = collections.defaultdict(list), []
    for path in paths:
        for name, static, line, length, body in functions(path):
            every.append((name, path, line, length, 1 + len(BRANCH.findall(body))))
            if not static and path.suffix != ".h":
                public[name].append(path)
    return public, every


def at_home(header, source):
    stem = re.sub("_parts$", "", header.stem)
    return source.parent == header.parent and \
        (source.stem == stem or source.stem.startswith(stem + "_"))


def strays(paths, public):
    paths = [p for p in paths if p.parent.name != STAND_INS]
    public = {n: [p for p in files if p.parent.name != STAND_INS] for n, files in public.items()}
    public = {n: files for n, files in public.items() if files}
    found, declared = {}, set()
    for header in (p for p in paths if p.suffix == ".h"):
        for name in prototypes(header):
            declared.add(name)
            for source in public.get(name, []):
                if not at_home(header, source):
                    found[name] = f"{source} defines {name}, which {header} declares"
            if name not in public:
                found[name] = f"{header} declares {name}, which nothing defines"
    for name, files in public.items():
        if name not in declared | {"main"}:
            found[name] = f"{files[0]} defines {name}, which is neither static nor in a header"
    return found


def too_long(every):
    return {name: f"{path}:{line}: {name} has {length} lines, more than {MOST_LINES}"
            for name, path, line, length, _ in every if length > MOST_LINES}


def too_branched(every):
    return {name: f"{path}:{line}: {name} has {branches} branches, more than {MOST_BRANCHES}"
            for name, path, line, _, branches in every if branches > MOST_BRANCHES}


def main():
    paths = sources()
    public, every = definitions(paths)
    away, long, branched = (listed(n) for n in ("strays.txt", "long.txt", "branched.txt"))
    faults = settle("strays.txt", strays(paths, public), away)
    faults += settle("long.txt", too_long(every), long)
    faults += settle("branched.txt", too_branched(every), branched)
    lengths = sorted(length for *_, length, _ in every)
    print(f"{len(every)} functions, median {lengths[len(lengths) // 2]} lines; listed: {len(away)} away from "
          f"their header's name, {len(long)} too long, {len(branched)} of many branches")
    return 1 if faults else 0


sys.exit(main())
