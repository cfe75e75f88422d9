/* The line that keeps a frame: its table, and what the table does not do by itself. */
#include "base/text.h"
#include "base/units.h"
#include "image/guards/limits.h"
#include "night/night_curve.h"
#include "night/night_frame.h"
#include "sky/stamp_json.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MEMBER(name) .at = offsetof(struct night_frame, name)
#define TEXT_MEMBER(name) MEMBER(name), .size = sizeof((struct night_frame *)NULL)->name
/* A number of the frame itself, which reads as 0 outside its range. */
#define NUMBER(name, member, digits, of_unit, lowest, highest, says)                               \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, MEMBER(member), .decimals = digits, .unit = of_unit,   \
        .low = lowest, .high = highest, .text = says                                               \
    }
/* The same, written only if the file tells it. */
#define FACT(name, member, digits, of_unit, highest, says)                                         \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, MEMBER(member), .decimals = digits, .unit = of_unit,   \
        .low = 0, .high = highest, .text = says, .when = SCHEMA_POSITIVE                           \
    }
#define COUNT(name, member, highest, says)                                                         \
    {                                                                                              \
        .key = name, .kind = SCHEMA_INTEGER, MEMBER(member), .high = highest, .text = says         \
    }
#define PART(name, table, says)                                                                    \
    {                                                                                              \
        .key = name, .kind = SCHEMA_OBJECT, .of = &(table), .text = says                           \
    }
#define PART_IF(name, table, condition, says)                                                      \
    {                                                                                              \
        .key = name, .kind = SCHEMA_OBJECT, .of = &(table), .when = SCHEMA_IF,                     \
        .present = condition, .text = says                                                         \
    }
#define ROWS(table)                                                                                \
    {                                                                                              \
        .kind = SCHEMA_INCLUDE, .of = &(table)                                                     \
    }
#define ROWS_IF(table, condition)                                                                  \
    {                                                                                              \
        .kind = SCHEMA_INCLUDE, .of = &(table), .when = SCHEMA_IF, .present = condition            \
    }

static bool is_read(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->read;
}

static bool is_unread(const void *structure)
{
    return !is_read(structure);
}

static bool is_solved(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->solved;
}

static bool is_unsolved(const void *structure)
{
    return !is_solved(structure);
}

static bool has_health(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->says != NULL;
}

static bool has_file(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->bytes > 0 || frame->modified_ns != 0;
}

static bool has_time(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->start_utc.known || frame->start_local.known || frame->exposure_s > 0;
}

static bool has_place(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->latitude_deg != 0 || frame->longitude_deg != 0;
}

static bool has_pose(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->pose.focal_px > 0;
}

static bool has_target(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->target.name[0] != '\0';
}

static void put_name(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    schema_put_text(json, key, frame->name);
}

/* Whether the readable form loses some of the name. */
static bool is_spoilt(const void *structure)
{
    const struct night_frame *frame = structure;
    struct json readable = {0};
    json_string(&readable, NULL, frame->name);
    bool spoilt = readable.failed || strstr(readable.text, "\uFFFD");
    json_free(&readable);
    return spoilt;
}

