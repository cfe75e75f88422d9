#!/usr/bin/env bash
# Measures every number that the project promises and prints them as one table: goal, measured, met
# or not. About an hour on two processors.
# usage: tests/bench/run.sh BUILD_DIR [quick]
#   quick             a sample of everything, some minutes
#   ATTEMPTS=50000    in the environment: attempts on lists without an answer (default 10000, which
#                     take about 20 minutes)
set -uo pipefail
cd "$(dirname "$0")/../.." || exit 1
build=$1 quick=${2:-}
bench=$build/tests/bench
numbers=$build/bench-numbers.tsv
failed=0
rm -f "$numbers"

# Each program says what it found; what fails with a message stays without a number below.
run() {
    echo "== $*"
    "$@" || { [ $? -eq 1 ] || failed=1; }
    echo
}

index=(--index "$build/hipparcos.alidx" --numbers "$numbers")
attempts=${ATTEMPTS:-10000}
[ "$quick" ] && attempts=1500
run "$bench/lists" "${index[@]}" --failed ${quick:+--quick}
run "$bench/frames" "${index[@]}" ${quick:+--quick}
run "$bench/difficult" "${index[@]}" ${quick:+--quick}
run "$bench/bench_health" "${index[@]}"
run bash tests/bench/photos.sh "$build" "$numbers"
run bash tests/bench/speed.sh "$build" "$numbers" $quick
run bash tests/bench/night_speed.sh "$build" "$numbers" $quick
run "$bench/false_answers" "${index[@]}" --attempts "$attempts"

# what | goal | number | how it is written. A goal begins with < or >, both including the number
# itself. What must be "still solved" has the goal of undisturbed lists.
awk -F '\t' '
    FNR == NR { value[$1] = $2; next }
    function line(a, b, c, d) { printf "%-48s %12s %12s  %s\n", a, b, c, d }
    function trim(s) { gsub(/^ +| +$/, "", s); return s }
    /^[^#]/ {
        split($0, cell, "|")
        what = trim(cell[1]); goal = trim(cell[2]); form = trim(cell[4])
        key = trim(cell[3])
        known = (key in value) && value[key] !~ /nan/
        limit = substr(goal, 2) + 0; more = substr(goal, 1, 1) == ">"
        if (!known) {
            measured = verdict = "not measured"
        } else {
            measured = sprintf(form, value[key])
            short = more ? limit - value[key] : value[key] - limit
            verdict = short <= 0 ? "met" : "short by " sprintf(form, short)
        }
        line(what, (more ? ">= " : "<= ") sprintf(form, limit), measured, verdict)
    }
    BEGIN { line("", "goal", "measured", "") }
