#!/usr/bin/env bash
# The program in DEVELOPERS.md, "Using the library", compiles as it is told there, and says of a frame
# in memory what the command line says of the file.
set -u
cd "$(dirname "$0")/../.." || exit 1
: "${BUILD:?the folder of the build}"
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

section=$(sed -n '/^## Using the library/,/^## A frame/p' DEVELOPERS.md)
sed -n '/^```c$/,/^```$/p' <<<"$section" | grep -v '^```' >"$folder/example.c"
lines=$(wc -l <"$folder/example.c")
[ "$lines" -ge 30 ] && [ "$lines" -le 60 ] || { echo "the example has $lines lines"; exit 1; }
how=$(sed -n '/^cc -std/,/-o example$/p' <<<"$section")
how=${how//example.c/$folder/example.c}
how=${how//-o example/-Wall -Wextra -Werror -o $folder/example}
how=${how//build\//$BUILD/}
bash -c "$how" || { echo "the example does not compile"; exit 1; }

"$BUILD/demo/render" --ra 84 --dec -3 --up 20 --focal 150 --pixel 13.3 --size 1500x1000 \
    --exposure 1 --out "$folder/frame.jpg" >/dev/null || exit 1
"$BUILD/alidade" aim --json "$folder/frame.jpg" --target "M 42" >"$folder/answer" || exit 1
wanted=$(/usr/bin/python3 - "$folder/answer" <<'PY'
import json, sys
centre = json.loads(open(sys.argv[1]).readline())["centre"]
print(f"RA {centre['ra_deg']:.4f}, Dec {centre['dec_deg']:.4f}; to M 42 (Orion Nebula): ")
PY
)
"$folder/example" "$BUILD/hipparcos.alidx" catalogs "$folder/frame.jpg" "M 42" >"$folder/said"
code=$?
said=$(cat "$folder/said")
[ $code -eq 0 ] && [[ $said = "$wanted"* ]] ||
    { printf 'expected %s...\nit said   %s\n' "$wanted" "$said"; exit 1; }
"$folder/example" "$BUILD/hipparcos.alidx" catalogs "$folder/none.jpg" "M 42" 2>/dev/null && exit 1
"$folder/example" "$BUILD/hipparcos.alidx" catalogs DEVELOPERS.md "M 42" 2>"$folder/err"
[ $? -eq 3 ] && grep -q 'not a picture format' "$folder/err" || { cat "$folder/err"; exit 1; }
echo "$lines lines: $said"