/* All but letters, digits and usual marks as %FF. */
static void put_bytes(struct json *json, const char *key, const void *structure)
{
    static const char plain[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._- ";
    const struct night_frame *frame = structure;
    char *text = malloc(3 * strlen(frame->name) + 1), *out = text;
    for (const char *s = frame->name; text && *s; s++) {
        if (strchr(plain, *s)) {
            *out++ = *s;
        } else {
            out += snprintf(out, 4, "%%%02X", (unsigned)(unsigned char)*s);
        }
    }
    if (!text) {
        json->failed = true;
        return;
    }
    *out = '\0';
    schema_put_text(json, key, text);
    free(text);
}

static void put_ra(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    char text[24];
    text_write_ra(text, sizeof text, frame->ra_deg);
    schema_put_text(json, key, text);
}

static void put_dec(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    char text[24];
    text_write_dec(text, sizeof text, frame->dec_deg);
    schema_put_text(json, key, text);
}

/* The longest that is read of a text, with its end. */
enum { WHY_SIZE = 500, SAYS_SIZE = 240, NAME_SIZE = 64 };

/* NULL if there is none; night_frame_read finds out whether memory was short. */
static void take_text(char **to, size_t most, const struct json_node *object, const char *key)
{
    char text[WHY_SIZE];
    json_read_text(text, most, object, key);
    *to = text[0] ? text_copy(text) : NULL;
}

static void put_why(struct json *json, const char *key, const void *structure)
{
    schema_put_text(json, key, night_frame_why(structure));
}

static void take_why(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    take_text(&frame->why, WHY_SIZE, object, key);
}

static bool has_camera(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->camera != NULL;
}

static void put_camera(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    schema_put_text(json, key, frame->camera);
}

static void take_camera(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    take_text(&frame->camera, NAME_SIZE, object, key);
}

static bool has_lens(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->lens != NULL;
}

static void put_lens(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    schema_put_text(json, key, frame->lens);
}

static void take_lens(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    take_text(&frame->lens, NAME_SIZE, object, key);
}

static void take_health(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    const struct json_node *health = json_read_member(object, key);
    health_read_json(&frame->health, health);
    take_text(&frame->says, SAYS_SIZE, health, "says");
}

/* As text: readers that keep numbers as doubles would lose digits. */
static void put_digest(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    char text[20];
    snprintf(text, sizeof text, "%016" PRIx64, frame->digest);
    schema_put_text(json, key, text);
}

/* 0 for all but 16 digits. */
static void take_digest(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    const char *text = json_read_string(object, key);
    bool good = text && strlen(text) == 16 && strspn(text, "0123456789abcdef") == 16;
    frame->digest = good ? (uint64_t)strtoull(text, NULL, 16) : 0;
}

static bool has_digest(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->digest != 0;
}

/* Lines that do not say why are of a file that may be whole. */
static void take_cause(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    const char *cause = json_read_string(object, key);
    frame->unread = cause ? error_cause_read(cause) : CAUSE_SHORT;
}

static const char *cause_word(int cause)
{
    return error_cause_key((enum error_cause)cause);
}

static const char *verdict_word(int verdict)
{
    return aim_verdict_key((enum aim_verdict)verdict);
}

static const struct schema_row file_rows[] = {
    {.key = "bytes", .kind = SCHEMA_LARGE, MEMBER(bytes), .unit = "byte", .text = "its length"},
    {.key = "modified_ns",
     .kind = SCHEMA_LARGE,
     MEMBER(modified_ns),
     .unit = "ns",
     .text = "when it was last written, since 1970 UTC"},
    {.key = "digest",
     .kind = SCHEMA_TEXT,
     .put = put_digest,
     .take = take_digest,
     .when = SCHEMA_IF,
     .present = has_digest,
     .text = "of its content, 64 bits in hexadecimal"},
    {.key = "read_errors",
     .kind = SCHEMA_INTEGER,
     MEMBER(read_errors),
     .high = 1e9,
     .when = SCHEMA_POSITIVE,
     .text = "tries that the disk, card or network failed"},
    {0},
};
static const struct schema file_schema = {.row = file_rows};

static const struct schema_row picture_rows[] = {
    {.key = "format",
     .kind = SCHEMA_TEXT,
     TEXT_MEMBER(format),
     .text = "of the file: JPEG, PNG, TIFF, FITS, camera raw"},
    COUNT("width", width, LIMIT_SIDE, "columns of pixels, as displayed"),
    COUNT("height", height, LIMIT_SIDE, "rows of pixels, as displayed"),
    {0},
};
static const struct schema picture_schema = {.row = picture_rows};

static const struct schema_row camera_rows[] = {
    {.key = "model",
     .kind = SCHEMA_TEXT,
     .put = put_camera,
     .take = take_camera,
     .when = SCHEMA_IF,
     .present = has_camera,
     .text = "the camera's body"},
    {.key = "lens",
     .kind = SCHEMA_TEXT,
     .put = put_lens,
     .take = take_lens,
     .when = SCHEMA_IF,
     .present = has_lens,
     .text = "the lens"},
    FACT("focal_mm", focal_mm, 2, "mm", 1e6, "focal length"),
    FACT("f_number", f_number, 2, NULL, 1e6, "aperture: focal length over it"),
    FACT("iso", iso, 0, NULL, 1e9, "ISO speed"),
    {0},
};
static const struct schema camera_schema = {.row = camera_rows};

static bool has_errors(const void *frame)
{
    const struct night_frame *f = frame;
    return isfinite(f->middle_error_px) && isfinite(f->corner_error_px);
}

/* Along the parallel and the meridian; the first as a difference of right ascension. */
static double centre_error_deg(const struct night_frame *frame)
{
    return frame->middle_error_px * frame->scale_arcsec / 3600;
}

static void put_ra_error(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    schema_put_number(json, key,
                      centre_error_deg(frame) / fmax(cos(frame->dec_deg * RAD_PER_DEG), 1e-6));
}

static void put_dec_error(struct json *json, const char *key, const void *structure)
{
    schema_put_number(json, key, centre_error_deg(structure));
}

static const struct schema_row centre_rows[] = {
    {.key = "ra_deg",
     .kind = SCHEMA_NUMBER,
     MEMBER(ra_deg),
     .decimals = 6,
     .unit = "deg",
     .low = -360,
     .high = 360,
     .missing = (double)NAN,
     .text = "right ascension, ICRS"},
    {.key = "dec_deg",
     .kind = SCHEMA_NUMBER,
     MEMBER(dec_deg),
     .decimals = 6,
     .unit = "deg",
     .low = -90,
     .high = 90,
     .missing = (double)NAN,
     .text = "declination, ICRS"},
    {.key = "ra", .kind = SCHEMA_TEXT, .put = put_ra, .text = "ra_deg in hours, minutes, seconds"},
    {.key = "dec",
     .kind = SCHEMA_TEXT,
     .put = put_dec,
     .text = "dec_deg in degrees, minutes, seconds"},
    {.key = "ra_deg_error",
     .kind = SCHEMA_NUMBER,
     .put = put_ra_error,
     .decimals = 7,
     .unit = "deg",
     .when = SCHEMA_IF,
     .present = has_errors,
     .text = "of ra_deg, one sigma"},
    {.key = "dec_deg_error",
     .kind = SCHEMA_NUMBER,
     .put = put_dec_error,
     .decimals = 7,
     .unit = "deg",
     .when = SCHEMA_IF,
     .present = has_errors,
     .text = "of dec_deg, one sigma"},
    {0},
};
static const struct schema centre_schema = {.row = centre_rows};

static const struct schema_row field_rows[] = {
    NUMBER("width_deg", field_width_deg, 5, "deg", 0, 360, "through the middle"),
    NUMBER("height_deg", field_height_deg, 5, "deg", 0, 360, "through the middle"),
    {0},
};
static const struct schema field_schema = {.row = field_rows};

static bool is_curved(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->projection != PROJECTION_TAN;
}

static const char *projection_word(int kind)
{
    return projection_code((enum projection_kind)kind);
}

static const struct schema_row curve_rows[] = {
    {.key = "projection",
     .kind = SCHEMA_WORD,
     MEMBER(projection),
     .count = PROJECTION_KINDS,
     .word = projection_word,
     .text = "of a fisheye or panorama, as FITS names it"},
    NUMBER("reach_deg", reach_deg, 3, "deg", 0, 360,
           "how far from its axis, or from the horizon of a panorama, stars prove it"),
    {0},
};
static const struct schema curve_schema = {.row = curve_rows};

static const struct schema_row geometry_rows[] = {
    PART("centre", centre_schema, "of the picture"),
    PART("field", field_schema, "how much of the sky it shows"),
    NUMBER("scale_arcsec_px", scale_arcsec, 5, "arcsec/px", 1e-6, 1e6, "in the middle"),
    NUMBER("up_angle_deg", up_angle_deg, 3, "deg", -360, 360,
           "position angle of picture-up: east of north, 0 to 360"),
    {.key = "scale_arcsec_px_error",
     .kind = SCHEMA_FLOAT,
     MEMBER(scale_error_arcsec),
     .decimals = 7,
     .unit = "arcsec/px",
     .when = SCHEMA_KNOWN,
     .missing = (double)NAN,
     .text = "of scale_arcsec_px, one sigma"},
    {.key = "up_angle_deg_error",
     .kind = SCHEMA_FLOAT,
     MEMBER(up_angle_error_deg),
     .decimals = 6,
     .unit = "deg",
     .when = SCHEMA_KNOWN,
     .missing = (double)NAN,
     .text = "of up_angle_deg, one sigma"},
    {.key = "mirrored",
     .kind = SCHEMA_BOOL,
     MEMBER(mirrored),
     .text = "the picture shows the sky as in a mirror"},
    ROWS_IF(curve_schema, is_curved),
    {0},
};
static const struct schema geometry_schema = {.row = geometry_rows};

#define ERROR_NUMBER(name, member, says)                                                           \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, MEMBER(member), .decimals = 4, .unit = "px",           \
        .high = 1e6, .missing = (double)NAN, .when = SCHEMA_IF, .present = has_errors,             \
        .text = says                                                                               \
    }

