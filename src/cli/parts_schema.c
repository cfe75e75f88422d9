#include "cli/parts_schema.h"

#include "base/schema_rows.h"

static const struct schema_row pixel_rows[] = {
    {ROW_NUMBER("x", 2, "px", "to the right; the centre of the first pixel is 0")},
    {ROW_NUMBER("y", 2, "px", "down")},
    {0},
};
const struct schema pixel_schema = {.row = pixel_rows};

static const struct schema_row off_middle_rows[] = {
    {ROW_NUMBER("right_widths", 5, NULL, "to the right of the middle, in widths of the picture")},
    {ROW_NUMBER("up_heights", 5, NULL, "above the middle, in heights of the picture")},
    {0},
};
const struct schema off_middle_schema = {.row = off_middle_rows};

static const struct schema_row head_rows[] = {
    {ROW_TEXT("name", "as in the settings file"), ROW_SOMETIMES},
    {ROW_NUMBER("lean_east_deg", 4, "deg", "the pan axis leans east by this")},
    {ROW_NUMBER("lean_north_deg", 4, "deg", "the pan axis leans north by this")},
    {ROW_NUMBER("skew_deg", 4, "deg", "right end of the tilt axis above square to the pan axis")},
    {ROW_NUMBER("squint_deg", 4, "deg", "right end of the tilt axis ahead of square to the lens")},
    {ROW_NUMBER("error_deg", 4, "deg", "standard error of the axis"), ROW_SOMETIMES},
    {0},
};
const struct schema head_schema = {.row = head_rows};

static const struct schema_row angles_rows[] = {
    {ROW_NUMBER("pan_right_deg", 5, "deg", "pan to the right, seen from behind")},
    {ROW_NUMBER("tilt_up_deg", 5, "deg", "tilt up")},
    {0},
};
const struct schema angles_schema = {.row = angles_rows};

static const struct schema_row move_rows[] = {
    {ROW_INCLUDE(angles_schema)},
    {ROW_NUMBER("short_deg", 4, "deg", "by so much the head cannot reach the target"),
     ROW_SOMETIMES},
    {0},
};
const struct schema move_schema = {.row = move_rows};

static const struct schema_row clock_rows[] = {
    {ROW_NUMBER("fast_s", 1, "s", "how far it is ahead")},
    {ROW_NUMBER("error_s", 1, "s", "standard error")},
    {0},
};
const struct schema clock_schema = {.row = clock_rows};

static const struct schema_row hours_rows[] = {
    {ROW_TEXT("words", "as the plan says them, with the zone of its clock")},
    {ROW_TEXT("from_utc", "when the target is high enough, it is dark, and own hours begin")},
    {ROW_TEXT("until_utc", "when one of these ends")},
    {0},
};
const struct schema hours_schema = {.row = hours_rows};

static const char *doubt_word(int by)
{
    return clock_doubt_key((enum clock_doubt_by)by);
}

static const struct schema_row doubt_rows[] = {
    {ROW_WORD("by", CLOCK_DOUBTS, doubt_word, "the sign of it")},
    {ROW_NUMBER("fast_s", 0, "s", "so far ahead the clock seems to be"), ROW_OR_NULL},
    {ROW_TEXT("text", "the same as a sentence")},
    {0},
};
const struct schema clock_doubt_schema = {.row = doubt_rows};

void parts_put_hours(struct json *json, const struct night_plan *plan)
{
    char from[40], until[40];
    if (plan && plan->hours[0]) {
        schema_open(json, "planned_hours");
        schema_put_text(json, "words", plan->hours);
        time_stamp_write(from, sizeof from, &plan->from);
        time_stamp_write(until, sizeof until, &plan->until);
        schema_put_text(json, "from_utc", from);
        schema_put_text(json, "until_utc", until);
        schema_close(json);
    }
}

void parts_put_clock_doubt(struct json *json, const struct clock_doubt *doubt)
{
    char text[300];
    if (doubt->by == CLOCK_DOUBT_NONE) {
        return;
    }
    clock_doubt_write(text, sizeof text, doubt);
    schema_open(json, "clock_doubt");
    schema_put_word(json, "by", (int)doubt->by);
    schema_put_number(json, "fast_s", doubt->fast_s);
    schema_put_text(json, "text", text);
    schema_close(json);
}

void parts_put_pixel(struct json *json, double x, double y)
{
    schema_open(json, "pixel");
    schema_put_number(json, "x", x);
    schema_put_number(json, "y", y);
    schema_close(json);
}

void parts_put_head(struct json *json, const struct head *head)
{
    schema_put_number(json, "lean_east_deg", head->lean_east_deg);
    schema_put_number(json, "lean_north_deg", head->lean_north_deg);
    schema_put_number(json, "skew_deg", head->skew_deg);
    schema_put_number(json, "squint_deg", head->squint_deg);
}

void parts_put_clock(struct json *json, const struct clock_fault *fault)
{
    schema_open(json, "clock_if_level");
    schema_put_number(json, "fast_s", fault->fast_s);
    schema_put_number(json, "error_s", fault->error_s);
    schema_close(json);
}

void parts_put_move(struct json *json, const struct head_move *move)
{
    schema_put_number(json, "pan_right_deg", move->pan_deg);
    schema_put_number(json, "tilt_up_deg", move->tilt_deg);
    if (move->short_deg > 0) {
        schema_put_number(json, "short_deg", move->short_deg);
    }
}
