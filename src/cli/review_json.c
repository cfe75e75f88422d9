#include "cli/review_json.h"

#include "cli/parts_schema.h"
#include "cli/review_schema.h"

#include <math.h>
#include <string.h>

/* What is a number, and known. */
static void put_known(struct json *json, const char *key, double value)
{
    if (isfinite(value)) {
        schema_put_number(json, key, value);
    }
}

/* A moment of the night, on the night's clock. */
static void put_start(struct json *json, const struct review *review, double time_s)
{
    char text[40];
    bool local = review->clock == NIGHT_CLOCK_LOCAL;
    if (review->clock && isfinite(time_s)) {
        time_write(text, sizeof text, time_add(review->start, time_s), 2);
        text[strcspn(text, "Z")] = '\0';
        strcat(text, local ? "" : "Z");
        schema_put_text(json, local ? "start_local" : "start_utc", text);
    }
}

static void put_counts(struct json *json, const struct review *review)
{
    schema_open(json, "counts");
    for (int verdict = 0; verdict < JUDGE_VERDICTS; verdict++) {
        schema_put_integer(json, judge_word((enum judge_verdict)verdict), review->count[verdict]);
    }
    schema_close(json);
}

/* Words that some frames have, with the number of these. */
static void put_tally(struct json *json, const char *key, const char *word, const int *count,
                      int words)
{
    schema_open(json, key);
    for (int i = 0; i < words; i++) {
        if (count[i]) {
            schema_open(json, NULL);
            schema_put_word(json, word, i);
            schema_put_integer(json, "frames", count[i]);
            schema_close(json);
        }
    }
    schema_close(json);
}

static void put_copies(struct json *json, const struct night_copies *copies)
{
    if (copies && copies->frames) {
        schema_open(json, "copies");
        schema_put_integer(json, "frames", copies->frames);
        schema_put_integer(json, "places", copies->places);
        schema_close(json);
    }
}

static void put_night(struct json *json, const struct review *review)
{
    schema_open(json, "night");
    schema_put_word(json, "clock", (int)review->clock);
    put_start(json, review, 0);
    schema_put_number(json, "length_s", review->length_s);
    schema_put_integer(json, "batches", review->batches);
    schema_put_number(json, "light_s", review->light_s);
    schema_put_number(json, "kept_s", review->kept_s);
    schema_put_number(json, "cadence_s", review->cadence_s);
    schema_put_number(json, "drift_px_s", review->drift_px_s);
    schema_close(json);
}

static void put_usual(struct json *json, const struct judge_usual_frame *usual)
{
    schema_open(json, "usual");
    schema_put_integer(json, "frames", usual->frames);
    schema_put_number(json, "stars", usual->stars);
    schema_put_number(json, "width_px", usual->width_px);
    schema_put_number(json, "length_px", usual->length_px);
    schema_put_number(json, "sky", usual->sky);
    schema_close(json);
}

static void put_target(struct json *json, const struct review *review)
{
    const struct aim_target *target = &review->target;
    if (review->has_target) {
        schema_open(json, "target");
        schema_put_text(json, "name", target->name);
        schema_put_number(json, "ra_deg", target->shape.ra_deg);
        schema_put_number(json, "dec_deg", target->shape.dec_deg);
        schema_put_number(json, "middle_share", review->target_s[1][1] / review->kept_s);
        schema_put_number(json, "outside_share", review->outside_s / review->kept_s);
        schema_close(json);
    }
}

static void put_cover(struct json *json, const struct review *review)
{
    const struct review_cover *cover = &review->cover;
    if (review->reference < 0) {
        return;
    }
    schema_open(json, "cover");
    schema_put_text(json, "reference", review->frame[review->reference].frame->name);
    schema_put_number(json, "common_share", cover->common_share);
    if (cover->crop_width > 0) {
        schema_open(json, "crop");
        schema_put_number(json, "x", cover->crop_left);
        schema_put_number(json, "y", cover->crop_top);
        schema_put_number(json, "width", cover->crop_width);
        schema_put_number(json, "height", cover->crop_height);
        if (cover->rims > 0) {
            schema_put_number(json, "target_rim", (double)cover->crop_holds / cover->rims);
        }
        schema_close(json);
    }
    schema_close(json);
}

static void put_figures(struct json *json, const struct night_frame *frame)
{
    if (frame->read) {
        schema_put_integer(json, "detected", frame->detected);
    }
    schema_put_number(json, "fwhm_px", frame->health.fwhm_px);
    schema_put_number(json, "elongation", frame->health.elongation);
    schema_put_number(json, "trail_px", frame->health.trail_px);
    schema_put_number(json, "sky_level", frame->health.sky_level);
    schema_put_number(json, "limit_mag", frame->health.limit_mag);
}

