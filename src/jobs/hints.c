#include "jobs/hints.h"

#include "image/scale_hint.h"

#include <stdio.h>

static const double usual_tolerance = 0.1, usual_within_deg = 10;

/* EXIF rounds a focal length, and zooms move. */
static bool is_lens_of(const struct rig_lens *lens, double focal_mm)
{
    const double rounding = 0.12;
    return focal_mm > lens->shortest_mm * (1 - rounding) &&
           focal_mm < lens->longest_mm * (1 + rounding);
}

static void apply_lens(struct frame_facts *facts, const struct rig_lens *lens, bool named)
{
    bool fixed = lens->shortest_mm >= lens->longest_mm;
    bool told = facts->focal_mm.origin != FACT_UNKNOWN;
    if (fixed && (named || !told || is_lens_of(lens, facts->focal_mm.value))) {
        facts->focal_mm = (struct fact){lens->longest_mm, FACT_RIG, "settings file"};
    }
}

static void apply_body(struct frame_facts *facts, const struct rig_body *body, int width,
                       int height)
{
    double pixel_um;
    bool resized;
    if (rig_pixel_of_frame(&pixel_um, &resized, body, width, height)) {
        facts->pixel_um =
            (struct fact){pixel_um, FACT_RIG, resized ? "settings file, resized" : "settings file"};
    }
}

/* What was named for this run; else what goes by the names that the camera wrote; else the
 * defaults. */
static void apply_rig(struct frame_facts *facts, const struct rig_in_use *use, int width,
                      int height)
{
    const struct rig *rig = &use->rig;
    const struct rig_body *body = rig_in_use_body(use, facts);
    const struct rig_lens *lens = rig_in_use_lens(use, facts);
    if (lens) {
        apply_lens(facts, lens, rig->lens_named);
    }
    if (body) {
        apply_body(facts, body, width, height);
    }
}

/* What is known of the frame's optics: the user's word before the settings', the settings' before
 * the file's. */
static void apply_optics(struct solve_options *options, struct hint_use *use,
                         const struct frame *frame, const struct hint_settings *hints,
                         const struct rig_in_use *rig_file, const struct body_table *bodies)
{
    struct frame_facts known = frame->facts;
    struct scale_hint scale;
    if (rig_file) {
        apply_rig(&known, rig_file, frame->width, frame->height);
    }
    if (hints->focal_mm > 0) {
        known.focal_mm = (struct fact){hints->focal_mm, FACT_USER, "as given"};
    }
    if (hints->pixel_um > 0) {
        known.pixel_um = (struct fact){hints->pixel_um, FACT_USER, "as given"};
    }
    bool equivalent = known.focal_35mm.origin != FACT_UNKNOWN && known.focal_mm.origin == FACT_EXIF;
    if (bodies && !equivalent) {
        body_table_note_pitch(&known, bodies, frame->width, frame->height);
    }
    bool found = scale_hint_find(&scale, &known, frame->width, frame->height);
    use->focal_mm = known.focal_mm.origin != FACT_UNKNOWN ? known.focal_mm.value : 0;
    use->pixel_um = known.pixel_um.origin != FACT_UNKNOWN ? known.pixel_um.value : 0;
    bool pair = found && scale.pixel.origin != FACT_UNKNOWN;
    use->focal_unused = hints->focal_mm > 0 && !pair;
    if (found) {
        bool by_user = pair && (scale.focal.origin == FACT_USER || scale.pixel.origin == FACT_USER);
        options->scale_arcsec = scale.arcsec_px;
        options->scale_tolerance = by_user ? usual_tolerance : scale.tolerance;
        scale_hint_write(use->scale_words, sizeof use->scale_words, &scale);
    }
}

/* A position in the header is where somebody meant to point: good to try first, never a bound. */
static void apply_position(struct solve_options *options, struct hint_use *use,
                           const struct frame_facts *facts, const struct hint_settings *hints)
{
    options->within_deg = hints->within_deg > 0 ? hints->within_deg : usual_within_deg;
    if (hints->near.given) {
        options->near_given = true;
        options->near_ra_deg = hints->near.ra_deg;
        options->near_dec_deg = hints->near.dec_deg;
        use->near_words = "as given";
    } else if (!hints->strict && facts->ra_deg.origin != FACT_UNKNOWN &&
               facts->dec_deg.origin != FACT_UNKNOWN) {
        options->near_given = true;
        options->near_ra_deg = facts->ra_deg.value;
        options->near_dec_deg = facts->dec_deg.value;
        use->near_words = facts->ra_deg.source;
    }
}

void hints_apply(struct solve_options *options, struct hint_use *use, const struct frame *frame,
                 const struct hint_settings *hints, const struct rig_in_use *rig_file,
                 const struct body_table *bodies)
{
    *use = (struct hint_use){0};
    *options = (struct solve_options){.strict = hints->strict};
    apply_position(options, use, &frame->facts, hints);
    if (hints->scale_arcsec > 0) {
        options->scale_arcsec = hints->scale_arcsec;
        options->scale_tolerance = usual_tolerance;
        snprintf(use->scale_words, sizeof use->scale_words, "as given");
    } else {
        apply_optics(options, use, frame, hints, rig_file, bodies);
    }
    if (hints->tolerance_percent > 0) {
        options->scale_tolerance = hints->tolerance_percent / 100;
    }
}
