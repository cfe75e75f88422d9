/* Where the field is and what it shows, in words. */
#include "base/text.h"
#include "objects/caption.h"
#include "objects/field.h"
#include "sky/vector.h"

#include <stdio.h>
#include <string.h>

/* A star that people find without a chart. */
static const double guide_magnitude = 2.6;

/* Where fewer objects than this are named, stars of this magnitude are named too. */
enum { FEW_OBJECTS = 2 };
static const double bright_magnitude = 4;

/* What is less notable than the first by more is not worth naming beside it. */
static const double weight_range = 6;

/* Of a constellation in two parts, Serpens, the nearer one. */
static const struct constellation *constellation_at(const struct atlas *atlas, double ra,
                                                    double dec)
{
    const struct constellations *all = &atlas->constellations;
    const char *abbreviation = place_constellation(&atlas->map, ra, dec);
    const struct constellation *found = NULL;
    double least = 0;
    for (int i = 0; i < all->count; i++) {
        const struct constellation *c = &all->item[i];
        double distance = radec_angle_deg(ra, dec, c->label_ra_deg, c->label_dec_deg);
        if (strcmp(c->abbreviation, abbreviation) == 0 && (!found || distance < least)) {
            found = c;
            least = distance;
        }
    }
    return found;
}

void field_write_place(char *out, size_t size, const struct wcs *wcs, const struct atlas *atlas)
{
    double ra, dec, distance;
    char text[300] = "", angle[24];
    wcs_centre(wcs, &ra, &dec);
    const struct constellation *constellation = constellation_at(atlas, ra, dec);
    if (constellation) {
        snprintf(text, sizeof text, "in %s", constellation->name);
    }
    const struct object *star =
        place_nearest_star(&distance, &atlas->objects, ra, dec, guide_magnitude);
    if (star) {
        text_write_angle(angle, sizeof angle, distance);
        text_append(text, sizeof text, "%s%s from %.80s", text[0] ? ", " : "", angle, star->id);
    }
    snprintf(out, size, "%s", text);
}

/* Adds a name to a list; false if it does not fit. */
static bool add_name(char *out, size_t size, const struct object *object)
{
    char name[120];
    caption_full(name, sizeof name, object);
    if (strlen(out) + strlen(name) + 3 > size) {
        return false;
    }
    text_append(out, size, "%s%s", out[0] ? ", " : "", name);
    return true;
}

void field_write_objects(char *out, size_t size, const struct field *field, int most)
{
    int named = 0;
    double least = field->objects ? field->object[0].weight - weight_range : 0;
    out[0] = '\0';
    for (int i = 0; i < field->objects && named < most; i++) {
        const struct field_object *found = &field->object[i];
        if (!found->obscure && found->weight >= least) {
            named += add_name(out, size, found->object);
        }
    }
    for (int i = 0; i < field->stars && named < FEW_OBJECTS; i++) {
        if (field->star[i].object->magnitude <= bright_magnitude) {
            named += add_name(out, size, field->star[i].object);
        }
    }
}