static const struct schema_row match_rows[] = {
    COUNT("matched", matched, 1e9, "stars paired with the catalogue"),
    NUMBER("rms_px", rms_px, 4, "px", 0, 1e6, "their residuals, rms"),
    NUMBER("rms_arcsec", rms_arcsec, 4, "arcsec", 0, 1e6, "the same on the sky"),
    ERROR_NUMBER("middle_error_px", middle_error_px,
                 "how far the middle may be off, one sigma of x and of y"),
    ERROR_NUMBER("corner_error_px", corner_error_px,
                 "the same of the corner that is known worst; what the stars do not decide of the "
                 "lens is in it"),
    {0},
};
static const struct schema match_schema = {.row = match_rows};

static const struct schema_row stars_rows[] = {
    COUNT("detected", detected, 1e9, "stars found in the picture"),
    ROWS_IF(match_schema, is_solved),
    {0},
};
static const struct schema stars_schema = {.row = stars_rows};

static bool has_percent(const void *frame)
{
    return isfinite(((const struct night_frame *)frame)->distortion_percent);
}

static bool has_known_lens(const void *frame)
{
    return ((const struct night_frame *)frame)->by_lens;
}

static const struct schema_row distortion_rows[] = {
    COUNT("order", distortion_order, WCS_MAX_ORDER, "of the polynomials; 0: none"),
    NUMBER("corner_px", distortion_px, 3, "px", 0, 1e6, "how far it moves the corners"),
    {.key = "corner_percent",
     .kind = SCHEMA_NUMBER,
     MEMBER(distortion_percent),
     .decimals = 4,
     .unit = "%",
     .low = -100,
     .high = 100,
     .missing = (double)NAN,
     .when = SCHEMA_IF,
     .present = has_percent,
     .text = "by how much of the distance where they belong the corners are drawn too far out: "
             "barrel negative, pincushion positive"},
    {.key = "known",
     .kind = SCHEMA_BOOL,
     MEMBER(by_lens),
     .when = SCHEMA_IF,
     .present = has_known_lens,
     .text = "the lens is as it was learned before, by a profile of the settings file"},
    {0},
};
static const struct schema distortion_schema = {.row = distortion_rows};

