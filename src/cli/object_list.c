#include "cli/object_list.h"

#include "cli/object_report.h"
#include "cli/object_schema.h"
#include "cli/parts_schema.h"
#include "cli/solve_report.h"

#include <string.h>

static void add_found(struct json *json, const char *key, const struct field_object *found,
                      int count, const struct atlas *atlas)
{
    schema_open(json, key);
    for (int i = 0; i < count; i++) {
        schema_open(json, NULL);
        object_json_facts(json, found[i].object, atlas);
        parts_put_pixel(json, found[i].x, found[i].y);
        schema_put_number(json, "share", found[i].share);
        schema_close(json);
    }
    schema_close(json);
}

static void add_bodies(struct json *json, const struct listing *listing)
{
    schema_open(json, "bodies");
    for (int i = 0; i < listing->bodies; i++) {
        const struct field_body *body = &listing->body[i];
        schema_open(json, NULL);
        schema_put_text(json, "name", body->name);
        schema_put_number(json, "ra_deg", body->ra_deg);
        schema_put_number(json, "dec_deg", body->dec_deg);
        parts_put_pixel(json, body->x, body->y);
        schema_close(json);
    }
    schema_close(json);
}

static int write_json(FILE *out, const struct solved_frame *solved, const struct listing *listing,
                      struct error *err)
{
    const struct field *field = listing->field;
    int most = listing->most > 0 ? listing->most : field->objects + field->stars;
    struct json json = {0};
    solve_report_open(&json, &object_list_schema, solved, NULL);
    add_found(&json, "objects", field->object, field->objects < most ? field->objects : most,
              listing->atlas);
    add_found(&json, "stars", field->star, field->stars < most ? field->stars : most,
              listing->atlas);
    add_bodies(&json, listing);
    return schema_end_line(&json, out, err);
}

int object_list_unsolved(FILE *out, const struct solved_frame *solved, struct error *err)
{
    struct json json = {0};
    solve_report_open(&json, &object_list_schema, solved, NULL);
    return schema_end_line(&json, out, err);
}

int object_list_write(FILE *out, const struct solved_frame *solved, const struct occasion *occasion,
                      const struct atlas *atlas, enum list_format format, int most, bool header,
                      struct error *err)
{
    const struct trust *trust = &solved->solution.trust;
    struct field field = {0};
    struct field_body body[BODIES_MOST];
    struct listing listing = {solved->name, &field, atlas, most, body, 0};
    if (occasion->has_utc) {
        listing.bodies = bodies_find(body, &solved->solution.wcs,
                                     occasion->has_place ? &occasion->place : NULL, occasion->mid);
        listing.bodies = bodies_keep_proven(body, listing.bodies, trust);
    }
    int code = field_list(&field, &solved->solution.wcs, &atlas->objects, err);
    if (!code) {
        field_keep_proven(&field, &solved->solution.wcs, trust);
    }
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
