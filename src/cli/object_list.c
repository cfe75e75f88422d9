#include "cli/object_list.h"

#include "base/json.h"
#include "cli/object_report.h"
#include "cli/solve_report.h"

#include <math.h>
#include <string.h>

/* A text of parts with ';' between them as an array. */
static void add_names(struct json *json, const char *key, const char *names)
{
    json_open(json, key, '[');
    while (*names) {
        char name[120];
        size_t length = strcspn(names, ";");
        snprintf(name, sizeof name, "%.*s", (int)length, names);
        json_string(json, NULL, name);
        names += length + (names[length] == ';');
    }
    json_close(json, ']');
}

static void add_known(struct json *json, const char *key, double value, int decimals)
{
    if (!isnan(value)) {
        json_number(json, key, value, decimals);
    }
}

void object_json_facts(struct json *json, const struct object *object, const struct atlas *atlas)
{
    json_string(json, "id", object->id);
    add_names(json, "names", object->common_names);
    add_names(json, "other_names", object->other_names);
    json_string(json, "type", object_type_word(object->type));
    json_string(json, "constellation",
                place_constellation(&atlas->map, object->ra_deg, object->dec_deg));
    json_number(json, "ra_deg", object->ra_deg, 5);
    json_number(json, "dec_deg", object->dec_deg, 5);
    add_known(json, "magnitude", object->magnitude, 2);
    add_known(json, "major_arcmin", object->major_arcmin, 3);
    add_known(json, "minor_arcmin", object->minor_arcmin, 3);
    add_known(json, "angle_deg", object->angle_deg, 0);
}

static void add_found(struct json *json, const char *key, const struct field_object *found,
                      int count, const struct atlas *atlas)
{
    json_open(json, key, '[');
    for (int i = 0; i < count; i++) {
        json_open(json, NULL, '{');
        object_json_facts(json, found[i].object, atlas);
        json_open(json, "pixel", '{');
        json_number(json, "x", found[i].x, 2);
        json_number(json, "y", found[i].y, 2);
        json_close(json, '}');
        json_number(json, "share", found[i].share, 3);
        json_close(json, '}');
    }
    json_close(json, ']');
}

static void add_bodies(struct json *json, const struct listing *listing)
{
    json_open(json, "bodies", '[');
    for (int i = 0; i < listing->bodies; i++) {
        const struct field_body *body = &listing->body[i];
        json_open(json, NULL, '{');
        json_string(json, "name", body->name);
        json_number(json, "ra_deg", body->ra_deg, 5);
        json_number(json, "dec_deg", body->dec_deg, 5);
        json_open(json, "pixel", '{');
        json_number(json, "x", body->x, 2);
        json_number(json, "y", body->y, 2);
        json_close(json, '}');
        json_close(json, '}');
    }
    json_close(json, ']');
}

static int write_json(FILE *out, const struct solved_frame *solved, const struct listing *listing,
                      struct error *err)
{
    const struct field *field = listing->field;
    int most = listing->most > 0 ? listing->most : field->objects + field->stars;
    struct json json = {0};
    solve_report_open(&json, solved, NULL);
    add_found(&json, "objects", field->object, field->objects < most ? field->objects : most,
              listing->atlas);
    add_found(&json, "stars", field->star, field->stars < most ? field->stars : most,
              listing->atlas);
    add_bodies(&json, listing);
    return json_end_line(&json, out, err);
}

int object_list_write(FILE *out, const struct solved_frame *solved, const struct occasion *occasion,
                      const struct atlas *atlas, enum list_format format, int most, bool header,
                      struct error *err)
{
    struct field field = {0};
    struct field_body body[BODIES_MOST];
    struct listing listing = {solved->name, &field, atlas, most, body, 0};
    if (occasion->has_utc) {
        listing.bodies = bodies_find(body, &solved->solution.wcs,
                                     occasion->has_place ? &occasion->place : NULL, occasion->mid);
    }
    int code = field_list(&field, &solved->solution.wcs, &atlas->objects, err);
    if (!code && format == LIST_JSON) {
        code = write_json(out, solved, &listing, err);
    } else if (!code && format == LIST_CSV) {
        listing_write_csv(out, &listing, header);
    } else if (!code) {
        listing_write_text(out, &listing);
    }
    field_free(&field);
    return code;
}