#define POSE_NUMBER(name, member, digits, of_unit, lowest, highest, says)                          \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, .at = offsetof(struct night_pose, member),             \
        .decimals = digits, .unit = of_unit, .low = lowest, .high = highest, .text = says          \
    }

static const struct schema_row pose_rows[] = {
    {.key = "axes",
     .kind = SCHEMA_NUMBERS,
     .at = offsetof(struct night_pose, axis),
     .count = 9,
     .decimals = 10,
     .missing = (double)NAN,
     .text = "camera right, down and out: three unit vectors, ICRS"},
    POSE_NUMBER("focal_px", focal_px, 3, "px", 1, 1e9, "focal length"),
    POSE_NUMBER("distortion", distortion, 8, NULL, -1, 1,
                "share by which the radius grows at half_diagonal_px, barrel negative"),
    POSE_NUMBER("axis_x_px", x, 3, "px", -1e6, 1e6,
                "the optical axis, to the right of the middle of the picture"),
    POSE_NUMBER("axis_y_px", y, 3, "px", -1e6, 1e6, "the same, below the middle"),
    POSE_NUMBER("half_diagonal_px", half_diagonal, 3, "px", 0.5, 1e6, "of the picture"),
    {0},
};

/* A pose whose axes are not at right angles is none. */
static bool is_pose(const void *structure)
{
    const struct night_pose *pose = structure;
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
static const struct schema pose_schema = {.row = pose_rows, .accept = is_pose};

static bool has_pixel(const void *structure)
{
    const struct night_target *target = structure;
    return target->has_pixel;
}

static bool has_curve(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->projection != PROJECTION_TAN && !(frame->pose.focal_px > 0) &&
           night_curve_is_known(&frame->curve);
}

static void put_curve(struct json *json, const char *key, const void *structure)
{
    double number[NIGHT_CURVE_NUMBERS];
    night_curve_numbers(number, &((const struct night_frame *)structure)->curve);
    schema_open(json, key);
    for (int i = 0; i < NIGHT_CURVE_NUMBERS; i++) {
        schema_put_number(json, NULL, number[i]);
    }
    schema_close(json);
}

/* After the pose, in whose place it is. */
static void take_curve(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    const struct json_node *array = json_read_member(object, key);
    double number[NIGHT_CURVE_NUMBERS];
    for (int i = 0; i < NIGHT_CURVE_NUMBERS; i++) {
        number[i] = json_node_number(json_read_element(array, i));
    }
    if (frame->projection != PROJECTION_TAN && array) {
        night_curve_from_numbers(&frame->curve, number);
    }
}

#define TARGET_NUMBER(name, member, digits, of_unit, lowest, highest, says)                        \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, .at = offsetof(struct night_target, member),           \
        .decimals = digits, .unit = of_unit, .low = lowest, .high = highest, .text = says          \
    }
