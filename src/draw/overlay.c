#include "draw/overlay.h"

#include "draw/furniture.h"
#include "draw/labels.h"
#include "draw/marks.h"
#include "framing/caption.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_OBJECTS = 30, MOST_STARS = 12, MOST_ITEMS = MOST_OBJECTS + MOST_STARS };

/* Fainter stars are not what anybody looks for in a picture. */
static const double faintest_star = 6.5;

/* A star of this magnitude is as important as an object of weight 0. */
static const double star_weight_zero = 6.2;

/* Below this weight an object shows its English name only in an empty field. */
static const double name_weight = 3;
enum { EMPTY_FIELD = 10 };

struct item {
    const struct field_object *found;
    double weight;
    bool star, outlined;
    struct sky_ellipse outline; /* a circle of the same area if it is not known how it lies */
    char id[80], common[80];
};

struct overlay {
    struct canvas *canvas;
    const struct wcs *wcs;
    int count;
    struct item item[MOST_ITEMS];
    struct label label[MOST_ITEMS];
};

static bool is_capital(char c)
{
    return c >= 'A' && c <= 'Z';
}

/* Designations of variable and nearby stars, "RR Lyr", "V1046 Ori", "GJ 1", say little to most
 * people. */
static bool is_plain_name(const char *id)
{
    bool two_capitals = is_capital(id[0]) && is_capital(id[1]) && id[2] == ' ';
    bool numbered = id[0] == 'V' && id[1] >= '0' && id[1] <= '9';
    return !two_capitals && !numbered;
}

/* Some names are borne by several stars: the brightest keeps it. */
static bool is_first_of_name(const struct field *field, int star)
{
    for (int i = 0; i < star; i++) {
        if (strcmp(field->star[i].object->id, field->star[star].object->id) == 0) {
            return false;
        }
    }
    return true;
}

static int by_weight(const void *left, const void *right)
{
    const struct item *a = left, *b = right;
    if (a->weight != b->weight) {
        return a->weight > b->weight ? -1 : 1;
    }
    return a->found->object < b->found->object ? -1 : a->found->object > b->found->object;
}

static void choose_items(struct overlay *overlay, const struct field *field)
{
    for (int i = 0; i < field->objects && i < MOST_OBJECTS; i++) {
        const struct field_object *found = &field->object[i];
        overlay->item[overlay->count++] = (struct item){.found = found, .weight = found->weight};
    }
    int stars = 0;
    for (int i = 0; i < field->stars && stars < MOST_STARS; i++) {
        const struct object *star = field->star[i].object;
        if (star->magnitude <= faintest_star && is_plain_name(star->id) &&
            is_first_of_name(field, i)) {
            overlay->item[overlay->count++] = (struct item){
                .found = &field->star[i],
                .weight = star_weight_zero - star->magnitude,
                .star = true,
            };
            stars++;
        }
    }
    qsort(overlay->item, (size_t)overlay->count, sizeof *overlay->item, by_weight);
}

/* Several objects may share an English name; the first bears it. */
static bool is_name_used(const struct overlay *overlay, int items, const char *common)
{
    for (int i = 0; i < items; i++) {
        if (strcmp(overlay->item[i].common, common) == 0) {
            return true;
        }
    }
    return false;
}

static void name_items(struct overlay *overlay, int objects)
{
    for (int i = 0; i < overlay->count; i++) {
        struct item *item = &overlay->item[i];
        const struct object *object = item->found->object;
        char common[sizeof item->common];
        caption_id(item->id, sizeof item->id, object);
        caption_common(common, sizeof common, object);
        bool wanted = !item->star && (item->weight >= name_weight || objects <= EMPTY_FIELD) &&
                      strcmp(common, item->id) != 0;
        if (wanted && !is_name_used(overlay, i, common)) {
            memcpy(item->common, common, sizeof common);
        }
    }
}

