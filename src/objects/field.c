#include "objects/field.h"

#include "base/units.h"
#include "objects/cover.h"
#include "objects/fame.h"
#include "objects/outline.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Rows that nobody knows by number are only shown to fill up to this number of objects, and if they
 * are smaller than this part of the picture's shorter side. */
enum { SOME_OBJECTS = 5 };
static const double largest_obscure_part = 0.25;

int atlas_load(struct atlas *atlas, const char *folder, struct error *err)
{
    memset(atlas, 0, sizeof *atlas);
    int code = objects_load(&atlas->objects, folder, err);
    if (!code) {
        code = constellations_load(&atlas->constellations, folder, err);
    }
    if (!code) {
        code = figures_load(&atlas->figures, folder, err);
    }
    if (!code) {
        code = place_map_load(&atlas->map, folder, err);
    }
    if (code) {
        atlas_free(atlas);
    }
    return code;
}

void atlas_free(struct atlas *atlas)
{
    objects_free(&atlas->objects);
    figures_free(&atlas->figures);
    place_map_free(&atlas->map);
    memset(atlas, 0, sizeof *atlas);
}

static double brightness_weight(const struct object *object)
{
    if (isnan(object->magnitude)) {
        bool nebula = object->type >= OBJECT_EMISSION_NEBULA && object->type < OBJECT_GALAXY;
        return nebula ? 0 : -1;
    }
    return fmax(-2.4, fmin(2.4, 0.4 * (10 - object->magnitude)));
}

/* A bright object that is spread thin is hard to see: magnitudes a square minute of arc. */
static double spread_weight(const struct object *object)
{
    double surface = object->magnitude + 2.5 * log10(object_area_arcmin2(object));
    return surface > 14 ? 1.5 * (14 - surface) : 0; /* NaN, unknown, gives 0 */
}

/* Best between a tenth of the frame and the whole of it; what is far larger is only background. */
static double size_weight(double size_part)
{
    if (size_part <= 0) {
        return -1.5;
    }
    double weight = 1.5 * log10(size_part / 0.03);
    return fmax(-3, fmin(1.5, weight)) - 2 * fmax(0, size_part - 1);
}

/* A large outline around something nameless and probably faint is more hindrance than help. */
static double vague_weight(const struct object *object, double size_part)
{
    bool vague = isnan(object->magnitude) && !object->common_names[0];
    return vague ? -3 * fmax(0, size_part - 0.25) : 0;
}

/* Whether its centre lies in the frame less a margin on each side, which may be negative. */
static bool is_within(const struct field_object *found, const struct wcs *wcs, double margin_px)
{
    return found->x > margin_px && found->y > margin_px && found->x < wcs->width - margin_px &&
           found->y < wcs->height - margin_px;
}

/* Sets place, size and share; false if none of it is in the frame. */
static bool locate(struct field_object *found, const struct wcs *wcs)
{
    const struct sky_ellipse *shape = &found->shape;
    if (!wcs_pixel_radec(&found->x, &found->y, wcs, shape->ra_deg, shape->dec_deg)) {
        return false;
    }
    double px_per_deg = 3600 / wcs_scale_arcsec(wcs);
    found->major_px = shape->major_deg * px_per_deg;
    found->minor_px = shape->minor_deg * px_per_deg;
    double reach_px = ellipse_reach_deg(shape) * px_per_deg;
    /* The scale grows towards the edge. */
    if (is_within(found, wcs, 1.5 * reach_px + 1)) {
        found->share = 1;
        return true;
    }
    /* At 60 degrees from the axis of the lens a degree has four times the pixels. */
    if (!is_within(found, wcs, -4 * reach_px - 1)) {
        return false;
    }
    struct cover cover;
    cover_measure(&cover, wcs, shape, 0);
    found->share = cover.touched ? fmax(cover.share, 1e-3) : 0;
    return cover.touched;
}

static void weigh(struct field_object *found, const struct wcs *wcs)
{
    const struct object *object = found->object;
    double shorter = wcs->width < wcs->height ? wcs->width : wcs->height;
    double size_part = 2 * found->major_px / shorter, fame = fame_of_object(object);
    double share_weight = found->share < 0.5 ? 2 * log10(found->share / 0.5) : 0;
    found->obscure = fame < FAME_KNOWN;
    found->weight = fame + brightness_weight(object) + spread_weight(object) +
                    size_weight(size_part) + vague_weight(object, size_part) + share_weight;
}

/* Sorting by the table's order last makes the order the same everywhere. */
static int by_weight(const void *left, const void *right)
{
    const struct field_object *a = left, *b = right;
    if (a->weight != b->weight) {
        return a->weight > b->weight ? -1 : 1;
    }
    return a->object < b->object ? -1 : a->object > b->object;
}

/* The circle on the sky that holds the whole frame. */
struct disc {
    double centre[3], radius_deg;
};

static bool may_touch(const struct disc *disc, const struct object *object)
{
    double v[3], size = object->major_arcmin > 0 ? object->major_arcmin / 120 : 0;
    size = object->outline ? fmax(size, object->outline->reach_deg) : size;
    vector_from_radec(v, object->ra_deg, object->dec_deg);
    double reach = fmin(disc->radius_deg + size, 180);
    return vector_dot(v, disc->centre) > cos(reach * RAD_PER_DEG) - 1e-9;
}

