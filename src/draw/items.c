#include "draw/items.h"

#include "base/utf8.h"
#include "draw/figures_draw.h"
#include "objects/caption.h"
#include "objects/star_words.h"
#include "sky/planets.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <glib.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* How many are marked, and how faint, by the longer side of the field: the last row that begins
 * below it counts. */
static const struct tier {
    double field_deg;
    double object_weight; /* objects weigh at least so much */
    int objects;
    double star_magnitude; /* stars are named up to this magnitude */
    int stars;
    double own_magnitude;    /* and by their own names up to this */
    double letter_magnitude; /* and have their letter up to this */
    int letters;
} tiers[] = {
    {0, 0, 30, 7.5, 12, 4.4, 0, 0},       {6, 0.3, 30, 6.0, 14, 3.7, 0, 0},
    {14, 1.0, 30, 4.2, 14, 3.1, 5.0, 20}, {24, 1.6, 28, 2.9, 16, 2.9, 4.6, 30},
    {45, 2.4, 26, 2.5, 18, 2.5, 4.0, 34},
};

/* A star of this magnitude is as important as an object of weight 0; a letter comes last. */
static const double star_weight_zero = 6.2, letter_weight_zero = -2;
static const double body_weight = 9, region_weight = 1.2;

/* Below this weight an object shows its English name only in an empty field. */
static const double name_weight = 3;
enum { EMPTY_FIELD = 10 };

/* Larger outlines are drawn thinner; part of the picture's shorter side. */
static const double large_part = 0.2;

static const struct tier *find_tier(const struct wcs *wcs)
{
    double width, height;
    wcs_field(wcs, &width, &height);
    const struct tier *found = &tiers[0];
    for (size_t i = 1; i < sizeof tiers / sizeof *tiers; i++) {
        found = fmax(width, height) >= tiers[i].field_deg ? &tiers[i] : found;
    }
    return found;
}

static struct item *add_item(struct item_list *list, enum item_kind kind, double weight, double x,
                             double y)
{
    if (list->count == ITEMS_MOST) {
        return NULL;
    }
    struct item *item = &list->item[list->count++];
    *item = (struct item){.kind = kind, .weight = weight, .x = x, .y = y};
    return item;
}

static bool is_clear_of_edge(const struct canvas *canvas, const struct item *item)
{
    double r = item->radius;
    return item->x >= r && item->y >= r && item->x < canvas->width - r &&
           item->y < canvas->height - r;
}

/* Decides between outline and mark; false if there is nothing to show in the picture. */
static bool shape_object(struct item *item, const struct canvas *canvas, const struct wcs *wcs)
{
    struct mark_rim rim;
    item->outline = item->found->shape;
    if (item->outline.turn_unknown) {
        item->outline.major_deg = sqrt(item->found->shape.major_deg * item->found->shape.minor_deg);
    }
    double x = item->x, y = item->y;
    mark_middle(&item->x, &item->y, wcs, &item->outline);
    bool visible = mark_rim(&rim, wcs, &item->outline, item->x, item->y);
    item->outlined = visible && rim.farthest > 1.2 * STYLE_MARK * canvas->unit;
    item->radius = item->outlined ? rim.farthest : STYLE_MARK * canvas->unit;
    item->minor = item->outlined ? rim.nearest : 0;
    item->turn = rim.turn;
    if (!item->outlined) {
        item->x = x;
        item->y = y;
    }
    return item->outlined || is_clear_of_edge(canvas, item);
}

static void add_objects(struct item_list *list, const struct canvas *canvas,
                        const struct overlay_request *request, const struct tier *tier)
{
    for (int i = 0, added = 0; i < request->field->objects && added < tier->objects; i++) {
        const struct field_object *found = &request->field->object[i];
        bool hidden =
            request->foreground && foreground_hides(request->foreground, found->x, found->y);
        struct item *item = NULL;
        if (found->weight >= tier->object_weight && !hidden) {
            item = add_item(list, ITEM_OBJECT, found->weight, found->x, found->y);
        }
        if (item) {
            item->found = found;
            bool shown = shape_object(item, canvas, request->wcs);
            list->count -= !shown;
            added += shown;
        }
    }
}

