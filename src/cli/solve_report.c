#include "cli/solve_report.h"

#include "base/text.h"
#include "base/utf8.h"
#include "image/facts_words.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

enum { MOST_NAMED = 4 };

/* What the picture is of; without the tables, only where it points. */
static int write_subject(FILE *out, const struct solved_frame *solved, const struct atlas *atlas,
                         struct error *err)
{
    const struct wcs *wcs = &solved->solution.wcs;
    struct field field = {0};
    char subject[400] = "solved";
    int code = atlas ? field_find(&field, wcs, &atlas->objects, err) : 0;
    if (!code && atlas) {
        field_keep_proven(&field, wcs, &solved->solution.trust);
        field_write_subject(subject, sizeof subject, &field, wcs, atlas, MOST_NAMED);
    }
    if (!code) {
        utf8_write_shown(out, solved->name);
        fputs(": ", out);
        if (trust_is_partial(&solved->solution.trust)) {
            fprintf(out,
                    "proven in %.0f %% of its sky only: ", 100 * solved->solution.trust.sky_share);
        }
        fprintf(out, "%s\n", subject);
    }
    field_free(&field);
    return code;
}

static void write_middle(FILE *out, const struct wcs *wcs, const struct atlas *atlas)
{
    char ra[24], dec[24], place[200] = "";
    double ra_deg, dec_deg;
    wcs_centre(wcs, &ra_deg, &dec_deg);
    text_write_ra(ra, sizeof ra, ra_deg);
    text_write_dec(dec, sizeof dec, dec_deg);
    if (atlas) {
        field_write_nearest(place, sizeof place, wcs, atlas);
    }
    fprintf(out, "  middle   %s %s%s%s\n", ra, dec, place[0] ? ", " : "", place);
}

static void write_geometry(FILE *out, const struct wcs *wcs)
{
    double width, height;
    char across[24], along[24], north[60];
    wcs_field(wcs, &width, &height);
    text_write_angle(across, sizeof across, width);
    text_write_angle(along, sizeof along, height);
    field_write_north(north, sizeof north, wcs);
    fprintf(out, "  wide     %s, %s high, %.4g\" per px\n", across, along, wcs_scale_arcsec(wcs));
    fprintf(out, "  north    %s%s\n", north, wcs_mirrored(wcs) ? "; a mirror image" : "");
    if (wcs->projection != PROJECTION_TAN) {
        fprintf(out, "  drawn    as %s %s, proven up to %.0f° from its %s\n",
                strchr("aeiou", projection_words(wcs->projection)[0]) ? "an" : "a",
                projection_words(wcs->projection), wcs->reach_deg,
                projection_is_cylinder(wcs->projection) ? "horizon" : "axis");
    }
}

static void write_sure(FILE *out, const struct solution *solution)
{
    fprintf(out, "  sure     %d of %d stars fit to %.2f px = %.2g\"; chance of error 1e%.0f\n",
            solution->matched, solution->detected, solution->rms_px, solution->rms_arcsec,
            solution->chance_log10);
}

static void write_arcs(FILE *out, const struct solution *solution)
{
    if (solution->trails_s > 0) {
        double minutes = floor(solution->trails_s / 60);
        fprintf(out,
                "  arcs     show an exposure of %.0f min %.0f s, give or take %.0f s; positions are "
                "those of its middle\n",
                minutes, solution->trails_s - 60 * minutes, ceil(solution->trails_error_s));
    }
}

/* Where nothing is named, and why. */
static void write_proven(FILE *out, const struct trust *trust)
{
    if (!trust_is_whole(trust)) {
        fprintf(out,
                "  proven   in %.0f %% of the picture; elsewhere stars do not show where they "
                "should\n",
                100 * trust->share);
    }
}

static void write_line(FILE *out, const char *label, const char *words)
{
    if (words[0]) {
        fprintf(out, "  %-8s %s\n", label, words);
    }
}

/* The verdict, what else is wrong, then the figures. */
static void write_health(FILE *out, const struct frame_health *health)
{
    char words[240];
    enum health_fault worst = health_worst(health);
    health_write_verdict(words, sizeof words, health);
    write_line(out, "health", words);
    for (int fault = (int)worst + 1; fault < HEALTH_FAULTS; fault++) {
        if (health->faults & 1U << fault) {
            health_write_fault(words, sizeof words, health, (enum health_fault)fault);
            write_line(out, "and", words);
        }
    }
    health_write_shape(words, sizeof words, health);
    write_line(out, "size", words);
    health_write_sky(words, sizeof words, health);
    write_line(out, "sky", words);
    health_write_depth(words, sizeof words, health);
    write_line(out, "depth", words);
}

