#!/usr/bin/env python3
"""Writes the bill of materials: what the built programs and tables are made of, as an SPDX 2.3
document in JSON (ISO/IEC 5962 describes the standard's line; field names from memory).

usage: .ci/bill.py BUILD_DIR VERSION RELEASED >alidade.spdx.json

Libraries are those that the programs load (readelf), with their Debian packages and versions where
dpkg knows them, and their licences as LICENSE lists them. Files carry SHA-1 and SHA-256 sums.
"""
import datetime
import hashlib
import json
import pathlib
import re
import subprocess
import sys
import urllib.parse
import uuid

# The library that a shared object belongs to, and its licence in SPDX's words; LICENSE has the same.
LIBRARIES = {
    "libcfitsio": ("CFITSIO", "CFITSIO"),
    "libwcs": ("WCSLIB", "LGPL-3.0-or-later"),
    "liberfa": ("ERFA", "BSD-3-Clause"),
    "libpng16": ("libpng", "libpng-2.0"),
    "libjpeg": ("libjpeg-turbo", "IJG AND BSD-3-Clause AND Zlib"),
    "libtiff": ("libtiff", "libtiff"),
    "libraw_r": ("LibRaw", "LGPL-2.1-only OR CDDL-1.0"),
    "libexif": ("libexif", "LGPL-2.1-or-later"),
    "libinih": ("inih", "BSD-3-Clause"),
    "libjson-c": ("json-c", "MIT"),
    "libcairo": ("cairo", "LGPL-2.1-only OR MPL-1.1"),
    "libpango-1.0": ("Pango", "LGPL-2.0-or-later"),
    "libpangocairo-1.0": ("PangoCairo", "LGPL-2.0-or-later"),
    "libgobject-2.0": ("GObject", "LGPL-2.1-or-later"),
    "libglib-2.0": ("GLib", "LGPL-2.1-or-later"),
    "libharfbuzz": ("HarfBuzz", "MIT"),
    "libmicrohttpd": ("libmicrohttpd", "LGPL-2.1-or-later"),
    "libqrencode": ("libqrencode", "LGPL-2.1-or-later"),
    "libseccomp": ("libseccomp", "LGPL-2.1-only"),
    "libz": ("zlib", "Zlib"),
    "libexpat": ("Expat", "MIT"),
    "libchealpix": ("chealpix", "GPL-2.0-or-later"),
    "libc": ("GNU C Library", "LGPL-2.1-or-later"),
    "libm": ("GNU C Library, mathematics", "LGPL-2.1-or-later"),
    "libstdc++": ("GNU Standard C++ Library", "GPL-3.0-or-later WITH GCC-exception-3.1"),
    "libgcc_s": ("GCC support library", "GPL-3.0-or-later WITH GCC-exception-3.1"),
}
# Compiled in from headers alone, so that no program loads it.
HEADERS = [("libkdtree++", "libkdtree++-dev", "Artistic-2.0")]
# Licences of the tables; all others are made from the first.
TABLES = {"bodies.tsv": "CC-BY-SA-3.0", "ngc.tsv": "CC-BY-SA-4.0", "outlines.tsv": "CC-BY-SA-4.0",
          "names-abroad.tsv": "MIT"}
OTHER_TABLES = "BSD-3-Clause"
# Licences that are not on the standard's list carry their own mark.
OWN_LICENCES = {"CFITSIO": "Permission notice of the U.S. Government (NASA); the copyright notice is to be kept."}


def lines_of(*command):
    return subprocess.run(command, capture_output=True, text=True, check=False).stdout.splitlines()


def loaded_by(program):
    found = (re.search(r"\(NEEDED\).*\[(.+)\]", line) for line in lines_of("readelf", "-dW", program))
    return [match[1] for match in found if match]


def version_of(package):
    stated = lines_of("dpkg-query", "-W", "-f", "${Version}", package)
    return stated[0] if stated else None


def packages_of(shared_objects):
    """The Debian package that brings each, asked for all at once: a search takes seconds."""
    brought_by = {}
    for line in lines_of("dpkg-query", "-S", *("*/" + name for name in sorted(shared_objects))):
        package, _, path = line.partition(": ")
        brought_by[path.rpartition("/")[2]] = package.split(":")[0]
    return brought_by


def marked(licence):
    return "LicenseRef-" + licence if licence in OWN_LICENCES else licence


def identifier(name):
    return "SPDXRef-" + re.sub(r"[^A-Za-z0-9.-]", "-", name)


