"""The table of `make bench` on made-up figures: verdicts, what counts as worse than the last version,
exit codes, and that the goals and kept figures of the tree can be read."""
import json
import os
import subprocess
import sys
import tempfile

BENCH = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "bench")
sys.dont_write_bytecode = True
GOALS = """# a comment
solved            | >99  | right   | %.1f %%
cost of it        | <10  | cost    | %.1f ms | clock
memory            | <10  | memory  | %.1f MB
rate              | >5   | rate    | %.1f
wrong             | <0   | wrong   | %d
attempts          | >100 | tries   | %d | long
of the next year  | <1   | -       | %d
"""
WELL = {"right": 99.5, "cost": 9, "memory": 9, "rate": 6, "wrong": 0, "tries": 20}
faults = 0


def expect(what, good):
    global faults
    if not good:
        print(f"not as expected: {what}")
        faults += 1


def run(folder, figures, kept=None, processor=None, goals=GOALS, options=()):
    """(exit code, output, {key: row of the report}) for these figures."""
    path = {name: os.path.join(folder, name) for name in ("goals", "numbers", "kept", "report")}
    with open(path["goals"], "w") as out:
        out.write(goals)
    with open(path["numbers"], "w") as out:
        out.write("cost\t1000\n")  # the last one counts
        out.writelines(f"{k}\t{v}\n" for k, v in figures.items())
    if kept is None:
        kept = {"version": "9", "processor": "none", "figures": {}}
        command = [path["kept"], "--keep", "9"]
        done = table(path, command)
        expect("keeping exits with 0", done.returncode == 0)
    else:
        with open(path["kept"], "w") as out:
            json.dump({"version": "9", "processor": processor, "figures": kept}, out)
    done = table(path, [path["kept"], path["report"], *options])
    rows = {}
    if done.returncode < 2:
        with open(path["report"]) as report:
            rows = {row["key"]: row for row in json.load(report)["rows"]}
    return done.returncode, done.stdout + done.stderr, rows


def table(path, rest):
    return subprocess.run([sys.executable, os.path.join(BENCH, "table.py"), path["goals"], path["numbers"],
                           *rest], capture_output=True, text=True)


def here(folder):
    with open(os.path.join(folder, "kept")) as kept:
        return json.load(kept)["processor"]


def check(folder):
    code, text, rows = run(folder, WELL)
    expect("all met, nothing worse: 0", code == 0 and "nothing is worse" in text)
    expect("a row that nothing measures says so", rows["-"]["verdict"] == "not measured yet")
    expect("a long row waits, whatever its number", rows["tries"]["verdict"] == "by bench-long")
    this = here(folder)

    code, _, rows = run(folder, WELL, options=["--long"])
    expect("with --long it counts: 1", code == 1 and rows["tries"]["verdict"] == "missed")
    code, _, rows = run(folder, {**WELL, "wrong": 1}, {}, this)
    expect("a missed goal: 1", code == 1 and rows["wrong"]["verdict"] == "missed")
    code, _, rows = run(folder, {**WELL, "right": 98.9}, {}, this)
    expect("a missed yield: 1", code == 1 and rows["right"]["verdict"] == "missed")
    code, _, rows = run(folder, {**WELL, "rate": "nan"}, {}, this)
    expect("no number: left out, 0", code == 0 and rows["rate"]["verdict"] == "left out")
    code, _, rows = run(folder, {**WELL, "wrong": 0, "rate": 5, "right": 99, "memory": 10}, {}, this)
    expect("goals include the number itself", code == 0)

    for key, kept, worse in (("memory", 8.1, True), ("memory", 8.3, False), ("rate", 6.7, True),
                             ("rate", 6.5, False), ("right", 99.6, True), ("right", 99.54, False),
                             ("cost", 8.1, True), ("wrong", 0, False)):
        code, text, rows = run(folder, WELL, {key: kept}, this)
        expect(f"{key} {WELL[key]} after {kept}: {'' if worse else 'not '}worse",
               rows[key]["worse"] == worse and code == int(worse))
        expect(f"{key}: the last line tells", ("worse than version 9" in text.splitlines()[-1]) == worse)
    code, text, rows = run(folder, WELL, {"cost": 8.1}, "another processor")
    expect("times of another processor are not compared", code == 0 and not rows["cost"]["worse"])
    code, text, _ = run(folder, WELL, {"memory": 8.1}, "another processor")
    expect("but memory is", code == 1)

    code, text, _ = run(folder, WELL, {}, this, goals="solved | 99 | right | %d\n")
    expect("a goal without < or >: 2, with its line", code == 2 and "goals:1" in text)


def check_tree():
    sys.path.insert(0, BENCH)
    import table as bench_table
    rows = bench_table.read_goals(os.path.join(BENCH, "goals.txt"))
    keys = [row["key"] for row in rows if row["key"] != "-"]
    expect("no figure has two goals", len(keys) == len(set(keys)))
    for row in rows:
        bench_table.written(row, row["goal"])
    with open(os.path.join(BENCH, "kept.json")) as stream:
        kept = json.load(stream)
    expect("kept figures have goals", set(kept["figures"]) <= set(keys))
    return len(rows), len(kept["figures"]), kept["version"]


with tempfile.TemporaryDirectory() as scratch:
    check(scratch)
rows_of_tree, kept_of_tree, version_kept = check_tree()
print(f"verdicts and comparisons as meant; {rows_of_tree} goals, {kept_of_tree} kept of version {version_kept}")
sys.exit(1 if faults else 0)
