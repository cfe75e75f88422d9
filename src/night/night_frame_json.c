#include "base/text.h"
#include "night/night_frame.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const verdict_key[] = {
    [AIM_OUTSIDE] = "no", [AIM_PARTLY] = "partly", [AIM_WHOLE] = "wholly"};

/* All but letters, digits and usual marks as %FF. NULL when memory is short. */
static char *escape_bytes(const char *name)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._- ";
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

static int hex_digit(char c)
{
    static const char digits[] = "0123456789ABCDEF";
    const char *found = c ? strchr(digits, c) : NULL;
    return found ? (int)(found - digits) : -1;
}

/* In place; false for what escape_bytes does not write. */
static bool unescape_bytes(char *text)
{
    char *out = text;
    for (const char *s = text; *s; s++) {
        if (*s != '%') {
            *out++ = *s;
            continue;
        }
        int high = hex_digit(s[1]), low = high < 0 ? -1 : hex_digit(s[2]);
        if (low < 0 || high * 16 + low == 0) {
            return false;
        }
        *out++ = (char)(high * 16 + low);
        s += 2;
    }
    *out = '\0';
    return true;
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

static void add_file(struct json *json, const struct night_frame *frame)
{
    if (frame->bytes > 0 || frame->modified_ns != 0) {
        json_open(json, "file", '{');
        add_large(json, "bytes", frame->bytes);
        add_large(json, "modified_ns", frame->modified_ns);
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
    json_string(json, "in_frame", verdict_key[target->verdict]);
    json_number(json, "share", target->share, 3);
    if (target->has_pixel) {
        json_number(json, "x", target->x, 2);
        json_number(json, "y", target->y, 2);
    }
    json_close(json, '}');
}

static void add_elapsed(struct json *json, const struct night_times *times)
{
    json_open(json, "elapsed_ms", '{');
    json_number(json, "read", times->read_ms, 2);
    json_number(json, "detect", times->detect_ms, 2);
    json_number(json, "match", times->match_ms, 3);
    json_number(json, "fit", times->fit_ms, 3);
    json_number(json, "health", times->health_ms, 2);
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
    if (frame->says[0]) {
        health_write_json(json, &frame->health);
    }
    add_elapsed(json, &frame->times);
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
    night_frame_add_details(json, frame);
    json_close(json, '}');
    return json->failed ? error_memory(err) : 0;
}

static int read_name(struct night_frame *frame, const struct json_node *line, struct error *err)
{
    const char *name = json_read_string(line, "frame");
    const char *bytes = json_read_string(line, "frame_bytes");
    if (!name || !name[0]) {
        return ERROR_NO;
    }
    frame->name = text_copy(bytes ? bytes : name);
    if (!frame->name) {
        return error_memory(err);
    }
    if (bytes && (!unescape_bytes(frame->name) || !frame->name[0])) {
        free(frame->name);
        frame->name = text_copy(name);
    }
    return frame->name ? 0 : error_memory(err);
}

/* Between two bounds; 0 for anything else. */
static double number_within(const struct json_node *object, const char *key, double low,
                            double high)
{
    double value = json_read_number(object, key);
    return value >= low && value <= high ? value : 0;
}

static int count_of(const struct json_node *object, const char *key)
{
    return (int)number_within(object, key, 0, 1e9);
}

static void read_picture(struct night_frame *frame, const struct json_node *line)
{
    const struct json_node *picture = json_read_member(line, "picture");
    const struct json_node *camera = json_read_member(line, "camera");
    const struct json_node *file = json_read_member(line, "file");
    const struct json_node *time = json_read_member(line, "time");
    frame->bytes = json_read_integer(file, "bytes", 0);
    frame->modified_ns = json_read_integer(file, "modified_ns", 0);
    frame->width = count_of(picture, "width");
    frame->height = count_of(picture, "height");
    frame->read = frame->width > 0 && frame->height > 0;
    json_read_text(frame->format, sizeof frame->format, picture, "format");
    json_read_text(frame->camera, sizeof frame->camera, camera, "model");
    json_read_text(frame->lens, sizeof frame->lens, camera, "lens");
    frame->focal_mm = number_within(camera, "focal_mm", 0, 1e6);
    frame->f_number = number_within(camera, "f_number", 0, 1e6);
    frame->iso = number_within(camera, "iso", 0, 1e9);
    frame->exposure_s = number_within(time, "exposure_s", 0, 1e6);
    json_read_text(frame->start_utc, sizeof frame->start_utc, time, "start_utc");
    json_read_text(frame->start_local, sizeof frame->start_local, time, "start_local");
}

/* A pose whose axes are not at right angles is none. */
static bool is_pose(const struct pose *pose)
{
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j <= i; j++) {
            double product = 0;
            for (int k = 0; k < 3; k++) {
                product += pose->axis[i][k] * pose->axis[j][k];
            }
            if (!(fabs(product - (i == j ? 1 : 0)) < 1e-6)) {
                return false;
            }
        }
    }
    return pose->focal_px > 0 && pose->half_diagonal > 0 && fabs(pose->distortion) < 1;
}

