#include "base/text.h"
#include "night/night_frame.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* All but letters, digits and usual marks as %FF. NULL when memory is short. */
static char *escape_bytes(const char *name)
{
    static const char plain[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._- ";
    char *text = malloc(3 * strlen(name) + 1), *out = text;
    for (const char *s = name; text && *s; s++) {
        if (strchr(plain, *s)) {
            *out++ = *s;
        } else {
            out += snprintf(out, 4, "%%%02X", (unsigned)(unsigned char)*s);
        }
    }
    if (text) {
        *out = '\0';
    }
    return text;
}

/* Only where the readable form lost some. */
static void add_bytes(struct json *json, const char *name)
{
    struct json readable = {0};
    json_string(&readable, NULL, name);
    bool spoilt = readable.failed || strstr(readable.text, "\uFFFD");
    char *bytes = spoilt ? escape_bytes(name) : NULL;
    if (bytes) {
        json_string(json, "frame_bytes", bytes);
    }
    json->failed = json->failed || readable.failed || (spoilt && !bytes);
    json_free(&readable);
    free(bytes);
}

/* 64 bits, beyond what json_integer may take elsewhere. */
static void add_large(struct json *json, const char *key, long long value)
{
    json_integer(json, key, (long)value);
}

static void add_known(struct json *json, const char *key, double value, int decimals)
{
    if (value > 0) {
        json_number(json, key, value, decimals);
    }
}

static void add_known_text(struct json *json, const char *key, const char *text)
{
    if (text[0]) {
        json_string(json, key, text);
    }
}

/* As text: readers that keep numbers as doubles would lose digits. */
static void add_digest(struct json *json, uint64_t digest)
{
    char text[20];
    if (digest) {
        snprintf(text, sizeof text, "%016" PRIx64, digest);
        json_string(json, "digest", text);
    }
}

static void add_file(struct json *json, const struct night_frame *frame)
{
    if (frame->bytes > 0 || frame->modified_ns != 0) {
        json_open(json, "file", '{');
        add_large(json, "bytes", frame->bytes);
        add_large(json, "modified_ns", frame->modified_ns);
        add_digest(json, frame->digest);
        add_known(json, "read_errors", frame->read_errors, 0);
        json_close(json, '}');
    }
}

static void add_picture(struct json *json, const struct night_frame *frame)
{
    json_open(json, "picture", '{');
    json_string(json, "format", frame->format);
    json_integer(json, "width", frame->width);
    json_integer(json, "height", frame->height);
    json_close(json, '}');
}

static void add_camera(struct json *json, const struct night_frame *frame)
{
    json_open(json, "camera", '{');
    add_known_text(json, "model", frame->camera);
    add_known_text(json, "lens", frame->lens);
    add_known(json, "focal_mm", frame->focal_mm, 2);
    add_known(json, "f_number", frame->f_number, 2);
    add_known(json, "iso", frame->iso, 0);
    json_close(json, '}');
}

static void add_time(struct json *json, const struct night_frame *frame)
{
    if (!frame->start_utc[0] && !frame->start_local[0] && frame->exposure_s <= 0) {
        return;
    }
    json_open(json, "time", '{');
    add_known_text(json, "start_utc", frame->start_utc);
    add_known_text(json, "start_local", frame->start_local);
    add_known(json, "exposure_s", frame->exposure_s, 6);
    json_close(json, '}');
}

static void add_geometry(struct json *json, const struct night_frame *frame)
{
    char ra[24], dec[24];
    text_write_ra(ra, sizeof ra, frame->ra_deg);
    text_write_dec(dec, sizeof dec, frame->dec_deg);
    json_open(json, "centre", '{');
    json_number(json, "ra_deg", frame->ra_deg, 6);
    json_number(json, "dec_deg", frame->dec_deg, 6);
    json_string(json, "ra", ra);
    json_string(json, "dec", dec);
    json_close(json, '}');
    json_open(json, "field", '{');
    json_number(json, "width_deg", frame->field_width_deg, 5);
    json_number(json, "height_deg", frame->field_height_deg, 5);
    json_close(json, '}');
    json_number(json, "scale_arcsec_px", frame->scale_arcsec, 5);
    json_number(json, "up_angle_deg", frame->up_angle_deg, 3);
    json_bool(json, "mirrored", frame->mirrored);
}

static void add_stars(struct json *json, const struct night_frame *frame)
{
    json_open(json, "stars", '{');
    json_integer(json, "detected", frame->detected);
    if (frame->solved) {
        json_integer(json, "matched", frame->matched);
        json_number(json, "rms_px", frame->rms_px, 4);
        json_number(json, "rms_arcsec", frame->rms_arcsec, 4);
    }
    json_close(json, '}');
}

static void add_trust(struct json *json, const struct night_frame *frame)
{
    json_number(json, "chance_log10", frame->chance_log10, 2);
    json_open(json, "distortion", '{');
    json_integer(json, "order", frame->distortion_order);
    json_number(json, "corner_px", frame->distortion_px, 3);
    json_close(json, '}');
}

static void add_pose(struct json *json, const struct pose *pose)
{
    if (pose->focal_px <= 0) {
        return;
    }
    json_open(json, "pose", '{');
    json_open(json, "axes", '[');
    for (int i = 0; i < 9; i++) {
        json_number(json, NULL, pose->axis[i / 3][i % 3], 10);
    }
    json_close(json, ']');
    json_number(json, "focal_px", pose->focal_px, 3);
    json_number(json, "distortion", pose->distortion, 8);
    json_number(json, "axis_x_px", pose->x, 3);
    json_number(json, "axis_y_px", pose->y, 3);
    json_number(json, "half_diagonal_px", pose->half_diagonal, 3);
    json_close(json, '}');
}

static void add_target(struct json *json, const struct night_target *target)
{
    if (!target->name[0]) {
        return;
    }
    json_open(json, "target", '{');
    json_string(json, "name", target->name);
    json_number(json, "ra_deg", target->ra_deg, 6);
    json_number(json, "dec_deg", target->dec_deg, 6);
    json_string(json, "in_frame", aim_verdict_key(target->verdict));
    json_number(json, "share", target->share, 3);
    if (target->has_pixel) {
        json_number(json, "x", target->x, 2);
        json_number(json, "y", target->y, 2);
    }
    json_close(json, '}');
}

static void add_streaks(struct json *json, const struct streak_list *list)
{
    if (!list->count) {
        return;
    }
    json_open(json, "streaks", '[');
    for (int i = 0; i < list->count; i++) {
        const struct streak *streak = &list->streak[i];
        json_open(json, NULL, '{');
        json_number(json, "x0", streak->x0, 0);
        json_number(json, "y0", streak->y0, 0);
        json_number(json, "x1", streak->x1, 0);
        json_number(json, "y1", streak->y1, 0);
        json_close(json, '}');
    }
    json_close(json, ']');
}

static void add_elapsed(struct json *json, const struct night_times *times, bool with_health)
{
    json_open(json, "elapsed_ms", '{');
    json_number(json, "read", times->read_ms, 2);
    json_number(json, "detect", times->detect_ms, 2);
    json_number(json, "match", times->match_ms, 3);
    json_number(json, "fit", times->fit_ms, 3);
    if (with_health) {
        json_number(json, "health", times->health_ms, 2);
    }
    json_number(json, "total", times->total_ms, 2);
    json_close(json, '}');
}

static void add_measured(struct json *json, const struct night_frame *frame)
{
    add_picture(json, frame);
    add_camera(json, frame);
    if (frame->solved) {
        add_geometry(json, frame);
    }
    add_stars(json, frame);
    if (frame->solved) {
        add_trust(json, frame);
        add_pose(json, &frame->pose);
        add_target(json, &frame->target);
    }
    add_time(json, frame);
    bool has_health = frame->says[0] != '\0';
    if (has_health) {
        health_write_json(json, &frame->health);
    }
    add_streaks(json, &frame->streaks);
    add_elapsed(json, &frame->times, has_health);
}

void night_frame_add_details(struct json *json, const struct night_frame *frame)
{
    add_bytes(json, frame->name);
    add_file(json, frame);
    if (frame->read) {
        add_measured(json, frame);
    }
}

int night_frame_write(struct json *json, const struct night_frame *frame, struct error *err)
{
    json_open(json, NULL, '{');
    json_string(json, "frame", frame->name);
    json_bool(json, "solved", frame->solved);
    if (!frame->solved) {
        json_string(json, "why", frame->why);
    }
    if (!frame->read) {
        json_string(json, "unread", error_cause_key(frame->unread));
    }
    night_frame_add_details(json, frame);
    json_close(json, '}');
    return json->failed ? error_memory(err) : 0;
}
