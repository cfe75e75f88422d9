#include "cli/learn_lens_report.h"

#include "base/schema_rows.h"
#include "base/text.h"
#include "base/utf8.h"

#include <math.h>

static const struct schema_row lens_rows[] = {
    {ROW_TEXT("name", "as in the settings file")},
    {ROW_TEXT("profile", "the section that keeps it")},
    {ROW_NUMBER("focal_mm", 3, "mm", "focal length that it holds for")},
    {ROW_NUMBER("radius_mm", 4, "mm", "on the sensor, from the optical axis to the corner")},
    {ROW_NUMBER(
        "corner_percent", 5, "%",
        "by how much of the distance where it belongs a star in the corner is drawn too far "
        "out: barrel negative, pincushion positive")},
    {ROW_NUMBER("error_percent", 5, "%", "standard error of that")},
    {ROW_NUMBER("corner_px", 3, "px", "the same")},
    {ROW_NUMBER("error_px", 3, "px", "standard error of that")},
    {ROW_INTEGER("terms", "that the stars justify")},
    {ROW_NUMBER("second_percent", 5, "%",
                "part that grows with the second power of the distance, of what is drawn, as the "
                "settings file has it")},
    {ROW_NUMBER("fourth_percent", 5, "%", "with the fourth")},
    {ROW_NUMBER("sixth_percent", 5, "%", "with the sixth")},
    {ROW_BOOL("axis_found", "the stars show that the optical axis is off the middle")},
    {ROW_NUMBER("axis_x_px", 2, "px", "the optical axis, to the right of the middle")},
    {ROW_NUMBER("axis_y_px", 2, "px", "the same, below the middle")},
    {ROW_NUMBER("axis_error_px", 2, "px", "standard error of either")},
    {ROW_INTEGER("frames", "that it was learned from")},
    {ROW_INTEGER("frames_left_out", "of another focal length or size")},
    {ROW_INTEGER("frames_seen",
                 "of known place and time, in which refraction is kept apart from the lens")},
    {ROW_INTEGER("stars", "places of stars in all frames")},
    {ROW_INTEGER("stars_left_out", "too far off to be the star")},
    {ROW_NUMBER("farthest_percent", 1, "%", "the farthest star from the axis; the corner is 100")},
    {ROW_NUMBER("rms_px", 4, "px", "residuals, rms")},
    {ROW_TEXT("file", "the settings file that keeps it")},
    {0},
};
static const struct schema lens_schema = {.row = lens_rows};

static const struct schema_row learned_rows[] = {
    {ROW_FORMAT},
    {ROW_OBJECT("lens", lens_schema, "what was learned")},
    {0},
};
const struct schema learned_lens_schema = {
    .name = "learned-lens", .text = "What solve --learn-lens found.", .row = learned_rows};

static const char *plural(int count)
{
    return count == 1 ? "" : "s";
}

/* "with the second and the fourth power of the distance" */
static void write_terms(FILE *out, const struct lens_lesson *lesson)
{
    static const char *const words[LENS_TERMS + 1] = {
        "as far as the stars show, not at all", "with the second power of the distance",
        "with the second and the fourth power of the distance",
        "with the second, the fourth and the sixth power of the distance"};
    fprintf(out, "  bends    %s%s\n", words[lesson->terms],
            lesson->terms > 0 && lesson->terms < LENS_TERMS ? "; more the stars do not justify"
                                                            : "");
}

static void write_axis(FILE *out, const struct lens_lesson *lesson, double half_px)
{
    double x = half_px * lesson->profile.axis_x, y = half_px * lesson->profile.axis_y;
    double error = half_px * lesson->profile.axis_error;
    if (lesson->has_axis) {
        fprintf(out, "  axis     %.1f px %s and %.1f px %s of the middle, give or take %.2g px\n",
                fabs(x), x < 0 ? "left" : "right", fabs(y), y < 0 ? "above" : "below", error);
    } else {
        fprintf(out, "  axis     in the middle, as far as can be told, to %.2g px\n", error);
    }
}

static void write_air(FILE *out, const struct learned_lens *learned)
{
    const int frames = learned->lesson.frames;
    if (learned->seen >= frames) {
        fprintf(out, "  air      refraction is kept apart: place and time are known\n");
    } else if (learned->seen == 0) {
        fprintf(out, "  air      refraction is only allowed for: give --place and --zone to keep "
                     "it apart\n");
    } else {
        fprintf(out, "  air      refraction is kept apart in %d frame%s of %d\n", learned->seen,
                plural(learned->seen), frames);
    }
}

