#include "night/emergence.h"

#include "base/schema_rows.h"

#include <math.h>

static const char *cause_word(int cause)
{
    return judge_cause_key((enum judge_cause)(cause + 1));
}

static const struct schema_row lost_rows[] = {
    {ROW_WORD("cause", JUDGE_CAUSES - 1, cause_word, "why they are not in it")},
    {ROW_INTEGER("frames", "left out")},
    {0},
};
static const struct schema lost_schema = {.row = lost_rows};

static const struct schema_row step_rows[] = {
    {ROW_INTEGER("lights", "frames of the sky until then")},
    {ROW_INTEGER("frames", "of these in the stack")},
    {ROW_NUMBER("snr", 4, NULL, "measured then"), ROW_OR_NULL},
    {ROW_NUMBER("snr_promised", 4, NULL, "promised of so many lights"), ROW_OR_NULL},
    {0},
};
static const struct schema step_schema = {.row = step_rows};

static const struct schema_row rows[] = {
    {ROW_TEXT("answer", "how the target stands in the stack, in words")},
    {ROW_INTEGER("lights", "frames of the sky that were taken")},
    {ROW_INTEGER("frames", "of these, those in the stack")},
    {ROW_OBJECTS("lost", lost_schema, "the others")},
    {ROW_NUMBER("exposure_s", 3, "s", "of the frames in the stack")},
    {ROW_INTEGER("darks", "dark frames that it made use of")},
    {ROW_INTEGER("flats", "flat frames that it made use of")},
    {ROW_NUMBER("snr", 4, NULL,
                "signal to noise a pixel of the target's outline against the sky around"),
     ROW_OR_NULL},
    {ROW_NUMBER("snr_error", 4, NULL, "one sigma"), ROW_OR_NULL},
    {ROW_TEXT("unknown", "why it was not measured"), ROW_SOMETIMES},
    {ROW_NUMBER("snr_promised", 4, NULL, "what the test frame promised of so many lights"),
     ROW_OR_NULL},
    {ROW_NUMBER("snr_planned", 4, NULL, "what the plan of the night said of so many lights"),
     ROW_SOMETIMES},
    {ROW_TEXT("no_promise", "why nothing was promised"), ROW_SOMETIMES},
    {ROW_TEXT("broken", "why it is less than promised"), ROW_SOMETIMES},
    {ROW_NUMBER("snr_wanted", 2, NULL, "at which it counts as visible")},
    {ROW_NUMBER("visible_at", 0, NULL, "number of lights at which it is visible"), ROW_OR_NULL},
    {ROW_NUMBER("visible_at_error", 0, NULL, "one sigma"), ROW_OR_NULL},
    {ROW_NUMBER("visible_in_s", 0, "s", "until then"), ROW_OR_NULL},
    {ROW_OBJECTS("steps", step_schema, "how it came about"), ROW_SOMETIMES},
    {0},
};
const struct schema emergence_schema = {
    .name = "emergence", .text = "The target in the frames laid over each other.", .row = rows};

static const struct schema_row line_rows[] = {
    {ROW_OBJECT("stack", emergence_schema, "the target in the frames laid over each other")},
    {ROW_FORMAT},
    {0},
};
const struct schema emergence_line_schema = {
    .name = "stack", .text = "How the stack of watch stands, among the frames.", .row = line_rows};

static void put_lost(struct json *json, const struct emergence *e)
{
    schema_open(json, "lost");
    for (int i = 1; i < JUDGE_CAUSES; i++) {
        if (e->lost[i]) {
            schema_open(json, NULL);
            schema_put_word(json, "cause", i - 1);
            schema_put_integer(json, "frames", e->lost[i]);
            schema_close(json);
        }
    }
    schema_close(json);
}

static void put_steps(struct json *json, const struct emergence *e)
{
    schema_open(json, "steps");
    for (int i = 0; i < e->steps; i++) {
        schema_open(json, NULL);
        schema_put_integer(json, "lights", e->step[i].lights);
        schema_put_integer(json, "frames", e->step[i].frames);
        schema_put_number(json, "snr", e->step[i].snr);
        schema_put_number(json, "snr_promised", e->step[i].promised);
        schema_close(json);
    }
    schema_close(json);
}

static void put_visible(struct json *json, const struct emergence *e)
{
    struct emergence_outlook outlook;
    emergence_foresee(&outlook, e);
    schema_put_number(json, "snr_wanted", e->wanted);
    schema_put_number(json, "visible_at", outlook.known ? outlook.frame : (double)NAN);
    schema_put_number(json, "visible_at_error", outlook.known ? outlook.frame_error : (double)NAN);
    schema_put_number(json, "visible_in_s", outlook.left_s);
}

void emergence_put(struct json *json, const char *key, const struct emergence *e, bool with_steps)
{
    char text[EMERGENCE_TEXT];
    schema_open(json, key);
    emergence_write(text, sizeof text, e);
    schema_put_text(json, "answer", text);
    schema_put_integer(json, "lights", e->lights);
    schema_put_integer(json, "frames", e->frames);
    put_lost(json, e);
    schema_put_number(json, "exposure_s", e->exposure_s);
    schema_put_integer(json, "darks", e->darks);
    schema_put_integer(json, "flats", e->flats);
    schema_put_number(json, "snr", e->known ? e->snr : (double)NAN);
    schema_put_number(json, "snr_error", e->known ? e->snr_error : (double)NAN);
    if (!e->known) {
        schema_put_text(json, "unknown", e->unknown);
    }
    schema_put_number(json, "snr_promised", emergence_promised(e));
    if (e->planned > 0) {
        schema_put_number(json, "snr_planned", e->planned * sqrt(e->lights));
    }
    if (!e->has_promise) {
        schema_put_text(json, "no_promise", e->no_promise);
    }
    emergence_write_broken(text, sizeof text, e);
    if (text[0]) {
        schema_put_text(json, "broken", text);
    }
    put_visible(json, e);
    if (with_steps) {
        put_steps(json, e);
    }
    schema_close(json);
}