#define TARGET_PIXEL(name, member, says)                                                           \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, .at = offsetof(struct night_target, member),           \
        .decimals = 2, .unit = "px", .missing = (double)NAN, .text = says                          \
    }

static const struct schema_row pixel_rows[] = {
    TARGET_PIXEL("x", x, "its centre, to the right; also outside the picture"),
    TARGET_PIXEL("y", y, "its centre, down"),
    {0},
};
static const struct schema pixel_schema = {.row = pixel_rows};

static const struct schema_row target_rows[] = {
    {.key = "name",
     .kind = SCHEMA_TEXT,
     .at = offsetof(struct night_target, name),
     .size = sizeof((struct night_target *)NULL)->name,
     .text = "what should be in the frame"},
    TARGET_NUMBER("ra_deg", ra_deg, 6, "deg", -360, 360, "right ascension, ICRS"),
    TARGET_NUMBER("dec_deg", dec_deg, 6, "deg", -90, 90, "declination, ICRS"),
    {.key = "in_frame",
     .kind = SCHEMA_WORD,
     .at = offsetof(struct night_target, verdict),
     .count = AIM_WHOLE + 1,
     .word = verdict_word,
     .text = "how much of it is in the frame"},
    TARGET_NUMBER("share", share, 3, NULL, 0, 1, "share of its area that is in the frame"),
    ROWS_IF(pixel_schema, has_pixel),
    {0},
};
static const struct schema target_schema = {.row = target_rows};

static bool has_share(const void *frame)
{
    return isfinite(((const struct night_frame *)frame)->proven_share);
}

static bool has_zones(const void *frame)
{
    return ((const struct night_frame *)frame)->trust != NULL;
}

static void put_zones(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    char text[TRUST_ZONES + 1];
    trust_write(text, frame->trust);
    schema_put_text(json, key, text);
}

static void take_zones(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    const char *text = json_read_string(object, key);
    struct trust trust;
    if (text && trust_read(&trust, text, frame->width, frame->height)) {
        trust.sky_share = frame->proven_sky_share;
        frame->trust = malloc(sizeof trust);
        if (frame->trust) {
            *frame->trust = trust;
        }
    }
}

#define SHARE_NUMBER(name, member, says)                                                           \
    {                                                                                              \
        .key = name, .kind = SCHEMA_NUMBER, MEMBER(member), .decimals = 3, .low = 0, .high = 1,    \
        .missing = (double)NAN, .text = says                                                       \
    }

static const struct schema_row zones_rows[] = {
    SHARE_NUMBER("sky_share", proven_sky_share, "share of what looks like sky"),
    {.key = "zones",
     .kind = SCHEMA_TEXT,
     .put = put_zones,
     .take = take_zones,
     .text =
         "24 x 16 zones row by row from the upper left, a letter each: p proven by its stars, b "
         "proven by what is beside it, - not proven, u too few stars to tell"},
    {0},
};
static const struct schema zones_schema = {.row = zones_rows};

static const struct schema_row proven_rows[] = {
    SHARE_NUMBER("share", proven_share, "share of the picture"),
    ROWS_IF(zones_schema, has_zones),
    {0},
};
static const struct schema proven_schema = {.row = proven_rows};