static bool is_clear_of_edge(const struct overlay *overlay, const struct label *label)
{
    double r = label->radius;
    return label->x >= r && label->y >= r && label->x < overlay->canvas->width - r &&
           label->y < overlay->canvas->height - r;
}

/* Decides between outline and mark; false if there is nothing to show in the picture. */
static bool shape_item(struct label *label, struct item *item, const struct overlay *overlay)
{
    const struct field_object *found = item->found;
    double unit = overlay->canvas->unit, radius = 0;
    label->x = found->x;
    label->y = found->y;
    if (item->star) {
        label->radius = mark_star_reach(overlay->canvas, found->object->magnitude);
        return is_clear_of_edge(overlay, label);
    }
    item->outline = found->shape;
    if (item->outline.turn_unknown) {
        item->outline.major_deg = sqrt(found->shape.major_deg * found->shape.minor_deg);
    }
    bool visible = mark_rim(&radius, overlay->wcs, &item->outline, found->x, found->y);
    item->outlined = visible && radius > 1.2 * STYLE_MARK * unit;
    label->radius = item->outlined ? radius : STYLE_MARK * unit;
    label->hollow = item->outlined && radius > 2 * STYLE_TEXT * unit;
    return item->outlined || is_clear_of_edge(overlay, label);
}

static struct canvas_text id_text(const struct item *item)
{
    return (struct canvas_text){item->id, item->star ? STYLE_SMALL_TEXT : STYLE_TEXT, !item->star};
}

static struct canvas_text common_text(const struct item *item)
{
    return (struct canvas_text){item->common, STYLE_SMALL_TEXT, false};
}

static void measure_item(struct label *label, const struct item *item, struct canvas *canvas)
{
    struct canvas_text id = id_text(item), common = common_text(item);
    double id_width, id_height, width, height;
    canvas_measure(canvas, &id, &id_width, &id_height);
    int form = 0;
    if (item->common[0]) {
        canvas_measure(canvas, &common, &width, &height);
        label->width[form] = fmax(id_width, width);
        label->height[form++] = id_height + height;
    }
    label->width[form] = id_width;
    label->height[form] = id_height;
}

static void prepare_labels(struct overlay *overlay)
{
    int kept = 0;
    for (int i = 0; i < overlay->count; i++) {
        struct label label = {0};
        struct item *item = &overlay->item[i];
        if (shape_item(&label, item, overlay)) {
            measure_item(&label, item, overlay->canvas);
            overlay->label[kept] = label;
            overlay->item[kept++] = *item;
        }
    }
    overlay->count = kept;
}

static void draw_mark(struct overlay *overlay, int i)
{
    const struct item *item = &overlay->item[i];
    const struct field_object *found = item->found;
    if (item->star) {
        mark_star(overlay->canvas, found->x, found->y, found->object->magnitude);
    } else if (item->outlined) {
        struct mark_line line = {.open = found->shape.turn_unknown,
                                 .dotted = found->object->type == OBJECT_DARK_NEBULA};
        mark_outline(overlay->canvas, overlay->wcs, &item->outline, line);
    } else {
        mark_lozenge(overlay->canvas, found->x, found->y);
    }
    const struct label *label = &overlay->label[i];
    if (label->leader) {
        cairo_new_path(overlay->canvas->cairo);
        cairo_move_to(overlay->canvas->cairo, label->from_x, label->from_y);
        cairo_line_to(overlay->canvas->cairo, label->to_x, label->to_y);
        canvas_stroke(overlay->canvas, item->star ? &style_star : &style_object, STYLE_LEADER);
    }
}

/* Lines of a name lean towards what they name. */
static double align(const struct label *label, double width)
{
    double spare = label->box.width - width, middle = label->box.x + label->box.width / 2;
    double off = middle - label->x;
    if (fabs(off) < label->box.width / 4) {
        return label->box.x + spare / 2;
    }
    return off > 0 ? label->box.x : label->box.x + spare;
}

