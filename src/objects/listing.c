#include "objects/listing.h"

#include "base/csv.h"
#include "base/utf8.h"
#include "objects/caption.h"

#include <math.h>
#include <string.h>

static int limited(const struct listing *listing, int count)
{
    return listing->most > 0 && count > listing->most ? listing->most : count;
}

/* "1.5° x 1°", "8' x 5'", "0.4'". */
static void write_size(char *out, size_t size, const struct object *object)
{
    double major = object->major_arcmin, minor = object->minor_arcmin;
    const char *unit = major >= 60 ? "°" : "'";
    double part = major >= 60 ? 60 : 1;
    out[0] = '\0';
    if (major > 0 && minor > 0 && minor < major) {
        snprintf(out, size, "%.2g x %.2g%s", major / part, minor / part, unit);
    } else if (major > 0) {
        snprintf(out, size, "%.2g%s", major / part, unit);
    }
}

/* Letters that take a place on the screen. */
static int shown_width(const char *text)
{
    return (int)utf8_count(text, strlen(text));
}

static void write_padded(FILE *out, const char *text, int width)
{
    fprintf(out, "%s%*s", text, width > shown_width(text) ? width - shown_width(text) : 0, "");
}

static void write_line(FILE *out, const struct field_object *found, int name_width)
{
    const struct object *object = found->object;
    char name[120], size[40], magnitude[16] = "", share[24] = "";
    caption_full(name, sizeof name, object);
    write_size(size, sizeof size, object);
    if (!isnan(object->magnitude)) {
        snprintf(magnitude, sizeof magnitude, "%.1f", object->magnitude);
    }
    if (found->share < 0.995) {
        snprintf(share, sizeof share, "  %.0f %% in", found->share * 100);
    }
    fputs("  ", out);
    write_padded(out, name, name_width);
    fprintf(out, "  %-19s  %5s  ", object_type_word(object->type), magnitude);
    write_padded(out, size, 13);
    fprintf(out, "  %7.0f %7.0f%s\n", found->x, found->y, share);
}

static int widest_name(const struct field_object *found, int count)
{
    int widest = 6;
    for (int i = 0; i < count; i++) {
        char name[120];
        caption_full(name, sizeof name, found[i].object);
        int width = shown_width(name);
        widest = width > widest ? width : widest;
    }
    return widest < 44 ? widest : 44;
}

static void write_table(FILE *out, const struct field_object *found, int count, const char *head)
{
    int width = widest_name(found, count);
    if (count > 0) {
        fprintf(out, "  %-*s  %-19s  %5s  %-13s  %7s %7s\n", width, head, "type", "mag", "size",
                "x", "y");
    }
    for (int i = 0; i < count; i++) {
        write_line(out, &found[i], width);
    }
}

static void write_bodies(FILE *out, const struct listing *listing)
{
    for (int i = 0; i < listing->bodies; i++) {
        const struct field_body *body = &listing->body[i];
        fprintf(out, "  %s at %.0f %.0f\n", body->name, body->x, body->y);
    }
}

void listing_write_text(FILE *out, const struct listing *listing)
{
    const struct field *field = listing->field;
    utf8_write_shown(out, listing->frame);
    fprintf(out, ": %d object%s and %d star%s with a name\n", field->objects,
            field->objects == 1 ? "" : "s", field->stars, field->stars == 1 ? "" : "s");
    write_bodies(out, listing);
    write_table(out, field->object, limited(listing, field->objects), "object");
    write_table(out, field->star, limited(listing, field->stars), "star");
}

static void write_row(FILE *out, const struct listing *listing, const struct field_object *found,
                      const char *kind)
{
    const struct object *object = found->object;
    const char *text[] = {
        listing->frame,
        kind,
        object->id,
        object->common_names,
        object->other_names,
        object_type_word(object->type),
        place_constellation(&listing->atlas->map, object->ra_deg, object->dec_deg),
    };
    for (size_t i = 0; i < sizeof text / sizeof *text; i++) {
        fputs(i ? "," : "", out);
        csv_write_text(out, text[i]);
    }
    csv_add_number(out, object->ra_deg, 5);
    csv_add_number(out, object->dec_deg, 5);
    csv_add_number(out, object->magnitude, 2);
    csv_add_number(out, object->major_arcmin, 3);
    csv_add_number(out, object->minor_arcmin, 3);
    csv_add_number(out, object->angle_deg, 0);
    csv_add_number(out, found->x, 2);
    csv_add_number(out, found->y, 2);
    csv_add_number(out, found->share, 3);
    fputs("\r\n", out);
}

static void write_body_row(FILE *out, const struct listing *listing, const struct field_body *body)
{
    csv_write_text(out, listing->frame);
    fprintf(out, ",body,%s,,,,", body->name);
    csv_write_text(out, place_constellation(&listing->atlas->map, body->ra_deg, body->dec_deg));
    csv_add_number(out, body->ra_deg, 5);
    csv_add_number(out, body->dec_deg, 5);
    fputs(",,,,", out);
    csv_add_number(out, body->x, 2);
    csv_add_number(out, body->y, 2);
    fputs(",\r\n", out);
}

void listing_write_csv(FILE *out, const struct listing *listing, bool header)
{
    if (header) {
        fputs("frame,kind,id,name,other_names,type,constellation,ra_deg,dec_deg,magnitude,"
              "major_arcmin,minor_arcmin,angle_deg,x,y,share\r\n",
              out);
    }
    for (int i = 0; i < limited(listing, listing->field->objects); i++) {
        write_row(out, listing, &listing->field->object[i], "object");
    }
    for (int i = 0; i < limited(listing, listing->field->stars); i++) {
        write_row(out, listing, &listing->field->star[i], "star");
    }
    for (int i = 0; i < listing->bodies; i++) {
        write_body_row(out, listing, &listing->body[i]);
    }
}