static const struct schema_row trust_rows[] = {
    PART_IF("proven", proven_schema, has_share,
            "where stars are found at their places, if it was looked for; nothing beyond counts as "
            "in the frame"),
    NUMBER("chance_log10", chance_log10, 2, NULL, -1e9, 0,
           "upper bound of the chance that the match is wrong, as a power of ten"),
    PART("distortion", distortion_schema, "of the lens, as fitted"),
    {.key = "pose",
     .kind = SCHEMA_OBJECT,
     .of = &pose_schema,
     MEMBER(pose),
     .size = sizeof(struct night_pose),
     .when = SCHEMA_IF,
     .present = has_pose,
     .text = "the camera, as the next frame is expected from it"},
    {.key = "drawn_by",
     .kind = SCHEMA_NUMBERS,
     .count = NIGHT_CURVE_NUMBERS,
     .decimals = 13,
     .when = SCHEMA_IF,
     .present = has_curve,
     .put = put_curve,
     .take = take_curve,
     .text =
         "a fisheye or panorama: reference direction (RA, Dec, deg), its pixel, matrix (deg/px, "
         "by rows), position angle of a cylinder's axis (deg), radial terms at half of the "
         "diagonal"},
    {.key = "target",
     .kind = SCHEMA_OBJECT,
     .of = &target_schema,
     MEMBER(target),
     .size = sizeof(struct night_target),
     .when = SCHEMA_IF,
     .present = has_target,
     .text = "where the target is"},
    {0},
};
static const struct schema trust_schema = {.row = trust_rows};

static bool has_start_utc(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->start_utc.known;
}

static bool has_start_local(const void *structure)
{
    const struct night_frame *frame = structure;
    return frame->start_local.known;
}

static void put_start_utc(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    stamp_json_put(json, key, &frame->start_utc);
}

static void put_start_local(struct json *json, const char *key, const void *structure)
{
    const struct night_frame *frame = structure;
    stamp_json_put(json, key, &frame->start_local);
}

/* The key says whether it is UTC. */
static void take_time(struct time_stamp *stamp, bool zoned, const struct json_node *object,
                      const char *key)
{
    stamp_json_take(stamp, object, key);
    stamp->zoned = stamp->known && zoned;
}

static void take_start_utc(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    take_time(&frame->start_utc, true, object, key);
}

static void take_start_local(void *structure, const struct json_node *object, const char *key)
{
    struct night_frame *frame = structure;
    take_time(&frame->start_local, false, object, key);
}

static const struct schema_row time_rows[] = {
    {.key = "start_utc",
     .kind = SCHEMA_TEXT,
     .put = put_start_utc,
     .take = take_start_utc,
     .when = SCHEMA_IF,
     .present = has_start_utc,
     .text = "when the exposure began, UTC"},
    {.key = "start_local",
     .kind = SCHEMA_TEXT,
     .put = put_start_local,
     .take = take_start_local,
     .when = SCHEMA_IF,
     .present = has_start_local,
     .text = "the same by the camera's clock, in whatever zone"},
    FACT("exposure_s", exposure_s, 6, "s", 1e6, "exposure time"),
    {0},
};
static const struct schema time_schema = {.row = time_rows};

static const struct schema_row place_rows[] = {
    NUMBER("latitude_deg", latitude_deg, 6, "deg", -90, 90, "north positive"),
    NUMBER("longitude_deg", longitude_deg, 6, "deg", -180, 180, "east positive"),
    NUMBER("height_m", height_m, 1, "m", -500, 9000, "above sea level; 0 also if it is not told"),
    {0},
};
static const struct schema place_schema = {.row = place_rows};

static bool is_streak(const void *structure)
{
    const struct streak *streak = structure;
    return isfinite(streak->x0 + streak->y0 + streak->x1 + streak->y1);
}

#define STREAK_NUMBER(name, says)                                                                  \
    {                                                                                              \
        .key = #name, .kind = SCHEMA_NUMBER, .at = offsetof(struct streak, name), .unit = "px",    \
        .missing = (double)NAN, .text = says                                                       \
    }