static void draw_name(struct overlay *overlay, int i)
{
    const struct item *item = &overlay->item[i];
    const struct label *label = &overlay->label[i];
    const struct colour *colour = item->star ? &style_star : &style_object;
    struct canvas_text id = id_text(item), common = common_text(item);
    double width, height, common_width, common_height;
    canvas_measure(overlay->canvas, &id, &width, &height);
    canvas_write(overlay->canvas, &id, align(label, width), label->box.y, colour);
    if (item->common[0] && label->form == 0) {
        canvas_measure(overlay->canvas, &common, &common_width, &common_height);
        canvas_write(overlay->canvas, &common, align(label, common_width), label->box.y + height,
                     colour);
    }
}

static void draw_items(struct overlay *overlay, struct overlay_report *report)
{
    for (int i = 0; i < overlay->count; i++) {
        if (overlay->label[i].placed) {
            draw_mark(overlay, i);
            report->objects += !overlay->item[i].star;
            report->stars += overlay->item[i].star;
        }
    }
    for (int i = 0; i < overlay->count; i++) {
        if (overlay->label[i].placed) {
            draw_name(overlay, i);
        }
    }
}

/* A caption is looked for below; only what matters drives it to the top. */
static const double corner_preference = 1;

/* How much a caption in this box would hide. */
static double hidden_weight(const struct overlay *overlay, const struct label_box *box)
{
    double weight = 0;
    for (int i = 0; i < overlay->count; i++) {
        const struct label *label = &overlay->label[i];
        double r = fmin(label->radius, STYLE_TEXT * overlay->canvas->unit);
        bool hidden = label->x > box->x - r && label->x < box->x + box->width + r &&
                      label->y > box->y - r && label->y < box->y + box->height + r;
        weight += hidden ? fmax(0.1, overlay->item[i].weight) : 0;
    }
    return weight;
}

/* Finds out, without drawing, in which corner the caption hides less. */
static bool choose_corner(const struct overlay *overlay, const char *title)
{
    struct label_box taken[FURNITURE_PIECES] = {{0}};
    double weight[2];
    overlay->canvas->quiet = true;
    for (int on_top = 0; on_top < 2; on_top++) {
        furniture_draw(taken, overlay->canvas, overlay->wcs, title, on_top);
        weight[on_top] = hidden_weight(overlay, &taken[0]);
    }
    overlay->canvas->quiet = false;
    return weight[1] + corner_preference < weight[0];
}

static void draw_all(struct overlay *overlay, struct overlay_report *report, const char *title)
{
    struct canvas *canvas = overlay->canvas;
    struct label_box taken[FURNITURE_PIECES];
    struct label_space space = {
        .width = canvas->width,
        .height = canvas->height,
        .margin = STYLE_MARGIN / 2 * canvas->unit,
        .gap = STYLE_GAP * canvas->unit,
        .taken = taken,
    };
    bool on_top = choose_corner(overlay, title);
    canvas->quiet = true;
    space.taken_count = furniture_draw(taken, canvas, overlay->wcs, title, on_top);
    canvas->quiet = false;
    labels_place(overlay->label, overlay->count, &space);
    draw_items(overlay, report);
    furniture_draw(taken, canvas, overlay->wcs, title, on_top);
}

int overlay_draw(struct overlay_report *report, struct canvas *canvas, const struct wcs *wcs,
                 const struct field *field, const char *title, struct error *err)
{
    struct overlay *overlay = calloc(1, sizeof *overlay);
    *report = (struct overlay_report){0};
    if (!overlay) {
        return error_memory(err);
    }
    overlay->canvas = canvas;
    overlay->wcs = wcs;
    choose_items(overlay, field);
    name_items(overlay, field->objects);
    prepare_labels(overlay);
    draw_all(overlay, report, title);
    free(overlay);
    return 0;
}
