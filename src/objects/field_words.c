/* Where the field is and what it shows, in words. */
#include "base/text.h"
#include "objects/caption.h"
#include "objects/field.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A star that people find without a chart. */
static const double chart_star_magnitude = 2.6;

/* Where fewer objects than this are named, stars of this magnitude are named too. */
enum { FEW_OBJECTS = 2 };
static const double bright_magnitude = 4;

/* What is less notable than the first by more is not worth naming beside it. */
static const double weight_range = 6;

static const struct constellation *constellation_at(const struct atlas *atlas, double ra,
                                                    double dec)
{
    return constellations_find(&atlas->constellations, place_constellation(&atlas->map, ra, dec),
                               ra, dec);
}

void field_write_nearest(char *out, size_t size, const struct wcs *wcs, const struct atlas *atlas)
{
    double ra, dec, distance;
    char angle[24];
    wcs_centre(wcs, &ra, &dec);
    const struct object *star =
        place_nearest_star(&distance, &atlas->objects, ra, dec, chart_star_magnitude);
    out[0] = '\0';
    if (star) {
        text_write_angle(angle, sizeof angle, distance);
        snprintf(out, size, "%s from %.80s", angle, star->id);
    }
}

void field_write_place(char *out, size_t size, const struct wcs *wcs, const struct atlas *atlas)
{
    double ra, dec;
    char star[120];
    wcs_centre(wcs, &ra, &dec);
    const struct constellation *constellation = constellation_at(atlas, ra, dec);
    field_write_nearest(star, sizeof star, wcs, atlas);
    snprintf(out, size, "%s%s%s%s", constellation ? "in " : "",
             constellation ? constellation->name : "", constellation && star[0] ? ", " : "", star);
}

enum { MOST_SUBJECTS = 8 };

/* The names of a picture, as they are chosen. */
struct subjects {
    const struct object *object[MOST_SUBJECTS];
    int count, most;
};

/* As good as that much of weight, in the middle; nothing from halfway to the edge on. */
static const double middle_weight = 2;

/* A photographer puts into the middle what the picture is of. */
static double subject_weight(const struct field_object *found, const struct wcs *wcs)
{
    double half = (wcs->width < wcs->height ? wcs->width : wcs->height) / 4.0;
    double off = hypot(found->x - (wcs->width - 1) / 2.0, found->y - (wcs->height - 1) / 2.0);
    return found->weight + (found->share >= 0.5 ? middle_weight * fmax(0, 1 - off / half) : 0);
}

/* The first that is not chosen yet, of those that are worth naming; NULL: none is left. */
static const struct object *next_subject(const struct field *field, const struct wcs *wcs,
                                         const struct subjects *chosen)
{
    const struct field_object *best = NULL;
    for (int i = 0; i < field->objects; i++) {
        const struct field_object *found = &field->object[i];
        bool left_out = found->obscure || found->weight < field->object[0].weight - weight_range;
        for (int k = 0; k < chosen->count; k++) {
            left_out = left_out || chosen->object[k] == found->object;
        }
        if (!left_out && (!best || subject_weight(found, wcs) > subject_weight(best, wcs))) {
            best = found;
        }
    }
    return best ? best->object : NULL;
}

static void choose_subjects(struct subjects *chosen, const struct field *field,
                            const struct wcs *wcs)
{
    const struct object *next;
    while (chosen->count < chosen->most && (next = next_subject(field, wcs, chosen)) != NULL) {
        chosen->object[chosen->count++] = next;
    }
    for (int i = 0; i < field->stars && chosen->count < FEW_OBJECTS; i++) {
        if (field->star[i].object->magnitude <= bright_magnitude) {
            chosen->object[chosen->count++] = field->star[i].object;
        }
    }
}

void field_write_subject(char *out, size_t size, const struct field *field, const struct wcs *wcs,
                         const struct atlas *atlas, int most)
{
    struct subjects chosen = {.most = most < MOST_SUBJECTS ? most : MOST_SUBJECTS};
    double ra, dec;
    wcs_centre(wcs, &ra, &dec);
    const struct constellation *constellation = constellation_at(atlas, ra, dec);
    choose_subjects(&chosen, field, wcs);
    if (chosen.count == 0) {
        field_write_place(out, size, wcs, atlas);
        return;
    }
    out[0] = '\0';
    for (int i = 0; i < chosen.count; i++) {
        char name[120];
        caption_full(name, sizeof name, chosen.object[i]);
        if (strlen(out) + strlen(name) + 40 > size) {
            break;
        }
        bool last = i == chosen.count - 1;
        text_append(out, size, "%s%s", i == 0 ? "" : last ? " and " : ", ", name);
    }
    if (constellation) {
        text_append(out, size, ", in %s", constellation->name);
    }
}

void field_write_north(char *out, size_t size, const struct wcs *wcs)
{
    static const char *const arrow[] = {"↑", "↗", "→", "↘", "↓", "↙", "←", "↖"};
    double up = angle_wrap_180(wcs_up_angle_deg(wcs)); /* of picture-up, east of north */
    double north = wcs_mirrored(wcs) ? -up : up;       /* clockwise from picture-up */
    double off = fabs(north) <= 90 ? fabs(north) : 180 - fabs(north);
    const char *point = arrow[((int)lround(north / 45) + 8) % 8];
    const char *from = fabs(north) <= 90 ? "up" : "down";
    if (off < 0.05) {
        snprintf(out, size, "%s straight %s", point, from);
    } else {
        snprintf(out, size, "%s %.1f° %s of %s", point, off, north < 0 ? "left" : "right", from);
    }
}