static void write_unused_focal(FILE *out, const struct solved_frame *solved)
{
    if (solved->hints.focal_unused) {
        fprintf(out, "  hint     --focal ignored: the pixel pitch is unknown, give --pixel too\n");
    }
}

/* Everything the file says about the exposure, and where it says so. */
static void write_taken(FILE *out, const struct frame_facts *facts)
{
    char words[400];
    facts_write_time(words, sizeof words, facts);
    write_line(out, "taken", words);
    facts_write_camera(words, sizeof words, facts);
    write_line(out, "with", words);
    facts_write_place(words, sizeof words, facts);
    write_line(out, "at", words);
}

/* The sign and the word say which way; what is not along the line from the axis (refraction, tilt)
 * is in the pixels alone. */
static void write_lens(FILE *out, const struct solution *solution)
{
    const struct wcs *wcs = &solution->wcs;
    double share = wcs_corner_distortion(wcs);
    fprintf(out, "  lens     %s distortion", lens_profile_word(share, 2));
    if (wcs->order > 0) {
        fprintf(out, ", %+.2f %% at the corner, which moves by %.2f px (order %d)%s",
                text_rounded(100 * share, 2), wcs_corner_distortion_px(wcs), wcs->order,
                solution->by_lens ? ", as learned" : "");
    }
    fputc('\n', out);
}

static void write_exactness(FILE *out, const struct solution *solution)
{
    if (isfinite(solution->middle_error_px) && isfinite(solution->corner_error_px)) {
        fprintf(out, "  exact    the middle to %.2g px, the corners to %.2g px (one sigma)\n",
                solution->middle_error_px, solution->corner_error_px);
    }
}

static void write_hints(FILE *out, const struct solved_frame *solved)
{
    const struct solve_options *options = &solved->options;
    const struct hint_use *use = &solved->hints;
    if (options->scale_arcsec > 0) {
        fprintf(out, "  hint     scale %.4g\"/px within %.0f %%: %s\n", options->scale_arcsec,
                options->scale_tolerance * 100, use->scale_words);
    }
    if (options->near_given) {
        fprintf(out, "  hint     within %.4g° of RA %.4f°, Dec %+.4f°: %s\n", options->within_deg,
                options->near_ra_deg, options->near_dec_deg, use->near_words);
    }
    if (options->scale_arcsec <= 0 && !options->near_given) {
        fprintf(out, "  hint     none\n");
    }
}

void solve_report_details(FILE *out, const struct solved_frame *solved)
{
    const struct solution *solution = &solved->solution;
    const struct solve_times *times = &solved->times;
    write_taken(out, &solved->frame.facts);
    write_hints(out, solved);
    if (solution->solved) {
        write_unused_focal(out, solved);

        if (solution->wcs.projection == PROJECTION_TAN) {
            write_lens(out, solution);
        }
        write_exactness(out, solution);
    }
    fprintf(out, "  search   %ld hypothes%s, ", solution->hypotheses,
            solution->hypotheses == 1 ? "is" : "es");
    if (solution->solved) {
        fprintf(out, "found in stage %d\n", solution->stage);
    } else {
        fprintf(out, "none good enough\n");
    }
    fprintf(out,
            "  time     read %.0f ms, detect %.0f ms, match %.2f ms, fit %.2f ms, total %.0f ms\n",
            solved->read_ms, times->detect_ms, times->match_ms, times->fit_ms, solved->total_ms);
}

void solve_report_failure(FILE *out, const struct solved_frame *solved)
{
    const struct solve_options *options = &solved->options;
    utf8_write_shown(out, solved->name);
    fprintf(out, ": no solution: %s\n", solved->solution.why);
    write_unused_focal(out, solved);
    if (options->strict && (options->scale_arcsec > 0 || options->near_given)) {
        fprintf(out, "  hint     only what was known beforehand was tried (--strict)\n");
    }
}

int solve_report_text(FILE *out, const struct solved_frame *solved, const struct atlas *atlas,
                      bool verbose, struct error *err)
{
    int code = 0;
    if (solved->solution.solved) {
        code = write_subject(out, solved, atlas, err);
        write_middle(out, &solved->solution.wcs, atlas);
        write_geometry(out, &solved->solution.wcs);
        write_sure(out, &solved->solution);
        write_arcs(out, &solved->solution);
        write_proven(out, &solved->solution.trust);
    } else {
        solve_report_failure(out, solved);
    }
    if (solved->health.look.kind == KIND_LIGHT || solved->solution.solved) {
        write_health(out, &solved->health);
    }
    if (verbose) {
        solve_report_details(out, solved);
    }
    return code;
}
