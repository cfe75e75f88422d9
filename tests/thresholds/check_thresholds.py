#!/usr/bin/env python3
"""Changes every threshold of the program by a fifth, one after the other, and sees whether a unit
test notices: check_thresholds.py BUILD [NAME...]

A threshold is a number with a name of its own: a constant at the outermost level of a file that
subjects.txt lists (`static const double cloud_mag = 0.5`, `.drop = 0.4` in a table, `enum { ON_SOON
= 2 }` or `#define`), but for those that apart.txt says are none. It counts as noticed if the suites
that subjects.txt gives fail both with 1.2 times and with 0.8 times its value (whole numbers: at
least one more, one less). Only what holds the constant is compiled, and linked with the
suites. The Makefile hands over in COMPILE and LINK how that is done. Exit status 1 below 95 %."""
import concurrent.futures
import fnmatch
import os
import pathlib
import re
import resource
import shlex
import shutil
import signal
import subprocess
import sys

GOAL = 0.95
PATIENCE_S = 120  # of processor time: a busy machine is no hang
HERE = pathlib.Path(__file__).parent
NUMBER = r"-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"


class Threshold:
    def __init__(self, path, name, start, end, value, whole):
        self.path, self.name, self.start, self.end = path, name, start, end
        self.value, self.whole = value, whole
        self.suites = []

    def key(self):
        return f"{self.path.name}:{self.name}"

    def scaled(self, factor):
        if not self.whole:
            return repr(float(self.value) * factor)
        value = int(self.value)
        step = max(1, round(abs(value) / 5))
        return str(value + step if factor > 1 else value - step)


def blank(text):
    """The text without comments and strings, as long as before."""
    pattern = r'/\*.*?\*/|"(?:\\.|[^"\\\n])*"'
    return re.sub(pattern, lambda m: re.sub(r"[^\n]", " ", m.group()), text, flags=re.S)


def entries(code, start, end):
    """Numbers in a declaration as (name, start, end), named with the braces around: 'stars.drop'."""
    around = []
    token = re.compile(rf"\.?(?P<name>\w+)\s*=\s*(?:(?P<number>{NUMBER})F?\s*(?=[,;}}])|\{{)"
                       r"|\[(?P<index>\w+)\]\s*=\s*\{|(?P<brace>[{}])")
    for m in token.finditer(code, start, end):
        if m["number"]:
            yield ".".join(filter(None, around + [m["name"]])), *m.span("number")
        elif m["brace"] == "}":
            around = around[:-1]
        else:
            around.append(m["index"] or (m["name"] if m.group().startswith(".") else ""))


def thresholds_of(path):
    text = path.read_text()
    code = blank(text)
    declared = re.compile(r"^(?:static const\b[^=()]*?=|enum\s*\{)", re.M)
    found = []
    for m in declared.finditer(code):
        whole = code[m.start():].startswith("enum")
        end = code.index(";", m.end())
        for name, first, last in entries(code, m.start(), end + 1):
            found.append(Threshold(path, name, first, last, code[first:last], whole))
    for m in re.finditer(rf"^#define (\w+) ({NUMBER})$", code, re.M):
        found.append(Threshold(path, m[1], m.start(2), m.end(2), m[2], "." not in m[2]))
    return [t for t in found if float(t.value) != 0]


def read_table(name):
    for line in (HERE / name).read_text().splitlines():
        if line.strip() and not line.startswith("#"):
            yield line.split(None, 1)


def collect():
    apart, used, found = dict(read_table("apart.txt")), set(), []
    subjects = [(glob, suites.split()) for glob, suites in read_table("subjects.txt")]
    for path in sorted(pathlib.Path("src").rglob("*.[ch]")):
        suites = next((s for glob, s in subjects if fnmatch.fnmatch(path.with_suffix("").as_posix(), "src/" + glob)), None)
        for t in thresholds_of(path) if suites else []:
            pattern = next((p for p in apart if fnmatch.fnmatch(t.key(), p)), None)
            if pattern:
                used.add(pattern)
            else:
                t.suites = suites
                found.append(t)
    for pattern in apart.keys() - used:
        sys.exit(f"apart.txt: {pattern} is no constant any more")
    return found