/* Some names are borne by several stars: the brightest keeps it. */
static bool is_name_used(const struct item_list *list, const char *first)
{
    for (int i = 0; i < list->count; i++) {
        if (strcmp(list->item[i].first, first) == 0) {
            return true;
        }
    }
    return false;
}

/* What a chart is about is named by whatever it has. */
static bool write_featured(char *out, size_t size, const struct object *star, double own_magnitude)
{
    if (!star_write_name(out, size, star, own_magnitude)) {
        caption_id(out, size, star);
    }
    return true;
}

static bool add_star(struct item_list *list, const struct field_object *found,
                     const struct canvas *canvas, const struct tier *tier, bool letter_only)
{
    double magnitude = found->object->magnitude,
           zero = letter_only ? letter_weight_zero : star_weight_zero;
    char name[96];
    bool featured = found->weight >= FIELD_FEATURED_WEIGHT;
    bool named = letter_only ? star_write_letter(name, sizeof name, found->object)
                 : featured
                     ? write_featured(name, sizeof name, found->object, tier->own_magnitude)
                     : star_write_name(name, sizeof name, found->object, tier->own_magnitude);
    if (!named || (!letter_only && is_name_used(list, name))) {
        return false;
    }
    struct item *item =
        add_item(list, letter_only ? ITEM_LETTER : ITEM_STAR, zero - magnitude, found->x, found->y);
    if (!item) {
        return false;
    }
    item->found = found;
    memcpy(item->first, name, sizeof name);
    item->radius =
        letter_only ? mark_star_glare(canvas, magnitude) : mark_star_reach(canvas, magnitude);
    bool shown = is_clear_of_edge(canvas, item);
    list->count -= !shown;
    return shown;
}

static void add_stars(struct item_list *list, const struct canvas *canvas,
                      const struct overlay_request *request, const struct tier *tier)
{
    int names = 0, letters = 0;
    for (int i = 0; i < request->field->stars; i++) {
        const struct field_object *found = &request->field->star[i];
        double magnitude = found->object->magnitude;
        bool featured = found->weight >= FIELD_FEATURED_WEIGHT;
        if (request->foreground &&
            !foreground_shows_star(request->foreground, found->x, found->y)) {
            continue;
        }
        if (featured || (magnitude <= tier->star_magnitude && names < tier->stars)) {
            names += add_star(list, found, canvas, tier, false);
        } else if (magnitude <= tier->letter_magnitude && letters < tier->letters) {
            letters += add_star(list, found, canvas, tier, true);
        }
    }
}

static struct item *add_body(struct item_list *list, const struct canvas *canvas,
                             const struct overlay_request *request, const double v[3],
                             const char *name, double radius_deg)
{
    double x, y, radius_px = radius_deg * 3600 / wcs_scale_arcsec(request->wcs);
    if (!wcs_pixel(&x, &y, request->wcs, v) || !wcs_inside(request->wcs, x, y) ||
        (request->trust && !trust_holds(request->trust, x, y))) {
        return NULL;
    }
    struct item *item = add_item(list, ITEM_BODY, body_weight, x, y);
    if (item) {
        item->radius = fmax(radius_px, 0.55 * STYLE_MARK * canvas->unit);
        snprintf(item->first, sizeof item->first, "%s", name);
    }
    return item;
}

/* The Sun's way is taken from a step on the sky, so that turned and mirrored frames come right. */
static void light_moon(struct item *moon, const struct canvas *canvas,
                       const struct overlay_request *request, const double v[3])
{
    static const double step_deg = 0.02;
    double ra, dec, to_ra, to_dec, limb_deg, x, y;
    if (!sun_moon_moonlight(&moon->light.lit, &limb_deg, request->place, request->time)) {
        return;
    }
    vector_to_radec(&ra, &dec, v);
    radec_offset(&to_ra, &to_dec, ra, dec, limb_deg, step_deg);
    if (wcs_pixel_radec(&x, &y, request->wcs, to_ra, to_dec)) {
        moon->light.angle = atan2(y - moon->y, x - moon->x);
        moon->radius = fmax(moon->radius, STYLE_MARK * canvas->unit);
        moon->phased = true;
    }
}

static void add_moon(struct item_list *list, const struct canvas *canvas,
                     const struct overlay_request *request)
{
    double v[3], distance_au;
    if (sun_moon_among_stars(v, &distance_au, THE_MOON, request->place, request->time)) {
        struct item *moon =
            add_body(list, canvas, request, v, "Moon", sun_moon_radius_deg(THE_MOON, distance_au));
        if (moon) {
            light_moon(moon, canvas, request, v);
        }
    }
}

