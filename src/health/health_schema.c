#include "health/health.h"

#include <math.h>
#include <string.h>

#define MEMBER(name) .at = offsetof(struct frame_health, name)
/* A measured number, which may not be known. */
#define FIGURE(name, member, digits, of_unit, says)                                                \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, MEMBER(member), .decimals = digits, .unit = of_unit,   \
        .text = says, .nullable = true, .missing = (double)NAN                                     \
    }
/* Lines of before it was measured have none. */
#define ERROR_FIGURE(name, member, digits, of_unit, says)                                          \
    {                                                                                              \
        .key = name, .kind = SCHEMA_FLOAT, MEMBER(member), .when = SCHEMA_KNOWN,                   \
        .decimals = digits, .unit = of_unit, .text = says, .missing = (double)NAN                  \
    }
#define COUNT(name, member, says)                                                                  \
    {                                                                                              \
        .key = name, .kind = SCHEMA_INTEGER, MEMBER(member), .text = says, .high = 1e9             \
    }
#define TRUTH(name, member, says)                                                                  \
    {                                                                                              \
        .key = name, .kind = SCHEMA_BOOL, MEMBER(member), .text = says                             \
    }

static const char *fault_word(int fault)
{
    return health_fault_key((enum health_fault)fault);
}

/* The faults, "good" after them, and then that it cannot be said. */
static const char *verdict_word(int verdict)
{
    return verdict > HEALTH_FAULTS ? "unknown" : health_fault_key((enum health_fault)verdict);
}

static const char *kind_word(int kind)
{
    return frame_kind_key((enum frame_kind)kind);
}

static void put_verdict(struct json *json, const char *key, const void *structure)
{
    schema_put_text(json, key, health_verdict_key(structure));
}

static void put_words(struct json *json, const char *key, const void *structure)
{
    char words[240];
    health_write_verdict(words, sizeof words, structure);
    schema_put_text(json, key, words);
}

static bool is_double(const void *structure)
{
    const struct frame_health *health = structure;
    return health->double_px > 0;
}

static bool has_arcs(const void *structure)
{
    const struct frame_health *health = structure;
    return health->arcs_s > 0;
}

static void put_shown(struct json *json, const char *key, const void *structure)
{
    const struct frame_health *health = structure;
    schema_put_number(json, key, (double)health->arcs_s);
}

static void put_shown_error(struct json *json, const char *key, const void *structure)
{
    const struct frame_health *health = structure;
    schema_put_number(json, key, (double)health->arcs_error_s);
}

static bool is_clipped(const void *structure)
{
    const struct frame_health *health = structure;
    return health->look.clipped;
}

static const struct schema_row trail_rows[] = {
    FIGURE("length_px", trail_px, 2, "px", "how long the stars are beyond their width"),
    ERROR_FIGURE("length_px_error", trail_error_px, 3, "px", "standard error of length_px"),
    FIGURE("angle_deg", trail_angle_deg, 1, "deg",
           "its direction, from right (0) towards down; it has no sense"),
    FIGURE("drift_px", drift_px, 2, "px", "what the sky moves in the exposure for a fixed camera"),
    FIGURE("drift_angle_deg", drift_angle_deg, 1, "deg", "direction of that drift"),
    FIGURE("unexplained_px", motion_px, 2, "px", "length of the trail that drift does not explain"),
    FIGURE("unexplained_angle_deg", motion_angle_deg, 1, "deg", "direction of that motion"),
    {.key = "shown_s",
     .kind = SCHEMA_NUMBER,
     .put = put_shown,
     .when = SCHEMA_IF,
     .present = has_arcs,
     .decimals = 1,
     .unit = "s",
     .text = "stars are arcs, which show this exposure"},
    {.key = "shown_s_error",
     .kind = SCHEMA_NUMBER,
     .put = put_shown_error,
     .when = SCHEMA_IF,
     .present = has_arcs,
     .decimals = 1,
     .unit = "s",
     .text = "standard error of shown_s"},
    TRUTH("follows_sky", follows, "the camera follows the sky, or the picture is a stack"),
    FIGURE("limit_exposure_s", limit_exposure_s, 4, "s",
           "exposure in which the drift reaches the limit for trails"),
    {0},
};
static const struct schema trail_schema = {.row = trail_rows};

static const struct schema_row double_rows[] = {
    {.key = "distance_px",
     .kind = SCHEMA_NUMBER,
     MEMBER(double_px),
     .decimals = 2,
     .unit = "px",
     .text = "from the brighter image of a star to the fainter"},
    {.key = "angle_deg",
     .kind = SCHEMA_NUMBER,
     MEMBER(double_angle_deg),
     .decimals = 1,
     .unit = "deg",
     .text = "direction of that step, from right (0) towards down"},
    {.key = "share",
     .kind = SCHEMA_NUMBER,
     MEMBER(double_share),
     .decimals = 3,
     .text = "light of the fainter image over that of the brighter"},
    {0},
};
static const struct schema double_schema = {.row = double_rows};