static void put_frame(struct json *json, const struct review *review, const struct review_frame *f)
{
    const struct night_frame *frame = f->frame;
    schema_open(json, NULL);
    schema_put_text(json, "frame", frame->name);
    schema_put_word(json, "verdict", (int)f->judgement.verdict);
    if (f->judgement.cause != JUDGE_NOTHING) {
        schema_put_word(json, "cause", (int)f->judgement.cause - 1);
    }
    if (f->judgement.reason[0]) {
        schema_put_text(json, "reason", f->judgement.reason);
    }
    put_start(json, review, f->time_s);
    schema_put_integer(json, "batch", f->batch + 1);
    put_known(json, "exposure_s", frame->exposure_s > 0 ? frame->exposure_s : (double)NAN);
    put_known(json, "iso", frame->iso > 0 ? frame->iso : (double)NAN);
    put_known(json, "ra_deg", frame->solved ? frame->ra_deg : (double)NAN);
    put_known(json, "dec_deg", frame->solved ? frame->dec_deg : (double)NAN);
    if (isfinite(f->x) && isfinite(f->y)) {
        parts_put_pixel(json, f->x, f->y);
    }
    put_figures(json, frame);
    schema_put_integer(json, "crossings", f->crossings);
    schema_close(json);
}

static void put_event(struct json *json, const struct review_event *event)
{
    char text[120];
    review_write_event(text, sizeof text, event);
    schema_open(json, NULL);
    schema_put_word(json, "event", (int)event->kind);
    schema_put_text(json, "text", text);
    schema_put_integer(json, "first", event->first);
    schema_put_integer(json, "last", event->last);
    switch (event->kind) {
    case REVIEW_RECENTRED:
    case REVIEW_KNOCKED:
        put_known(json, "moved_deg", event->amount);
        break;
    case REVIEW_GAP:
        put_known(json, "missed_s", event->amount);
        break;
    default:
        put_known(json, "usual_share", event->amount);
    }
    schema_close(json);
}

static void put_darks(struct json *json, const struct review_need *need)
{
    schema_open(json, NULL);
    schema_put_number(json, "exposure_s", need->exposure_s);
    put_known(json, "iso", need->iso > 0 ? need->iso : (double)NAN);
    schema_put_integer(json, "lights", need->lights);
    schema_put_integer(json, "darks", need->darks);
    schema_put_integer(json, "wanted", REVIEW_DARKS);
    schema_close(json);
}

static void put_lists(struct json *json, const struct review *review)
{
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    int count = review_advise(advice, review);
    schema_open(json, "frames");
    for (int i = 0; i < review->frames; i++) {
        put_frame(json, review, &review->frame[i]);
    }
    schema_close(json);
    schema_open(json, "events");
    for (int i = 0; i < review->events; i++) {
        put_event(json, &review->event[i]);
    }
    schema_close(json);
    schema_open(json, "darks");
    for (int i = 0; i < review->needs; i++) {
        put_darks(json, &review->need[i]);
    }
    schema_close(json);
    schema_open(json, "advice");
    for (int i = 0; i < count; i++) {
        schema_put_text(json, NULL, advice[i]);
    }
    schema_close(json);
}

int review_json_write(FILE *out, const struct review *review, const struct emergence *emergence,
                      struct error *err)
{
    struct json json = {0};
    char text[200];
    review_write_answer(text, sizeof text, review);
    schema_begin(&json, &review_schema);
    schema_put_format(&json);
    schema_put_text(&json, "answer", text);
    put_counts(&json, review);
    put_tally(&json, "causes", "cause", review->by_cause + 1, JUDGE_CAUSES - 1);
    put_tally(&json, "kinds", "kind", review->kind, KIND_SCENE + 1);
    put_copies(&json, review->copies);
    schema_put_integer(&json, "unread_by_device", review->unread_device);
    schema_put_integer(&json, "crossed", review->crossed);
    put_night(&json, review);
    parts_put_clock_doubt(&json, &review->clock_doubt);
    parts_put_hours(&json, review->plan);
    put_usual(&json, &review->usual);
    put_target(&json, review);
    put_cover(&json, review);
    if (emergence) {
        emergence_put(&json, "stack", emergence, true);
    }
    put_lists(&json, review);
    return schema_end_line(&json, out, err);
}
