#!/usr/bin/env bash
# The copyright file of the Debian package, from LICENSE and the licences of the tables.
set -eu
cd "$(dirname "$0")/../.."
indent() { # a file as text of a field
    sed -e 's/[[:space:]]*$//' -e 's/^$/./' -e 's/^/ /' "$1"
}
cat <<'HEAD'
Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/
Upstream-Name: Alidade
Comment: The program alidade-index links chealpix, so that the package's copy of
 it is under the GPL, version 3, as a whole.

Files: *
Copyright: 2026 the Alidade developers
License: Alidade

Files: catalogs/*
Copyright: 2015 Olaf Frohn
License: Tables

Files: catalogs/bodies.tsv
Copyright: the Lensfun developers
License: Bodies

Files: catalogs/ngc.tsv catalogs/outlines.tsv
Copyright: Mattia Verga
License: Outlines

License: Alidade
HEAD
indent LICENSE
cat <<'GPL'
 .
 On Debian systems the GNU General Public License, version 3, is in
 /usr/share/common-licenses/GPL-3.

License: Tables
GPL
indent catalogs/LICENSE.d3-celestial
printf '\nLicense: Bodies\n'
indent catalogs/LICENSE.lensfun
printf '\nLicense: Outlines\n'
indent catalogs/LICENSE.openngc