static const struct schema_row streak_rows[] = {
    STREAK_NUMBER(x0, "its left end, to the right"),
    STREAK_NUMBER(y0, "its left end, down"),
    STREAK_NUMBER(x1, "its right end, to the right"),
    STREAK_NUMBER(y1, "its right end, down"),
    {0},
};
static const struct schema streak_schema = {.row = streak_rows, .accept = is_streak};

static const struct schema_row health_ms_rows[] = {
    NUMBER("health", times.health_ms, 2, "ms", 0, 1e12, "to measure health"),
    {0},
};
static const struct schema health_ms_schema = {.row = health_ms_rows};

static const struct schema_row elapsed_rows[] = {
    NUMBER("read", times.read_ms, 2, "ms", 0, 1e12, "to read the file"),
    NUMBER("detect", times.detect_ms, 2, "ms", 0, 1e12, "to find the stars"),
    NUMBER("match", times.match_ms, 3, "ms", 0, 1e12, "to search"),
    NUMBER("fit", times.fit_ms, 3, "ms", 0, 1e12, "to fit"),
    ROWS_IF(health_ms_schema, has_health),
    NUMBER("total", times.total_ms, 2, "ms", 0, 1e12, "all in all"),
    {0},
};
static const struct schema elapsed_schema = {.row = elapsed_rows};

static const struct schema_row measured_rows[] = {
    PART("picture", picture_schema, "the picture"),
    PART("camera", camera_schema, "what the file tells of the camera"),
    ROWS_IF(geometry_schema, is_solved),
    PART("stars", stars_schema, "stars in the picture"),
    ROWS_IF(trust_schema, is_solved),
    PART_IF("time", time_schema, has_time, "when, if the file tells"),
    PART_IF("place", place_schema, has_place,
            "where, if the file tells: by the camera's receiver, or FITS cards"),
    {.key = "health",
     .kind = SCHEMA_OBJECT,
     .of = &health_schema,
     MEMBER(health),
     .when = SCHEMA_IF,
     .present = has_health,
     .take = take_health,
     .text = "how good the frame is, if that was measured"},
    {.key = "streaks",
     .kind = SCHEMA_OBJECTS,
     .of = &streak_schema,
     MEMBER(streaks.streak),
     .size = sizeof(struct streak),
     .number_at = offsetof(struct night_frame, streaks.count),
     .count = STREAKS_MOST,
     .when = SCHEMA_FILLED,
     .text = "satellites and aeroplanes that crossed the picture"},
    PART("elapsed_ms", elapsed_schema, "how long the work took"),
    {0},
};
static const struct schema measured_schema = {.row = measured_rows};

static const struct schema_row head_rows[] = {
    {.key = "frame", .kind = SCHEMA_TEXT, .put = put_name, .text = "the file as named"},
    {.key = "format",
     .kind = SCHEMA_VERSION,
     .text = "number of the format; a line without it is of format 1"},
    {.key = "solved", .kind = SCHEMA_BOOL, MEMBER(solved), .text = "where it points is known"},
    {.key = "why",
     .kind = SCHEMA_TEXT,
     .put = put_why,
     .take = take_why,
     .when = SCHEMA_IF,
     .present = is_unsolved,
     .text = "if it is not solved: a short sentence"},
    {.key = "unread",
     .kind = SCHEMA_WORD,
     MEMBER(unread),
     .count = ERROR_CAUSES,
     .word = cause_word,
     .take = take_cause,
     .when = SCHEMA_IF,
     .present = is_unread,
     .text = "if it could not be read: what kept it from that"},
    {0},
};
const struct schema night_frame_head_schema = {.row = head_rows};

static const struct schema_row details_rows[] = {
    {.key = "frame_bytes",
     .kind = SCHEMA_TEXT,
     .put = put_bytes,
     .when = SCHEMA_IF,
     .present = is_spoilt,
     .text = "if the name is no UTF-8: the name with its odd bytes as %FF"},
    PART_IF("file", file_schema, has_file, "by which a file is known again"),
    ROWS_IF(measured_schema, is_read),
    {0},
};
const struct schema night_frame_details_schema = {.name = "frame", .row = details_rows};

static const struct schema_row frame_rows[] = {
    ROWS(night_frame_head_schema),
    ROWS(night_frame_details_schema),
    {0},
};
const struct schema night_frame_schema = {
    .name = "frame",
    .text = "A frame: a line of solve, of watch, and of the log of a night.",
    .row = frame_rows};