class Workshop:
    """Compiles and links in a folder of its own."""

    def __init__(self, build):
        self.build = build
        self.room = build / "thresholds"
        self.compile = [w for w in shlex.split(os.environ["COMPILE"]) if w not in ("-MMD", "-MP")]
        self.link = shlex.split(os.environ["LINK"])
        shutil.rmtree(self.room, ignore_errors=True)
        self.room.mkdir()
        self.runners = {}
        self.members = {member for library in self.link if library.endswith(".a")
                        for member in self.run(["ar", "t", library]).stdout.split()}

    def run(self, command):
        return subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    def object_of(self, source, out, first=()):
        at = self.compile.index("-Isrc")
        got = self.run([*self.compile[:at], *first, *self.compile[at:], "-I.", "-Iindex-build", "-Itests/unit", "-O0", "-w",
                        "-g0", "-c", str(source), "-o", str(out)])
        return got.returncode == 0 or sys.exit(f"{source}:\n{got.stdout}")

    def runner(self, suites):
        """run.c with a list of these suites alone."""
        key = "-".join(suites)
        if key not in self.runners:
            room = self.room / key
            (room / "tests/unit").mkdir(parents=True)
            listed = "".join(f"SUITE({s})\n" for s in suites)
            (room / "tests/unit/suites.inc").write_text(listed)
            self.object_of("tests/unit/run.c", room / "run.o", [f"-I{room}"])
            self.runners[key] = room / "run.o"
        return self.runners[key]

    def others(self, suites):
        """Of the tests: these suites, and what several share."""
        unit = self.build / "tests/unit"
        shared = [o for o in sorted(unit.glob("*.o"))
                  if not o.name.startswith("test_") and o.name != "run.o"]
        return [unit / f"test_{s}.o" for s in suites] + shared

    def users(self, header):
        """Sources in the libraries and the tests that include a header, by the compiler's lists."""
        for listed in self.build.rglob("*.d"):
            words = listed.read_text().split()
            if "thresholds" not in listed.parts and str(header) in words:
                source = next(w for w in words if w.endswith(".c"))
                if source.startswith("tests/unit/test_") or listed.stem + ".o" in self.members:
                    yield pathlib.Path(source)

    def fails(self, suites, threshold=None, factor=1):
        """Whether the suites fail with a threshold changed: '' or what was said."""
        room = self.room / (f"{threshold.key()}-{factor}" if threshold else "none-" + suites[0])
        room.mkdir(exist_ok=True)
        objects = {o.stem: o for o in self.others(suites)}
        for source in self.changed(room, threshold, factor) if threshold else []:
            out = room / (source.stem + ".o")
            if source.stem.startswith("test_") and source.stem not in objects:
                continue
            place = room / source if (room / source).exists() else source
            self.object_of(place, out, [f"-I{room / 'src'}"])
            objects[source.stem] = out
        program = room / "run"
        words = [str(program) if w == "OUT" else w for w in self.link]
        at = words.index("OBJECTS")
        words[at:at + 1] = [str(self.runner(suites)), *map(str, objects.values())]
        got = self.run(words)
        if got.returncode:
            sys.exit(got.stdout)
        said = self.test(program, suites)
        shutil.rmtree(room)
        return said

    def changed(self, room, threshold, factor):
        """Writes the changed file; the sources to compile again."""
        text = threshold.path.read_text()
        number = threshold.scaled(factor)
        copy = room / threshold.path
        copy.parent.mkdir(parents=True)
        copy.write_text(text[:threshold.start] + number + text[threshold.end:])
        if threshold.path.suffix == ".c":
            return [threshold.path]
        return self.users(threshold.path)

    def test(self, program, suites):
        got = subprocess.run([program, *suites], stdout=subprocess.PIPE, text=True,
                             stderr=subprocess.STDOUT, errors="replace",
                             preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (PATIENCE_S, PATIENCE_S)),
                             env={**os.environ, "CK_FORK": "no"})
        if got.returncode == 0:
            return ""
        if got.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
            return "does not end"
        failed = re.search(r":[FE]:[^:\n]*:(\w+):", got.stdout)
        return failed[1] if failed else f"ended with {got.returncode}"


def main():
    build, wanted = pathlib.Path(sys.argv[1]), sys.argv[2:]
    found = [t for t in collect() if not wanted or any(w in t.key() for w in wanted)]
    shop = Workshop(build)
    for suites in {tuple(t.suites): t.suites for t in found}.values():
        said = shop.fails(suites)
        if said:
            sys.exit(f"{said} fails with no threshold changed")
    with concurrent.futures.ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
        up = [pool.submit(shop.fails, t.suites, t, 1.2) for t in found]
        down = [pool.submit(shop.fails, t.suites, t, 0.8) for t in found]
        noticed = 0
        for t, more, less in zip(found, up, down):
            good = bool(more.result() and less.result())
            noticed += good
            by = more.result() if good else (
                f"1.2 times: {more.result() or 'nothing fails'}; "
                f"0.8 times: {less.result() or 'nothing fails'}")
            print(f"{'' if good else 'NOT':4}{t.key():38} {t.value:>8}  {by}", flush=True)
    share = noticed / max(1, len(found))
    print(f"{noticed} of {len(found)} thresholds are noticed when they move by a fifth either way: "
          f"{100 * share:.1f} %, goal {100 * GOAL:.0f} %")
    if not wanted:
        shutil.rmtree(shop.room)
    return share < GOAL


if __name__ == "__main__":
    sys.exit(main())
