#include "cli/object_report.h"

#include "base/text.h"
#include "base/units.h"
#include "cli/object_schema.h"
#include "objects/caption.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Other objects are worth a word within so many fields, and so many of them. */
enum { NEIGHBOURS = 4 };

/* A star that people find without a chart. */
static const double chart_star_magnitude = 3.5;

static void write_head(FILE *out, const struct object *object, const struct atlas *atlas)
{
    char name[160];
    const char *sign = place_constellation(&atlas->map, object->ra_deg, object->dec_deg);
    const struct constellation *in =
        constellations_find(&atlas->constellations, sign, object->ra_deg, object->dec_deg);
    caption_full(name, sizeof name, object);
    fprintf(out, "%s: %s%s%s\n", name, object_type_word(object->type), in ? " in " : "",
            in ? in->name : "");
}

/* The usual name comes first in the list, and stands above. */
static const char *names_besides_usual(const struct object *object)
{
    const char *names = object->common_names;
    return object->usual_name && object->usual_name[0] ? names + strcspn(names, ";") : names;
}

/* "NGC 1976, Sh2-281", and all nicknames. */
static void write_names(FILE *out, const struct object *object)
{
    const char *lists[2] = {names_besides_usual(object), object->other_names};
    int count = 0;
    for (int i = 0; i < 2; i++) {
        const char *next = lists[i] + (*lists[i] == ';');
        while (*next) {
            size_t length = strcspn(next, ";");
            fprintf(out, "%s%.*s", count++ ? ", " : "  also       ", (int)length, next);
            next += length + (next[length] == ';');
        }
    }
    fputs(count ? "\n" : "", out);
}

static void write_place(FILE *out, const struct object *object, const struct atlas *atlas)
{
    char ra[24], dec[24], angle[24];
    double distance;
    text_write_ra(ra, sizeof ra, object->ra_deg);
    text_write_dec(dec, sizeof dec, object->dec_deg);
    fprintf(out, "  place      %s %s, RA %.4f°, Dec %.4f°\n", ra, dec, object->ra_deg,
            object->dec_deg);
    const struct object *star = place_nearest_star(&distance, &atlas->objects, object->ra_deg,
                                                   object->dec_deg, chart_star_magnitude);
    if (star && star != object) {
        text_write_angle(angle, sizeof angle, distance);
        fprintf(out, "  from       %s, magnitude %.1f: %s away\n", star->id, star->magnitude,
                angle);
    }
}

static void write_size(FILE *out, const struct object *object)
{
    char major[24], minor[24];
    if (!(object->major_arcmin > 0)) {
        return;
    }
    text_write_angle(major, sizeof major, object->major_arcmin / 60);
    text_write_angle(minor, sizeof minor, object->minor_arcmin / 60);
    bool round = !(object->minor_arcmin < object->major_arcmin);
    fprintf(out, "  size       %s%s%s", major, round ? "" : " x ", round ? "" : minor);
    if (!round && isfinite(object->angle_deg)) {
        fprintf(out, ", its length at %.0f° east of north", object->angle_deg);
    }
    fputs("\n", out);
}

/* Magnitude, and spread over its area where that is known: what decides how long to expose. */
static void write_brightness(FILE *out, const struct object *object)
{
    if (isnan(object->magnitude)) {
        return;
    }
    fprintf(out, "  magnitude  %.1f", object->magnitude);
    double area = object_area_arcmin2(object) * 3600;
    if (area > 0) {
        fprintf(out, ", %.1f mag/arcsec² if spread evenly", object->magnitude + 2.5 * log10(area));
    }
    fputs("\n", out);
}