static void read_pose(struct pose *pose, const struct json_node *line)
{
    const struct json_node *object = json_read_member(line, "pose");
    const struct json_node *axes = json_read_member(object, "axes");
    struct pose read = {0};
    for (int i = 0; i < 9; i++) {
        read.axis[i / 3][i % 3] = json_node_number(json_read_element(axes, i));
    }
    read.focal_px = number_within(object, "focal_px", 1, 1e9);
    read.distortion = number_within(object, "distortion", -1, 1);
    read.x = number_within(object, "axis_x_px", -1e6, 1e6);
    read.y = number_within(object, "axis_y_px", -1e6, 1e6);
    read.half_diagonal = number_within(object, "half_diagonal_px", 0.5, 1e6);
    if (is_pose(&read)) {
        *pose = read;
    }
}

static void read_geometry(struct night_frame *frame, const struct json_node *line)
{
    const struct json_node *centre = json_read_member(line, "centre");
    const struct json_node *field = json_read_member(line, "field");
    double ra = json_read_number(centre, "ra_deg"), dec = json_read_number(centre, "dec_deg");
    frame->field_width_deg = number_within(field, "width_deg", 0, 180);
    frame->field_height_deg = number_within(field, "height_deg", 0, 180);
    frame->scale_arcsec = number_within(line, "scale_arcsec_px", 1e-6, 1e6);
    frame->up_angle_deg = number_within(line, "up_angle_deg", -360, 360);
    frame->mirrored = json_read_bool(line, "mirrored", false);
    bool usable = ra >= -360 && ra <= 360 && fabs(dec) <= 90 && frame->scale_arcsec > 0;
    frame->solved = frame->read && usable && json_read_bool(line, "solved", false);
    if (usable) {
        frame->ra_deg = ra;
        frame->dec_deg = dec;
        read_pose(&frame->pose, line);
    }
}

static void read_stars(struct night_frame *frame, const struct json_node *line)
{
    const struct json_node *stars = json_read_member(line, "stars");
    const struct json_node *distortion = json_read_member(line, "distortion");
    frame->detected = count_of(stars, "detected");
    frame->matched = count_of(stars, "matched");
    frame->rms_px = number_within(stars, "rms_px", 0, 1e6);
    frame->rms_arcsec = number_within(stars, "rms_arcsec", 0, 1e6);
    frame->chance_log10 = number_within(line, "chance_log10", -1e9, 0);
    frame->distortion_order = (int)number_within(distortion, "order", 0, WCS_MAX_ORDER);
    frame->distortion_px = number_within(distortion, "corner_px", 0, 1e6);
}

static enum aim_verdict verdict_of(const char *key)
{
    for (int verdict = AIM_OUTSIDE; key && verdict <= AIM_WHOLE; verdict++) {
        if (strcmp(key, verdict_key[verdict]) == 0) {
            return (enum aim_verdict)verdict;
        }
    }
    return AIM_OUTSIDE;
}

static void read_target(struct night_target *target, const struct json_node *line)
{
    const struct json_node *object = json_read_member(line, "target");
    double x = json_read_number(object, "x"), y = json_read_number(object, "y");
    json_read_text(target->name, sizeof target->name, object, "name");
    target->ra_deg = number_within(object, "ra_deg", -360, 360);
    target->dec_deg = number_within(object, "dec_deg", -90, 90);
    target->share = number_within(object, "share", 0, 1);
    target->verdict = verdict_of(json_read_string(object, "in_frame"));
    target->has_pixel = isfinite(x) && isfinite(y);
    target->x = target->has_pixel ? x : 0;
    target->y = target->has_pixel ? y : 0;
}

static void read_times(struct night_times *times, const struct json_node *line)
{
    const struct json_node *elapsed = json_read_member(line, "elapsed_ms");
    times->read_ms = number_within(elapsed, "read", 0, 1e12);
    times->detect_ms = number_within(elapsed, "detect", 0, 1e12);
    times->match_ms = number_within(elapsed, "match", 0, 1e12);
    times->fit_ms = number_within(elapsed, "fit", 0, 1e12);
    times->health_ms = number_within(elapsed, "health", 0, 1e12);
    times->total_ms = number_within(elapsed, "total", 0, 1e12);
}

int night_frame_read(struct night_frame *frame, const char *line, size_t length,
                     struct error *err)
{
    struct json_node *root;
    memset(frame, 0, sizeof *frame);
    int code = json_read(&root, line, length, err);
    if (!code) {
        code = json_read_is_object(root) ? read_name(frame, root, err)
                                         : error_set(err, ERROR_INPUT, "not a JSON object");
    }
    if (!code) {
        const struct json_node *health = json_read_member(root, "health");
        json_read_text(frame->why, sizeof frame->why, root, "why");
        read_picture(frame, root);
        read_geometry(frame, root);
        read_stars(frame, root);
        read_target(&frame->target, root);
        health_read_json(&frame->health, health);
        frame->health.solved = frame->solved;
        json_read_text(frame->says, sizeof frame->says, health, "says");
        read_times(&frame->times, root);
    }
    json_read_free(root);
    return code;
}