def library(name, licence, package):
    entry = {"SPDXID": identifier("library-" + name), "name": name, "downloadLocation": "NOASSERTION",
             "filesAnalyzed": False, "licenseConcluded": marked(licence),
             "licenseDeclared": marked(licence), "copyrightText": "NOASSERTION"}
    version = version_of(package) if package else None
    if version:
        entry["versionInfo"] = version
        entry["externalRefs"] = [{"referenceCategory": "PACKAGE-MANAGER", "referenceType": "purl",
                                  "referenceLocator": f"pkg:deb/debian/{urllib.parse.quote(package)}@{urllib.parse.quote(version)}"}]
    return entry


def file_entry(path, name, licence):
    content = path.read_bytes()
    return {"SPDXID": identifier("file-" + name), "fileName": "./" + name,
            "checksums": [{"algorithm": "SHA1", "checksumValue": hashlib.sha1(content).hexdigest()},
                          {"algorithm": "SHA256", "checksumValue": hashlib.sha256(content).hexdigest()}],
            "licenseConcluded": licence, "licenseInfoInFiles": ["NOASSERTION"],
            "copyrightText": "NOASSERTION"}


def files_of(build):
    files = [file_entry(build / name, name, "MIT") for name in ("alidade", "alidade-index")]
    files.append(file_entry(build / "hipparcos.alidx", "hipparcos.alidx", OTHER_TABLES))
    for table in sorted(pathlib.Path("catalogs").glob("*.tsv")):
        files.append(file_entry(table, "catalogs/" + table.name, TABLES.get(table.name, OTHER_TABLES)))
    return files


def main():
    if len(sys.argv) != 4:
        sys.exit("usage: .ci/bill.py BUILD_DIR VERSION RELEASED")
    build, version = pathlib.Path(sys.argv[1]), sys.argv[2]
    released = datetime.datetime.strptime(sys.argv[3], "%B %d, %Y")
    relations = [("SPDXRef-DOCUMENT", "DESCRIBES", "SPDXRef-alidade")]
    packages = {}
    loaded = {program: loaded_by(build / program) for program in ("alidade", "alidade-index")}
    brought_by = packages_of(set().union(*loaded.values()))
    for program, shared_objects in loaded.items():
        for shared_object in shared_objects:
            stem = re.sub(r"\.so.*$", "", shared_object)
            if stem not in LIBRARIES:
                sys.exit(f"{build / program} loads {shared_object}, which LIBRARIES in {sys.argv[0]} does not know")
            name, licence = LIBRARIES[stem]
            packages.setdefault(name, library(name, licence, brought_by.get(shared_object)))
            relations.append((identifier("file-" + program), "DYNAMIC_LINK", packages[name]["SPDXID"]))
    for name, package, licence in HEADERS:
        packages[name] = library(name, licence, package)
        for program in ("alidade", "alidade-index"):
            relations.append((identifier("file-" + program), "STATIC_LINK", packages[name]["SPDXID"]))
    files = files_of(build)
    relations += [("SPDXRef-alidade", "CONTAINS", entry["SPDXID"]) for entry in files]
    own = {"SPDXID": "SPDXRef-alidade", "name": "alidade", "versionInfo": version,
           "downloadLocation": "NOASSERTION", "filesAnalyzed": False, "licenseConcluded": "MIT",
           "licenseDeclared": "MIT", "copyrightText": "Copyright (c) 2026 the Alidade developers"}
    # The same build has the same name of its document.
    sums = "".join(entry["checksums"][1]["checksumValue"] for entry in files)
    document = {
        "spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT",
        "name": f"alidade-{version}",
        "documentNamespace": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_OID, sums)}",
        "creationInfo": {"created": released.strftime("%Y-%m-%dT00:00:00Z"),
                         "creators": ["Organization: the Alidade developers", f"Tool: bill.py-{version}"]},
        "packages": [own] + sorted(packages.values(), key=lambda entry: entry["name"].lower()),
        "files": files,
        "hasExtractedLicensingInfos": [{"licenseId": "LicenseRef-" + name, "name": name, "extractedText": text}
                                       for name, text in OWN_LICENCES.items()],
        "relationships": [{"spdxElementId": one, "relationshipType": kind, "relatedSpdxElement": other}
                          for one, kind, other in relations],
    }
    json.dump(document, sys.stdout, indent=1, ensure_ascii=False)
    print()


if __name__ == "__main__":
    main()
