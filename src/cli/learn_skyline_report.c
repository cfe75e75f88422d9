#include "cli/learn_skyline_report.h"

#include "base/options.h"
#include "base/text.h"
#include "cli/aim_schema.h"
#include "tripod/advice.h"

#include <math.h>

/* "70° to 130°, 250° to 20°": where nobody knows it. */
static void write_open(char *out, size_t size, const struct skyline *skyline)
{
    int points = skyline->points;
    out[0] = '\0';
    for (int i = 0; i < points; i++) {
        const struct skyline_point *left = &skyline->point[(i + points - 1) % points];
        const struct skyline_point *right = &skyline->point[(i + 1) % points];
        if (isnan(skyline->point[i].altitude_deg)) {
            text_append(out, size, "%s%.0f° to %.0f°", out[0] ? ", " : "", left->azimuth_deg,
                        right->azimuth_deg);
        }
    }
}

static void write_text(FILE *out, const struct learned_skyline *learned)
{
    const struct skyline_lesson *lesson = &learned->lesson;
    char open[600];
    write_open(open, sizeof open, &lesson->skyline);
    fprintf(out, "%s: these frames show the skyline over %.0f° of azimuth, to %.1f°\n",
            learned->place, lesson->known_deg, fmax(lesson->error_deg, 0.1));
    fprintf(out, "  from     %d stars in %d frame%s\n", learned->stars, learned->frames,
            learned->frames == 1 ? "" : "s");
    fprintf(out, "  highest  %.0f° in the %s (azimuth %.0f°)\n", lesson->highest_deg,
            advice_direction_word(lesson->highest_azimuth_deg), lesson->highest_azimuth_deg);
    if (open[0]) {
        fputs("  open     ", out);
        text_append(open, sizeof open, ": nobody knows; frames of it add to what is kept");
        options_write_wrapped(out, open, 11, 11, 78);
    }
    fprintf(out, "  kept     in %s; plan, aim and watch keep above it\n", learned->file);
}

static int write_json(FILE *out, const struct learned_skyline *learned, struct error *err)
{
    struct json json = {0};
    const struct skyline *skyline = &learned->lesson.skyline;
    schema_begin(&json, &learned_skyline_schema);
    schema_put_format(&json);
    schema_open(&json, "skyline");
    schema_put_text(&json, "place", learned->place);
    schema_put_integer(&json, "frames", learned->frames);
    schema_put_integer(&json, "stars", learned->stars);
    schema_put_number(&json, "learned_deg", learned->lesson.known_deg);
    schema_put_number(&json, "error_deg", learned->lesson.error_deg);
    schema_open(&json, "points");
    for (int i = 0; i < skyline->points; i++) {
        schema_open(&json, NULL);
        schema_put_number(&json, "azimuth_deg", skyline->point[i].azimuth_deg);
        schema_put_number(&json, "altitude_deg", skyline->point[i].altitude_deg);
        schema_close(&json);
    }
    schema_close(&json);
    schema_put_text(&json, "file", learned->file);
    schema_close(&json);
    return schema_end_line(&json, out, err);
}

int learn_skyline_report(FILE *out, const struct learned_skyline *learned, bool as_json,
                         struct error *err)
{
    if (as_json) {
        return write_json(out, learned, err);
    }
    write_text(out, learned);
    return 0;
}