static void add_bodies(struct item_list *list, const struct canvas *canvas,
                       const struct overlay_request *request)
{
    double v[3], distance_au;
    if (sun_moon_among_stars(v, &distance_au, THE_SUN, request->place, request->time)) {
        add_body(list, canvas, request, v, "Sun", sun_moon_radius_deg(THE_SUN, distance_au));
    }
    add_moon(list, canvas, request);
    for (int i = 0; i < PLANETS; i++) {
        enum planet planet = (enum planet)i;
        if (planet_among_stars(v, planet, request->place, request->time)) {
            add_body(list, canvas, request, v, planet_name(planet), 0);
        }
    }
}

/* "ORION", "BOÖTES". */
static void write_capitals(char *out, size_t size, const char *name)
{
    char *upper = g_utf8_validate(name, -1, NULL) ? g_utf8_strup(name, -1) : NULL;
    utf8_copy(out, size, upper ? upper : name);
    g_free(upper);
}

static void add_regions(struct item_list *list, const struct canvas *canvas,
                        const struct overlay_request *request)
{
    struct figure_name name[CONSTELLATIONS_MAX];
    int count = figures_names(name, canvas, request->wcs, request->trust, request->atlas);
    for (int i = 0; i < count; i++) {
        struct item *item = add_item(list, ITEM_REGION, region_weight, name[i].x, name[i].y);
        if (item) {
            write_capitals(item->first, sizeof item->first, name[i].constellation->name);
        }
    }
}

static int by_weight(const void *left, const void *right)
{
    const struct item *a = left, *b = right;
    if (a->weight != b->weight) {
        return a->weight > b->weight ? -1 : 1;
    }
    return strcmp(a->first, b->first);
}

static void name_object(struct item *item, const struct item_list *list, int objects,
                        layer_set layers)
{
    const struct object *object = item->found->object;
    char common[sizeof item->second], magnitude[24] = "";
    caption_id(item->first, sizeof item->first, object);
    caption_common(common, sizeof common, object);
    bool wanted =
        (item->weight >= name_weight || objects <= EMPTY_FIELD) && strcmp(common, item->first) != 0;
    for (const struct item *other = list->item; wanted && other < item; other++) {
        wanted =
            strncmp(other->second, common, strlen(common)) != 0; /* the first of a name bears it */
    }
    if (layers_have(layers, LAYER_MAGNITUDES) && !isnan(object->magnitude)) {
        snprintf(magnitude, sizeof magnitude, "%.1f", object->magnitude);
    }
    snprintf(item->second, sizeof item->second, "%.70s%s%s", wanted ? common : "",
             wanted && common[0] && magnitude[0] ? ", " : "", magnitude);
}

static void name_items(struct item_list *list, layer_set layers)
{
    int objects = 0;
    for (int i = 0; i < list->count; i++) {
        objects += list->item[i].kind == ITEM_OBJECT;
    }
    for (int i = 0; i < list->count; i++) {
        struct item *item = &list->item[i];
        if (item->kind == ITEM_OBJECT) {
            name_object(item, list, objects, layers);
        } else if (item->kind == ITEM_STAR && layers_have(layers, LAYER_MAGNITUDES)) {
            snprintf(item->second, sizeof item->second, "%.1f", item->found->object->magnitude);
        }
    }
}

/* Where a star's strokes are. */
static struct label_box strokes_box(const struct item *item, bool upright, double thick)
{
    double along_x = upright ? thick : item->radius, along_y = upright ? item->radius : thick;
    return (struct label_box){item->x - along_x, item->y - along_y, 2 * along_x, 2 * along_y};
}

static bool strokes_meet(const struct item_list *list, int which, bool upright, double thick)
{
    struct label_box own = strokes_box(&list->item[which], upright, thick);
    for (int i = 0; i < which; i++) {
        const struct item *other = &list->item[i];
        struct label_box taken = strokes_box(other, other->upright, thick);
        if (other->kind == ITEM_STAR && label_boxes_touch(&own, &taken, 0)) {
            return true;
        }
    }
    return false;
}

