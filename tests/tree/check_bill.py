#!/usr/bin/env python3
"""The bill of materials holds together, as SPDX 2.3 asks (clauses from memory): fields that must be
there, each identifier once and only those that exist in relations, sums of the files as another
program finds them; and what it names, LICENSE names too."""
import json
import os
import re
import subprocess
import sys

sys.path.insert(0, "tests")
import strict_json  # noqa: E402

BUILD = os.environ.get("BUILD", "build")
MUST = {"packages": ("SPDXID", "name", "downloadLocation", "licenseConcluded"),
        "files": ("SPDXID", "fileName", "checksums")}


def main():
    made = subprocess.run([sys.executable, ".ci/bill.py", BUILD, "9.9.9", "November 29, 2026"],
                          capture_output=True, text=True)
    if made.returncode:
        sys.exit(made.stderr)
    bill = strict_json.strict(made.stdout)
    wrong = [f"no {key}" for key in ("dataLicense", "documentNamespace", "creationInfo") if key not in bill]
    if bill["spdxVersion"] != "SPDX-2.3" or bill["SPDXID"] != "SPDXRef-DOCUMENT":
        wrong.append("not a document of SPDX 2.3")
    known = {"SPDXRef-DOCUMENT"}
    for kind, keys in MUST.items():
        for entry in bill[kind]:
            wrong += [f"{entry['SPDXID']} without {key}" for key in keys if not entry.get(key)]
            if entry["SPDXID"] in known or not re.fullmatch(r"SPDXRef-[A-Za-z0-9.-]+", entry["SPDXID"]):
                wrong.append(f"{entry['SPDXID']} twice, or no identifier")
            known.add(entry["SPDXID"])
    for relation in bill["relationships"]:
        wrong += [f"nothing is called {relation[end]}" for end in ("spdxElementId", "relatedSpdxElement")
                  if relation[end] not in known]
    folded = " ".join(open("LICENSE").read().split()).lower()
    for package in bill["packages"][1:]:
        name = package["name"].lower()
        if name not in folded and not name.startswith(("gnu ", "gcc ", "gobject", "pangocairo")):
            wrong.append(f"LICENSE does not name {package['name']}")
    for entry in bill["files"]:
        folder = "." if entry["fileName"].startswith("./catalogs/") else BUILD
        stated = {sum_["algorithm"]: sum_["checksumValue"] for sum_ in entry["checksums"]}
        found = subprocess.run(["sha256sum", os.path.join(folder, entry["fileName"])], capture_output=True,
                               text=True, check=True).stdout.split()[0]
        if stated["SHA256"] != found:
            wrong.append(f"{entry['fileName']}: another sum")
    print("\n".join(wrong) if wrong else
          f"{len(bill['packages'])} packages, {len(bill['files'])} files, {len(bill['relationships'])} relations")
    sys.exit(bool(wrong))


main()