static void write_source(FILE *out, const struct learned_lens *learned)
{
    const struct lens_lesson *lesson = &learned->lesson;
    const double enough = 0.9;
    fprintf(out, "  from     %d star%s in %d frame%s at %g mm, rms %.2f px", lesson->stars,
            plural(lesson->stars), lesson->frames, plural(lesson->frames), learned->focal_mm,
            lesson->rms_px);
    if (learned->left_out) {
        fprintf(out, "; %d frame%s of another focal length or size left out", learned->left_out,
                plural(learned->left_out));
    }
    fputc('\n', out);
    if (lesson->farthest < enough) {
        fprintf(out, "  reach    no star beyond %.0f %% of the way to the corner: more frames\n",
                100 * lesson->farthest);
    }
}

static void write_text(FILE *out, const struct learned_lens *learned)
{
    const struct lens_lesson *lesson = &learned->lesson;
    double share = lens_profile_share(&lesson->profile, 1), error = lesson->profile.error;
    double px = lens_profile_at(&lesson->profile, 1) * learned->half_px;
    utf8_write_shown(out, learned->name);
    fprintf(out, ": %s distortion", lens_profile_word(share, 3));
    if (lesson->terms > 0) {
        fprintf(out, ", %+.3f %% = %+.1f px at the corner", text_rounded(100 * share, 3),
                text_rounded(px, 1));
    }
    fprintf(out, "; known to %.2g %% = %.2g px there\n", 100 * error, error * learned->half_px);
    write_terms(out, lesson);
    write_axis(out, lesson, learned->half_px);
    write_source(out, learned);
    write_air(out, learned);
    fprintf(out, "  kept     in ");
    utf8_write_shown(out, learned->file);
    fprintf(out, ", [profile ");
    utf8_write_shown(out, learned->profile);
    fprintf(out, "]: frames are solved and nights planned with it\n");
}

static void put_bend(struct json *json, const struct learned_lens *learned)
{
    const struct lens_profile *profile = &learned->lesson.profile;
    const double half_px = learned->half_px, share = lens_profile_share(profile, 1);
    const double px = lens_profile_at(profile, 1) * half_px;
    schema_put_number(json, "radius_mm", profile->radius * learned->focal_mm);
    schema_put_number(json, "corner_percent", 100 * share);
    schema_put_number(json, "error_percent", 100 * profile->error);
    schema_put_number(json, "corner_px", px);
    schema_put_number(json, "error_px", profile->error * half_px);
    schema_put_integer(json, "terms", learned->lesson.terms);
    schema_put_number(json, "second_percent", 100 * profile->term[0]);
    schema_put_number(json, "fourth_percent", 100 * profile->term[1]);
    schema_put_number(json, "sixth_percent", 100 * profile->term[2]);
    schema_put_bool(json, "axis_found", learned->lesson.has_axis);
    schema_put_number(json, "axis_x_px", half_px * profile->axis_x);
    schema_put_number(json, "axis_y_px", half_px * profile->axis_y);
    schema_put_number(json, "axis_error_px", half_px * profile->axis_error);
}

static int write_json(FILE *out, const struct learned_lens *learned, struct error *err)
{
    const struct lens_lesson *lesson = &learned->lesson;
    struct json json = {0};
    schema_begin(&json, &learned_lens_schema);
    schema_put_format(&json);
    schema_open(&json, "lens");
    schema_put_text(&json, "name", learned->name);
    schema_put_text(&json, "profile", learned->profile);
    schema_put_number(&json, "focal_mm", learned->focal_mm);
    put_bend(&json, learned);
    schema_put_integer(&json, "frames", lesson->frames);
    schema_put_integer(&json, "frames_left_out", learned->left_out);
    schema_put_integer(&json, "frames_seen", learned->seen);
    schema_put_integer(&json, "stars", lesson->stars);
    schema_put_integer(&json, "stars_left_out", lesson->left_out);
    schema_put_number(&json, "farthest_percent", 100 * lesson->farthest);
    schema_put_number(&json, "rms_px", lesson->rms_px);
    schema_put_text(&json, "file", learned->file);
    schema_close(&json);
    return schema_end_line(&json, out, err);
}

int learn_lens_report(FILE *out, const struct learned_lens *learned, bool as_json,
                      struct error *err)
{
    if (as_json) {
        return write_json(out, learned, err);
    }
    write_text(out, learned);
    return 0;
}