' "$numbers" - <<'TABLE'
blind, 4-40 deg, modelled lists               | >99.8  | lists.blind.right_percent | %.2f %%
blind, 4-40 deg, rendered exposures           | >99.8  | frames.blind.right_percent | %.2f %%
2.5-4 deg, focal length to 10 %, lists        | >97.5  | lists.narrow-hint.right_percent | %.2f %%
2.5-4 deg, focal length to 10 %, rendered     | >97.5  | frames.narrow.right_percent | %.2f %%
real photographs not solved                   | <0     | photos.missed | %d
the same without EXIF                         | <0     | photos.missed_bare | %d
photographs of something else answered        | <0     | photos.false | %d
lists without an answer: attempts             | >50000 | false.attempts | %d
... answered                                  | <0     | false.accepted | %d
... stated chance below 0.01, over expected   | <1     | false.below_1e-2_over_expected | %.2f
... stated chance below 0.0001, over expected | <1     | false.below_1e-4_over_expected | %.2f
lists with an answer: wrong ones              | <0     | lists.wrong | %d
rendered frames: wrong answers                | <0     | frames.wrong | %d
difficult frames: wrong answers               | <0     | difficult.wrong | %d
... trails of 10 to 40 px                     | >95    | difficult.streaks.right_percent | %.1f %%
... satellites and aeroplanes                 | >95    | difficult.traffic.right_percent | %.1f %%
... moonlight                                 | >95    | difficult.moon.right_percent | %.1f %%
... strong gradients, amplifier glow          | >95    | difficult.gradient.right_percent | %.1f %%
... thin cloud                                | >95    | difficult.thin-cloud.right_percent | %.1f %%
... broken cloud                              | >95    | difficult.broken-cloud.right_percent | %.1f %%
... trees and a roof over up to half          | >95    | difficult.trees.right_percent | %.1f %%
... power lines                               | >95    | difficult.wires.right_percent | %.1f %%
... dew                                       | >95    | difficult.dew.right_percent | %.1f %%
... out of focus                              | >95    | difficult.defocus.right_percent | %.1f %%
... knocked in mid-exposure                   | >95    | difficult.knock.right_percent | %.1f %%
... shaken by wind                            | >95    | difficult.wind.right_percent | %.1f %%
... hot and dead columns                      | >95    | difficult.columns.right_percent | %.1f %%
... hot pixels, up to 0.3 %                   | >95    | difficult.hot.right_percent | %.1f %%
... JPEG of quality 10 to 40                  | >95    | difficult.jpeg.right_percent | %.1f %%
... sharpened                                 | >95    | difficult.sharpened.right_percent | %.1f %%
... noise reduced                             | >95    | difficult.smoothed.right_percent | %.1f %%
... stack with stars reduced                  | >95    | difficult.star-reduced.right_percent | %.1f %%
... background clipped to black               | >95    | difficult.clipped.right_percent | %.1f %%
... border and lettering                      | >95    | difficult.lettered.right_percent | %.1f %%
... piece of a wide stack, turned             | >95    | difficult.piece.right_percent | %.1f %%
... its answer where it is worst, 90 % below  | <2     | difficult.piece_off_90_px | %.2f px
places of trails: bias over their width       | <0.1   | difficult.streak_bias | %.3f
... error over what photons allow             | <1.5   | difficult.streak_error_over_allowed | %.2f
good frames called otherwise                  | <0     | health.false_verdicts | %d
... widths of stars, median error, share      | <0.05  | health.width_median | %.3f
... trails, error at 95 %                     | <0.5   | health.trail_95 | %.2f px
... zero point, stated errors, median         | <1     | health.zero_in_errors_median | %.2f
still solved with 60 % spurious               | >99.8  | lists.spurious.right_percent | %.2f %%
... 40 % of catalogue stars missing           | >99.8  | lists.missing.right_percent | %.2f %%
... both                                      | >99.8  | lists.both.right_percent | %.2f %%
... 6 % distortion at the corner              | >99.8  | lists.distortion.right_percent | %.2f %%
... 12 px trails                              | >99.8  | lists.trails.right_percent | %.2f %%
... mirrored                                  | >99.8  | lists.mirrored.right_percent | %.2f %%
... any rotation (the worst 45 deg)           | >99.8  | lists.blind.worst_rotation_percent | %.2f %%
... crop, axis 25 % of half the width off     | >99.8  | lists.crop-25.right_percent | %.2f %%
... crop, axis 50 % off                       | >99.8  | lists.crop-50.right_percent | %.2f %%
... crop, axis 75 % off                       | >99.8  | lists.crop-75.right_percent | %.2f %%
... 60 deg wide                               | >99.8  | lists.wide-60.right_percent | %.2f %%
... 75 deg wide                               | >99.8  | lists.wide-75.right_percent | %.2f %%
... 90 deg wide                               | >99.8  | lists.wide-90.right_percent | %.2f %%
... 16 to 40 stars in all                     | >99.8  | lists.few.right_percent | %.2f %%
... 8 to 16 stars in all                      | >90    | lists.fewer.right_percent | %.2f %%
match, no hint, both hands: median            | <1     | lists.blind.match_median_ms | %.2f ms
... 99th percentile                           | <60    | lists.blind.match_99_ms | %.1f ms
... the frame before known: median             | <0.2   | lists.previous.match_median_ms | %.2f ms
... giving up, 99th percentile                | <500   | false.give_up_99_ms | %.0f ms
... share of read + detect, 24 MP FITS        | <1     | speed.fits.match_percent | %.3f %%
whole solve, 24 MP, over reading and SEP: JPEG| <1.15  | speed.jpg.solve_over_detect | %.3f
... 16-bit PNG                                | <1.15  | speed.png.solve_over_detect | %.3f
... FITS                                      | <1.15  | speed.fits.solve_over_detect | %.3f
... camera raw, over LibRaw alone and SEP     | <1.15  | speed.dng.solve_over_detect | %.3f
memory of it: 4 bytes a pixel and 64 MiB      | <155.5 | speed.solve_raw.most_mb | %.1f MB
... of 100 MP, blind: 4 bytes a pixel, 64 MiB | <444   | speed.mosaic.most_mb | %.0f MB
residual over what light and catalogue allow  | <1.2   | frames.blind.residual_over_allowed | %.3f
drawing all layers, over reading and writing  | <2     | drawing.ratio | %.2f
bundled index: built (best of 3)              | <3     | speed.build_best_s | %.2f s
... the same, its processor time over two     | <3     | speed.build_half_cpu_s | %.2f s
... size                                      | <70    | speed.index_mb | %.1f MB
... opened, the first time                    | <1     | speed.open_first_ms | %.3f ms
review of 2,000 frames of 900 x 600: a second | >20    | speed.night_per_s | %.1f
... gained by a second thread                 | >1.8   | speed.night_gain | %.2f
... its memory over that of a tenth           | <1.2   | speed.night_growth | %.2f
memory of a solve beyond the image            | <50    | speed.fits.beyond_image_mb | %.1f MB
25 M stars over 2.5 M, time a star            | <1.3   | speed.growth_cpu_s | %.2f
memory to build from 2.5 M                    | <1000  | speed.build_2_5m.most_mb | %.0f MB
... from 25 M                                 | <1000  | speed.build_25m.most_mb | %.0f MB
TABLE
exit $failed