/* Strokes of neighbours must not read as one line: those of the lesser star are turned. */
static void part_strokes(struct item_list *list, double thick)
{
    for (int i = 0; i < list->count; i++) {
        struct item *item = &list->item[i];
        item->upright = item->kind == ITEM_STAR && strokes_meet(list, i, false, thick) &&
                        !strokes_meet(list, i, true, thick);
    }
}

void items_choose(struct item_list *list, struct canvas *canvas,
                  const struct overlay_request *request)
{
    const struct tier *tier = find_tier(request->wcs);
    list->count = 0;
    if (layers_have(request->layers, LAYER_OBJECTS)) {
        add_objects(list, canvas, request, tier);
    }
    if (layers_have(request->layers, LAYER_STARS)) {
        add_stars(list, canvas, request, tier);
    }
    if (layers_have(request->layers, LAYER_PLANETS) && request->time_known) {
        add_bodies(list, canvas, request);
    }
    if (layers_have(request->layers, LAYER_LINES)) {
        add_regions(list, canvas, request);
    }
    if (list->count) {
        qsort(list->item, (size_t)list->count, sizeof *list->item, by_weight);
    }
    part_strokes(list, 2 * STYLE_LINE * canvas->unit);
    name_items(list, request->layers);
}

struct pen_text item_first(const struct item *item)
{
    switch (item->kind) {
    case ITEM_OBJECT:
        return (struct pen_text){item->first, STYLE_TEXT, true, 0};
    case ITEM_REGION:
        return (struct pen_text){item->first, STYLE_SMALL_TEXT, false, 6};
    default:
        return (struct pen_text){item->first, STYLE_SMALL_TEXT, false, 0};
    }
}

struct pen_text item_second(const struct item *item)
{
    double size = item->kind == ITEM_OBJECT ? STYLE_SMALL_TEXT : STYLE_TINY_TEXT;
    return (struct pen_text){item->second, size, false, 0};
}

enum ink item_ink(const struct item *item)
{
    static const enum ink inks[] = {[ITEM_OBJECT] = INK_OBJECT,
                                    [ITEM_STAR] = INK_STAR,
                                    [ITEM_LETTER] = INK_STAR,
                                    [ITEM_BODY] = INK_ECLIPTIC,
                                    [ITEM_REGION] = INK_FIGURE};
    return inks[item->kind];
}

void item_label(struct label *label, const struct item *item, struct canvas *canvas)
{
    struct pen_text first = item_first(item), second = item_second(item);
    double wide, high, second_wide, second_high;
    pen_measure(canvas, &first, &wide, &high);
    *label = (struct label){
        .x = item->x,
        .y = item->y,
        .radius = item->kind == ITEM_BODY ? mark_body_reach(canvas, item->radius) : item->radius,
        .minor = item->minor,
        .turn = item->turn,
        .hollow = item->outlined && item->radius > 2 * STYLE_TEXT * canvas->unit,
        .close = item->kind == ITEM_LETTER,
        .region = item->kind == ITEM_REGION,
    };
    int form = 0;
    if (item->second[0]) {
        pen_measure(canvas, &second, &second_wide, &second_high);
        label->width[form] = fmax(wide, second_wide);
        label->height[form++] = high + second_high;
    }
    label->width[form] = wide;
    label->height[form] = high;
}

void item_draw_mark(const struct item *item, struct canvas *canvas, const struct wcs *wcs)
{
    double shorter = canvas->width < canvas->height ? canvas->width : canvas->height;
    if (item->kind == ITEM_STAR) {
        mark_star(canvas, item->x, item->y, item->found->object->magnitude, item->upright);
    } else if (item->kind == ITEM_BODY) {
        mark_body(canvas, item->x, item->y, item->radius);
        if (item->phased) {
            mark_light(canvas, item->x, item->y, item->radius, &item->light);
        }
    } else if (item->kind == ITEM_OBJECT && item->outlined) {
        struct mark_line line = {.open = item->found->shape.turn_unknown,
                                 .dotted = item->found->object->type == OBJECT_DARK_NEBULA,
                                 .thin = item->radius > large_part * shorter};
        mark_outline(canvas, wcs, &item->outline, line);
    } else if (item->kind == ITEM_OBJECT) {
        mark_object(canvas, item->found->object->type, item->x, item->y);
    }
}