static void write_frame(FILE *out, const struct object *object, const struct other_frame *frame)
{
    char width[24], height[24];
    if (frame->width_deg <= 0) {
        return;
    }
    text_write_angle(width, sizeof width, frame->width_deg);
    text_write_angle(height, sizeof height, frame->height_deg);
    fprintf(out, "  your frame %s x %s with %s", width, height, frame->name);
    double size_deg = object->major_arcmin / 60, part = size_deg / frame->height_deg;
    if (size_deg > 0 && part <= 1) {
        fprintf(out, ": it takes %.0f %% of the height", 100 * part);
    } else if (size_deg > 0) {
        fprintf(out, ": it is %.1f times as large as the height", part);
    }
    fputs("\n", out);
}

/* The most notable others that a frame centred on it can hold. */
static int find_neighbours(const struct object *near[NEIGHBOURS], const struct object *object,
                           const struct other_frame *frame, const struct objects *objects)
{
    int count = 0;
    for (int i = 0; i < objects->deep_sky && count < NEIGHBOURS; i++) {
        const struct object *other = &objects->object[i];
        double distance =
            radec_angle_deg(object->ra_deg, object->dec_deg, other->ra_deg, other->dec_deg);
        if (other != object && distance < frame->height_deg / 2 && !isnan(other->magnitude)) {
            near[count++] = other; /* the table begins with the best known catalogues */
        }
    }
    return count;
}

static void write_neighbours(FILE *out, const struct object *object,
                             const struct other_frame *frame, const struct objects *objects)
{
    const struct object *near[NEIGHBOURS];
    int count = find_neighbours(near, object, frame, objects);
    for (int i = 0; i < count; i++) {
        char name[160];
        caption_full(name, sizeof name, near[i]);
        fprintf(out, "%s%s", i ? ", " : "  with it    ", name);
    }
    fputs(count ? "\n" : "", out);
}

void object_report_text(FILE *out, const struct object *object, const struct other_frame *frame,
                        const struct atlas *atlas)
{
    write_head(out, object, atlas);
    write_names(out, object);
    write_place(out, object, atlas);
    write_size(out, object);
    write_brightness(out, object);
    write_frame(out, object, frame);
    write_neighbours(out, object, frame, &atlas->objects);
}

/* A text of parts with ';' between them as an array. */
static void add_names(struct json *json, const char *key, const char *names)
{
    schema_open(json, key);
    while (*names) {
        char name[120];
        size_t length = strcspn(names, ";");
        snprintf(name, sizeof name, "%.*s", (int)length, names);
        schema_put_text(json, NULL, name);
        names += length + (names[length] == ';');
    }
    schema_close(json);
}

static void add_known(struct json *json, const char *key, double value)
{
    if (!isnan(value)) {
        schema_put_number(json, key, value);
    }
}

void object_json_facts(struct json *json, const struct object *object, const struct atlas *atlas)
{
    schema_put_text(json, "id", object->id);
    add_names(json, "names", object->common_names);
    add_names(json, "other_names", object->other_names);
    schema_put_word(json, "type", (int)object->type);
    schema_put_text(json, "constellation",
                    place_constellation(&atlas->map, object->ra_deg, object->dec_deg));
    schema_put_number(json, "ra_deg", object->ra_deg);
    schema_put_number(json, "dec_deg", object->dec_deg);
    add_known(json, "magnitude", object->magnitude);
    add_known(json, "major_arcmin", object->major_arcmin);
    add_known(json, "minor_arcmin", object->minor_arcmin);
    add_known(json, "angle_deg", object->angle_deg);
}

int object_report_json(FILE *out, const struct object *object, const struct other_frame *frame,
                       const struct atlas *atlas, struct error *err)
{
    struct json json = {0};
    schema_begin(&json, &object_schema);
    schema_put_format(&json);
    object_json_facts(&json, object, atlas);
    if (frame->width_deg > 0) {
        schema_open(&json, "frame");
        schema_put_text(&json, "of", frame->name);
        schema_put_number(&json, "width_deg", frame->width_deg);
        schema_put_number(&json, "height_deg", frame->height_deg);
        schema_close(&json);
    }
    return schema_end_line(&json, out, err);
}
