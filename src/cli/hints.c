#include "cli/hints.h"

#include "base/text.h"

static const double usual_tolerance = 0.1, usual_within_deg = 10;

bool hints_read_direction(void *member, const char *text)
{
    struct direction *direction = member;
    direction->given = text_read_radec(&direction->ra_deg, &direction->dec_deg, text);
    return direction->given;
}

int hints_check(const struct hint_settings *hints, struct error *err)
{
    if (hints->scale_arcsec > 0 && (hints->focal_mm > 0 || hints->pixel_um > 0)) {
        return error_set(err, ERROR_USAGE,
                         "--scale already says what --focal and --pixel would: give one or the "
                         "other");
    }
    if (hints->within_deg > 0 && !hints->near.given) {
        return error_set(err, ERROR_USAGE, "--within needs --near");
    }
    return 0;
}

/* EXIF rounds a focal length, and zooms move. */
static bool is_lens_of(const struct rig_lens *lens, double focal_mm)
{
    const double rounding = 0.12;
    return focal_mm > lens->shortest_mm * (1 - rounding) &&
           focal_mm < lens->longest_mm * (1 + rounding);
}

static void apply_rig(struct frame_facts *facts, const struct frame *frame, const struct rig *rig)
{
    const struct rig_lens *lens = rig->lens;
    bool fixed = lens && lens->shortest_mm >= lens->longest_mm;
    bool told = facts->focal_mm.origin != FACT_UNKNOWN;
    if (fixed && (rig->lens_named || !told || is_lens_of(lens, facts->focal_mm.value))) {
        facts->focal_mm = (struct fact){lens->longest_mm, FACT_RIG, "settings file"};
    }
    double pixel_um;
    bool resized;
    if (rig->body &&
        rig_pixel_of_frame(&pixel_um, &resized, rig->body, frame->width, frame->height)) {
        facts->pixel_um = (struct fact){pixel_um, FACT_RIG, "settings file"};
    }
}

/* The scale that the user's focal length and pixel pitch, or the file's, imply. */
static void apply_optics(struct solve_options *options, struct hint_use *use,
                         const struct frame *frame, const struct hint_settings *hints,
                         const struct rig_in_use *rig_file)
{
    struct frame known = *frame; /* borrows the planes; only its facts are changed */
    bool user = hints->focal_mm > 0 || hints->pixel_um > 0;
    if (rig_file) {
        apply_rig(&known.facts, frame, &rig_file->rig);
    }
    if (hints->focal_mm > 0) {
        known.facts.focal_mm = (struct fact){hints->focal_mm, FACT_USER, "--focal"};
    }
    if (hints->pixel_um > 0) {
        known.facts.pixel_um = (struct fact){hints->pixel_um, FACT_USER, "--pixel"};
    }
    bool pair =
        known.facts.focal_mm.origin != FACT_UNKNOWN && known.facts.pixel_um.origin != FACT_UNKNOWN;
    double scale, tolerance;
    use->focal_unused = hints->focal_mm > 0 && !pair;
    if (frame_scale_hint(&known, &scale, &tolerance)) {
        bool by_user = user && pair;
        options->scale_arcsec = scale;
        options->scale_tolerance = by_user ? usual_tolerance : tolerance;
        use->scale_origin = by_user ? FACT_USER
                            : pair  ? known.facts.focal_mm.origin
                                    : known.facts.focal_35mm.origin;
    }
}

void hints_apply(struct solve_options *options, struct hint_use *use, const struct frame *frame,
                 const struct hint_settings *hints, const struct rig_in_use *rig_file)
{
    *use = (struct hint_use){FACT_UNKNOWN, false};
    *options = (struct solve_options){
        .near_given = hints->near.given,
        .near_ra_deg = hints->near.ra_deg,
        .near_dec_deg = hints->near.dec_deg,
        .within_deg = hints->within_deg > 0 ? hints->within_deg : usual_within_deg,
        .strict = hints->strict,
    };
    if (hints->scale_arcsec > 0) {
        options->scale_arcsec = hints->scale_arcsec;
        options->scale_tolerance = usual_tolerance;
        use->scale_origin = FACT_USER;
    } else {
        apply_optics(options, use, frame, hints, rig_file);
    }
    if (hints->tolerance_percent > 0) {
        options->scale_tolerance = hints->tolerance_percent / 100;
    }
}
