"""The table of what was measured: goal, value, verdict; then what is worse than the last version.
usage: table.py GOALS NUMBERS KEPT REPORT [--long] [--measured]
       table.py GOALS NUMBERS KEPT --keep VERSION

GOALS    rows "what | goal | key | form | marks"; the key "-" stands for what no program measures yet.
         A goal begins with < or >, both including the number itself. Marks: "long" is measured only
         by `make bench-long`, "clock" depends on the processor.
NUMBERS  lines of a key, a tab and a value, as the programs note them; of several, the last counts
KEPT     the figures of the last version
REPORT   gets all of it as JSON

--measured shows measured rows only; --keep makes KEPT of NUMBERS. Worse is a cost of more than 1.1 times the kept one, or a yield below the kept one over 1.1; of a
share in per cent, what is missing to 100 is the cost. Exits with 1 if a goal is missed or a figure
worse, with 2 if a file cannot be read."""
import json
import math
import os
import sys
import zlib

SLACK = 1.1


def processor():
    """A number that stands for the kind and count of processors, as far as the system tells."""
    name = "unknown"
    try:
        with open("/proc/cpuinfo") as lines:
            name = next((l.split(":", 1)[1].strip() for l in lines if l.startswith("model name")), name)
    except OSError:
        pass
    return f"{zlib.crc32(f'{os.cpu_count()} x {name}'.encode()):08x}"


def read_goals(name):
    rows = []
    with open(name) as lines:
        for number, line in enumerate(lines, 1):
            if not line.strip() or line.startswith("#"):
                continue
            cells = [cell.strip() for cell in line.split("|")]
            if len(cells) not in (4, 5) or cells[1][:1] not in ("<", ">"):
                raise ValueError(f"{name}:{number}: expected what | goal | key | form, with < or > "
                                 "before the goal")
            rows.append({"what": cells[0], "more": cells[1][0] == ">", "goal": float(cells[1][1:]),
                         "key": cells[2], "form": cells[3], "marks": cells[4].split() if cells[4:] else []})
    return rows


def read_numbers(name):
    numbers = {}
    with open(name) as lines:
        for line in lines:
            key, tab, value = line.rstrip("\n").partition("\t")
            if tab and math.isfinite(float(value)):
                numbers[key] = float(value)
    return numbers


def is_worse(row, value, kept):
    if not row["more"]:
        return value > SLACK * kept
    if row["form"].endswith("%%"):
        return 100 - value > SLACK * (100 - kept)
    return value < kept / SLACK


def judge(row, numbers, kept, same_processor, long):
    """Adds value, verdict, kept and worse to a row."""
    value = numbers.get(row["key"])
    row["value"] = value
    row["kept"] = kept.get(row["key"])
    row["worse"] = False
    if row["key"] == "-":
        row["verdict"] = "not measured yet"
    elif "long" in row["marks"] and not long:
        row["verdict"] = "by bench-long"
        row["value"] = None
    elif value is None:
        row["verdict"] = "left out"
    else:
        met = value >= row["goal"] if row["more"] else value <= row["goal"]
        row["verdict"] = "met" if met else "missed"
        comparable = same_processor or "clock" not in row["marks"]
        row["worse"] = row["kept"] is not None and comparable and is_worse(row, value, row["kept"])


def written(row, value):
    return row["form"] % value if value is not None else "-"


def print_table(rows):
    """One line for each row."""
    line = "{:<47} {:>12} {:>12}  {}"
    print(line.format("", "goal", "value", "verdict"))
    for row in rows:
        goal = (">= " if row["more"] else "<= ") + written(row, row["goal"])
        print(line.format(row["what"], goal, written(row, row["value"]), row["verdict"]))


def print_end(rows, version, compared):
    count = {}
    for row in rows:
        count[row["verdict"]] = count.get(row["verdict"], 0) + 1
    print(", ".join(f"{n} {verdict}" for verdict, n in sorted(count.items())))
    if not compared:
        print(f"figures of version {version} are from another processor: times are not compared")
    worse = [row for row in rows if row["worse"]]
    for row in worse:
        print(f"worse than version {version}: {row['what'].lstrip('. ')}: {written(row, row['value'])}, "
              f"was {written(row, row['kept'])}")
    if not worse:
        print(f"nothing is worse than {SLACK} times version {version}")


def report(rows, long, version):
    keys = ("what", "key", "goal", "value", "verdict", "kept", "worse")
    return {"format": 1, "processor": processor(), "long": long, "kept_version": version,
            "rows": [{**{k: row[k] for k in keys}, "goal_is": "least" if row["more"] else "most"}
                     for row in rows]}


def main(arguments):
    long, measured = "--long" in arguments, "--measured" in arguments
    names = [a for a in arguments if a not in ("--long", "--measured")]
    rows, numbers = read_goals(names[0]), read_numbers(names[1])
    if names[3] == "--keep":
        wanted = {row["key"] for row in rows}
        kept = {"version": names[4], "processor": processor(),
                "figures": {k: v for k, v in sorted(numbers.items()) if k in wanted}}
        with open(names[2], "w") as out:
            json.dump(kept, out, indent=1)
            out.write("\n")
        return 0
    with open(names[2]) as stream:
        kept = json.load(stream)
    same = kept["processor"] == processor()
    for row in rows:
        judge(row, numbers, kept["figures"], same, long)
    print_table([row for row in rows if row["value"] is not None or not measured])
    print()
    print_end(rows, kept["version"], same)
    with open(names[3], "w") as out:
        json.dump(report(rows, long, kept["version"]), out, indent=1)
        out.write("\n")
    return int(any(row["verdict"] == "missed" or row["worse"] for row in rows))


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except (OSError, ValueError, KeyError) as fault:
        print(f"bench table: {fault}", file=sys.stderr)
        sys.exit(2)
