#include "base/json_read.h"
#include "base/text.h"
#include "image/guards/limits.h"
#include "night/night_frame.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int hex_digit(char c)
{
    static const char digits[] = "0123456789ABCDEF";
    const char *found = c ? strchr(digits, c) : NULL;
    return found ? (int)(found - digits) : -1;
}

/* Inverse of escape_bytes in night_frame_write.c, in place; false for what that does not write. */
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

/* No picture that is read is larger. */
static int side_of(const struct json_node *picture, const char *key)
{
    return (int)number_within(picture, key, 0, LIMIT_SIDE);
}

/* 0 for all but 16 digits. */
static uint64_t read_digest(const struct json_node *file)
{
    const char *text = json_read_string(file, "digest");
    bool good = text && strlen(text) == 16 && strspn(text, "0123456789abcdef") == 16;
    return good ? (uint64_t)strtoull(text, NULL, 16) : 0;
}

/* Lines that do not say why are of a file that may be whole. */
static void read_cause(struct night_frame *frame, const struct json_node *line)
{
    const char *key = json_read_string(line, "unread");
    if (!frame->read) {
        frame->unread = key ? error_cause_read(key) : CAUSE_SHORT;
    }
}

static void read_picture(struct night_frame *frame, const struct json_node *line)
{
    const struct json_node *picture = json_read_member(line, "picture");
    const struct json_node *camera = json_read_member(line, "camera");
    const struct json_node *file = json_read_member(line, "file");
    const struct json_node *time = json_read_member(line, "time");
    frame->bytes = json_read_integer(file, "bytes", 0);
    frame->modified_ns = json_read_integer(file, "modified_ns", 0);
    frame->digest = read_digest(file);
    frame->read_errors = count_of(file, "read_errors");
    frame->width = side_of(picture, "width");
    frame->height = side_of(picture, "height");
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
        if (strcmp(key, aim_verdict_key((enum aim_verdict)verdict)) == 0) {
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

/* Those whose ends are all told. */
static void read_streaks(struct streak_list *list, const struct json_node *line)
{
    const struct json_node *array = json_read_member(line, "streaks"), *object;
    for (int i = 0; i < STREAKS_MOST && (object = json_read_element(array, i)) != NULL; i++) {
        struct streak streak = {json_read_number(object, "x0"), json_read_number(object, "y0"),
                                json_read_number(object, "x1"), json_read_number(object, "y1")};
        if (isfinite(streak.x0 + streak.y0 + streak.x1 + streak.y1)) {
            list->streak[list->count++] = streak;
        }
    }
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

int night_frame_read(struct night_frame *frame, const char *line, size_t length, struct error *err)
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
        read_cause(frame, root);
        read_geometry(frame, root);
        read_stars(frame, root);
        read_target(&frame->target, root);
        health_read_json(&frame->health, health);
        frame->health.solved = frame->solved;
        json_read_text(frame->says, sizeof frame->says, health, "says");
        read_streaks(&frame->streaks, root);
        read_times(&frame->times, root);
    }
    json_read_free(root);
    return code;
}