/* Collects from a range of the table; list has room for all of it. */
static int collect(struct field_object *list, const struct objects *objects, int first, int end,
                   const struct wcs *wcs)
{
    struct disc disc = {.radius_deg = wcs_radius_deg(wcs)};
    double ra, dec;
    int count = 0;
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(disc.centre, ra, dec);
    for (int i = first; i < end; i++) {
        const struct object *object = &objects->object[i];
        if (!may_touch(&disc, object)) {
            continue;
        }
        struct field_object *found = &list[count];
        *found = (struct field_object){.object = object};
        ellipse_from_object(&found->shape, object);
        count += locate(found, wcs);
    }
    return count;
}

/* Drops what is not notable from a sorted list, and what is obscure unless there is room for it. */
static int keep_notable(struct field_object *list, int count, const struct wcs *wcs)
{
    int known = 0, kept = 0;
    double largest_px =
        largest_obscure_part * (wcs->width < wcs->height ? wcs->width : wcs->height);
    while (count > 0 && list[count - 1].weight <= 0) {
        count--;
    }
    for (int i = 0; i < count; i++) {
        known += !list[i].obscure;
    }
    for (int i = 0; i < count; i++) {
        bool fills = known < SOME_OBJECTS && 2 * list[i].major_px < largest_px;
        if (!list[i].obscure || fills) {
            known += list[i].obscure;
            list[kept++] = list[i];
        }
    }
    return kept;
}

static void find_deep_sky(struct field *field, const struct wcs *wcs, const struct objects *objects,
                          bool all)
{
    int count = collect(field->object, objects, 0, objects->deep_sky, wcs);
    for (int i = 0; i < count; i++) {
        weigh(&field->object[i], wcs);
    }
    qsort(field->object, (size_t)count, sizeof *field->object, by_weight);
    field->objects = all ? count : keep_notable(field->object, count, wcs);
}

static void find_stars(struct field *field, const struct wcs *wcs, const struct objects *objects)
{
    int count = collect(field->star, objects, objects->deep_sky, objects->count, wcs);
    for (int i = 0; i < count; i++) {
        double magnitude = field->star[i].object->magnitude;
        field->star[i].weight = isnan(magnitude) ? -99 : -magnitude;
    }
    qsort(field->star, (size_t)count, sizeof *field->star, by_weight);
    field->stars = count;
}

static int find_all(struct field *field, const struct wcs *wcs, const struct objects *objects,
                    bool all, struct error *err)
{
    size_t stars = (size_t)(objects->count - objects->deep_sky);
    memset(field, 0, sizeof *field);
    /* One more: field_feature may need it. */
    field->object = malloc(((size_t)objects->deep_sky + 1) * sizeof *field->object);
    field->star = malloc((stars + 1) * sizeof *field->star);
    if (!field->object || !field->star) {
        field_free(field);
        return error_memory(err);
    }
    find_deep_sky(field, wcs, objects, all);
    find_stars(field, wcs, objects);
    return 0;
}

int field_find(struct field *field, const struct wcs *wcs, const struct objects *objects,
               struct error *err)
{
    return find_all(field, wcs, objects, false, err);
}

int field_list(struct field *field, const struct wcs *wcs, const struct objects *objects,
               struct error *err)
{
    return find_all(field, wcs, objects, true, err);
}

void field_feature(struct field *field, const struct object *object, const struct wcs *wcs)
{
    bool star = object->type == OBJECT_STAR;
    struct field_object *list = star ? field->star : field->object;
    int *count = star ? &field->stars : &field->objects, place = 0;
    struct field_object found = {.object = object, .weight = FIELD_FEATURED_WEIGHT};
    ellipse_from_object(&found.shape, object);
    if (!locate(&found, wcs)) {
        return;
    }
    while (place < *count && list[place].object != object) {
        place++;
    }
    *count += place == *count;
    memmove(list + 1, list, (size_t)place * sizeof *list);
    list[0] = found;
}

static int keep_proven(struct field_object *list, int count, const struct wcs *wcs,
                       const struct trust *trust)
{
    int kept = 0;
    for (int i = 0; i < count; i++) {
        struct cover cover = {.share = list[i].share, .touched = true};
        cover_keep_proven(&cover, wcs, &list[i].shape, trust);
        if (cover.touched) {
            list[kept] = list[i];
            /* Points on a grid may all miss the little of it that is in the picture. */
            list[kept++].share = fmax(cover.share, 1e-3);
        }
    }
    return kept;
}

void field_keep_proven(struct field *field, const struct wcs *wcs, const struct trust *trust)
{
    if (trust->known && trust->share < 1) {
        field->objects = keep_proven(field->object, field->objects, wcs, trust);
        field->stars = keep_proven(field->star, field->stars, wcs, trust);
    }
}

void field_free(struct field *field)
{
    free(field->object);
    free(field->star);
    memset(field, 0, sizeof *field);
}