static const struct schema_row sky_rows[] = {
    FIGURE("level", sky_level, 4, NULL, "median of the picture, over the black level if known"),
    FIGURE("full_share", sky_share, 5, NULL, "the same as a share of full scale, 0 to 1"),
    TRUTH("black_known", black_known, "the level without light is known and taken off"),
    {.key = "clipped",
     .kind = SCHEMA_BOOL,
     MEMBER(look.clipped),
     .when = SCHEMA_IF,
     .present = is_clipped,
     .text = "values below black are cut to it, so that light cannot be measured"},
    FIGURE("mag_arcsec2", sky_mag, 3, "mag/arcsec2", "brightness of the sky in V"),
    ERROR_FIGURE("mag_arcsec2_error", sky_mag_error, 3, "mag/arcsec2",
                 "standard error of mag_arcsec2, if the black level is exact"),
    {0},
};
static const struct schema sky_schema = {.row = sky_rows};

static const struct schema_row rows[] = {
    {.key = "verdict",
     .kind = SCHEMA_WORD,
     .count = HEALTH_FAULTS + 2,
     .word = verdict_word,
     .put = put_verdict,
     .text = "the worst fault; good if there is none; unknown if that cannot be said"},
    {.key = "says", .kind = SCHEMA_TEXT, .put = put_words, .text = "the same as a sentence"},
    {.key = "faults",
     .kind = SCHEMA_WORDS,
     MEMBER(faults),
     .count = HEALTH_FAULTS,
     .word = fault_word,
     .text = "all faults, the worst first"},
    {.key = "kind",
     .kind = SCHEMA_WORD,
     MEMBER(look.kind),
     .count = KIND_SCENE + 1,
     .word = kind_word,
     .text = "what sort of frame it is, by its levels and stars"},
    COUNT("stars_fitted", shapes, "single stars whose shape was measured"),
    FIGURE("fwhm_px", fwhm_px, 3, "px", "width of stars at half height, across the trail: median"),
    FIGURE("fwhm_arcsec", fwhm_arcsec, 3, "arcsec", "the same on the sky"),
    ERROR_FIGURE("fwhm_px_error", fwhm_error_px, 4, "px", "standard error of fwhm_px"),
    FIGURE("fwhm_middle_px", fwhm_middle_px, 3, "px", "the same in the middle of the picture"),
    {.key = "fwhm_corners_px",
     .kind = SCHEMA_NUMBERS,
     MEMBER(fwhm_corner_px),
     .count = 4,
     .decimals = 3,
     .unit = "px",
     .nullable = true,
     .missing = (double)NAN,
     .text = "the same in the corners: upper left, upper right, lower left, lower right"},
    FIGURE("elongation", elongation, 3, NULL, "length of stars over their width, rms: 1 is round"),
    {.key = "trail", .kind = SCHEMA_OBJECT, .of = &trail_schema, .text = "how stars are drawn out"},
    {.key = "double",
     .kind = SCHEMA_OBJECT,
     .of = &double_schema,
     .when = SCHEMA_IF,
     .present = is_double,
     .text = "each star shows twice: the camera was knocked"},
    {.key = "sky", .kind = SCHEMA_OBJECT, .of = &sky_schema, .text = "the sky between the stars"},
    TRUTH("linear", linear, "values are in proportion to light"),
    {.key = "saturated_share",
     .kind = SCHEMA_NUMBER,
     MEMBER(saturated_share),
     .decimals = 5,
     .nullable = true,
     .text = "share of the stars that reach full scale"},
    FIGURE("zero_mag", zero_mag, 3, "mag",
           "V of a star of B-V 0.6 that gives one unit, per second if the exposure is known"),
    FIGURE("zero_error", zero_error, 3, "mag", "standard error of zero_mag"),
    COUNT("zero_stars", zero_stars, "stars that zero_mag rests on"),
    FIGURE("colour_term", colour_term, 3, NULL, "V less zero_mag per magnitude of B-V - 0.6"),
    FIGURE("limit_mag", limit_mag, 2, "mag", "V of stars at 5 times the noise"),
    ERROR_FIGURE("limit_mag_error", limit_error, 3, "mag", "standard error of limit_mag"),
    FIGURE("vignetting", vignetting, 3, NULL, "share of the light that is lost in the corners"),
    FIGURE("uneven_mag", uneven_mag, 2, "mag", "how much dimmer the dimmest of nine parts is"),
    COUNT("stars_expected", expected, "catalogue stars that should show"),
    FIGURE("missing_share", missing_share, 3, NULL, "share of these that do not"),
    FIGURE("hidden_share", hidden_share, 3, NULL, "share of the picture's parts without them"),
    {0},
};

const struct schema health_schema = {.name = "health", .text = "How good a frame is.", .row = rows};

void health_read_json(struct frame_health *health, const struct json_node *object)
{
    memset(health, 0, sizeof *health);
    schema_read(health, &health_schema, object);
    health->limits = health_usual();
    health->exposure_s = (double)NAN;
}
