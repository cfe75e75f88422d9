#include "draw/overlay.h"

#include "draw/figures_draw.h"
#include "draw/furniture.h"
#include "draw/grid.h"
#include "draw/items.h"
#include "draw/labels.h"
#include "draw/legend.h"
#include "draw/pen.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct overlay {
    struct canvas *canvas;
    const struct overlay_request *request;
    struct overlay_report *report;
    struct furniture furniture;
    struct grid_steps steps;
    struct busy_map lines; /* where lines are that names keep off */
    struct item_list list;
    struct label label[ITEMS_MOST];
    struct grid_label grid[GRID_MOST_CROSSINGS];
    int grid_labels;
};

static bool wants(const struct overlay *overlay, enum layer layer)
{
    return layers_have(overlay->request->layers, layer);
}

/* A box that letters stand in: later ones keep away from it. */
static void take_box(struct overlay *overlay, const struct label_box *box)
{
    struct overlay_report *report = overlay->report;
    if (box->width > 0 && report->names < OVERLAY_MOST_NAMES) {
        report->name[report->names++] = *box;
    }
}

/* Until end_proven, nothing is drawn where the solution is not proven. */
static void begin_proven(const struct overlay *overlay, struct canvas *canvas)
{
    const struct trust *trust = overlay->request->trust;
    cairo_save(canvas->cairo);
    if (!trust || !trust->known || trust->share >= 1) {
        return;
    }
    cairo_new_path(canvas->cairo);
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        double x[2], y[2];
        trust_zone_bounds(x, y, trust, zone);
        if (trust->zone[zone] >= TRUST_BESIDE) {
            cairo_rectangle(canvas->cairo, x[0], y[0], x[1] - x[0], y[1] - y[0]);
        }
    }
    cairo_clip(canvas->cairo);
}

static void end_proven(struct canvas *canvas)
{
    cairo_restore(canvas->cairo);
}

/* Lines so faint that a name may stand on them. */
static void draw_net(struct overlay *overlay)
{
    struct canvas *canvas = overlay->canvas;
    const struct wcs *wcs = overlay->request->wcs;
    begin_proven(overlay, canvas);
    if (wants(overlay, LAYER_GRID)) {
        grid_choose_steps(&overlay->steps, wcs);
        grid_draw(canvas, wcs, &overlay->steps);
    }
    if (wants(overlay, LAYER_BORDERS)) {
        figures_draw_borders(canvas, wcs, &overlay->request->atlas->map);
    }
    end_proven(canvas);
}

/* Lines that names keep off. */
static void draw_lines(struct overlay *overlay, struct canvas *canvas)
{
    const struct wcs *wcs = overlay->request->wcs;
    begin_proven(overlay, canvas);
    if (wants(overlay, LAYER_ECLIPTIC)) {
        figures_draw_ecliptic(canvas, wcs);
    }
    if (wants(overlay, LAYER_LINES)) {
        figures_draw_lines(canvas, wcs, &overlay->request->atlas->figures);
    }
    if (wants(overlay, LAYER_PLAN)) {
        other_frame_draw(canvas, wcs, &overlay->request->planned);
    }
    end_proven(canvas);
    overlay->report->other_drawn = other_frame_draw(canvas, wcs, &overlay->request->other);
}

/* A small sheet tells where those lines and the brightest parts of nebulae are, in cells of so many
 * units. */
static int map_lines(struct overlay *overlay, struct error *err)
{
    static const double cell = 4;
    const struct canvas *canvas = overlay->canvas;
    double cell_px = fmax(1, cell * canvas->unit);
    struct canvas sheet;
    cairo_surface_t *cells =
        cairo_image_surface_create(CAIRO_FORMAT_ARGB32, (int)ceil(canvas->width / cell_px),
                                   (int)ceil(canvas->height / cell_px));
    int code =
        canvas_open_on(&sheet, cells, canvas->width, canvas->height, theme_of(THEME_NIGHT), err);
    if (!code) {
        canvas_scale(&sheet, 1 / cell_px);
        draw_lines(overlay, &sheet);
        for (int i = 0; i < overlay->list.count; i++) {
            mark_core(&sheet, overlay->request->wcs, &overlay->list.item[i].outline);
        }
        code = busy_of_sheet(&overlay->lines, &sheet, cell_px, err);
        canvas_free(&sheet);
    }
    return code;
}

/* What is left for names. */
static struct label_space find_space(const struct overlay *overlay)
{
    const struct canvas *canvas = overlay->canvas;
    return (struct label_space){
        .width = canvas->width,
        .height = canvas->height,
        .margin = STYLE_MARGIN / 2 * canvas->unit,
        .gap = STYLE_GAP * canvas->unit,
        .taken = overlay->report->name,
        .taken_count = overlay->report->names,
        .busy = overlay->request->busy,
        .lines = &overlay->lines,
    };
}

/* A caption is looked for below; only what matters drives it to the top. */
static const double corner_preference = 1;

/* How much a caption in this box would hide. */
static double hidden_weight(const struct overlay *overlay, const struct label_box *box)
{
    double weight = 0;
    for (int i = 0; i < overlay->list.count; i++) {
        const struct item *item = &overlay->list.item[i];
        double r = fmin(item->radius, STYLE_TEXT * overlay->canvas->unit);
        bool hidden = item->x > box->x - r && item->x < box->x + box->width + r &&
                      item->y > box->y - r && item->y < box->y + box->height + r;
        weight += hidden ? fmax(0.1, item->weight) : 0;
    }
    return weight;
}

/* Puts the caption where it hides less. */
static void choose_corner(struct overlay *overlay)
{
    double weight[2];
    struct label_box box;
    for (int on_top = 0; on_top < 2; on_top++) {
        overlay->furniture.caption_on_top = on_top != 0;
        furniture_caption_box(&box, overlay->canvas, overlay->request->wcs, &overlay->furniture);
        weight[on_top] = hidden_weight(overlay, &box);
    }
    overlay->furniture.caption_on_top = weight[1] + corner_preference < weight[0];
}

static void draw_furniture(struct overlay *overlay)
{
    struct canvas *canvas = overlay->canvas;
    struct label_box taken[FURNITURE_PIECES], legend;
    overlay->furniture = (struct furniture){.title = overlay->request->title,
                                            .facts = overlay->request->facts,
                                            .caption = wants(overlay, LAYER_CAPTION),
                                            .arrows = wants(overlay, LAYER_ARROWS),
                                            .scale = wants(overlay, LAYER_SCALE)};
    choose_corner(overlay);
    int pieces = furniture_draw(taken, canvas, overlay->request->wcs, &overlay->furniture);
    double margin = STYLE_MARGIN * canvas->unit, top = margin;
    for (int i = 0; i < pieces; i++) {
        take_box(overlay, &taken[i]);
    }
    if (overlay->furniture.caption && overlay->furniture.caption_on_top && pieces) {
        top += taken[pieces - 1].height + margin;
    }
    if (wants(overlay, LAYER_LEGEND) &&
        legend_draw(&legend, canvas, &overlay->list, overlay->request->layers, margin, top)) {
        take_box(overlay, &legend);
    }
}

static void name_frame(struct overlay *overlay, const struct other_frame *frame)
{
    struct label_box name;
    const struct label_space space = find_space(overlay);
    if (other_frame_name(&name, overlay->canvas, overlay->request->wcs, frame, &space)) {
        take_box(overlay, &name);
    }
}

static void name_ecliptic(struct overlay *overlay)
{
    struct label_box name;
    const struct label_space space = find_space(overlay);
    if (wants(overlay, LAYER_ECLIPTIC) &&
        figures_name_ecliptic(&name, overlay->canvas, overlay->request->wcs,
                              overlay->request->trust, &space)) {
        take_box(overlay, &name);
    }
}

static void draw_grid_labels(struct overlay *overlay)
{
    if (!wants(overlay, LAYER_GRID)) {
        return;
    }
    overlay->grid_labels =
        grid_place_labels(overlay->grid, overlay->canvas, overlay->request->wcs, &overlay->steps,
                          overlay->request->trust, overlay->report->name, overlay->report->names);
    grid_write_labels(overlay->canvas, overlay->grid, overlay->grid_labels);
    for (int i = 0; i < overlay->grid_labels; i++) {
        take_box(overlay, &overlay->grid[i].box);
    }
}

/* What names a part of the sky has to stand on it. */
static void place_names(struct overlay *overlay)
{
    const struct label_space space = find_space(overlay);
    for (int i = 0; i < overlay->list.count; i++) {
        item_label(&overlay->label[i], &overlay->list.item[i], overlay->canvas);
    }
    labels_place(overlay->label, overlay->list.count, &space);
    for (int i = 0; i < overlay->list.count; i++) {
        struct label *label = &overlay->label[i];
        const struct label_box *box = &label->box;
        bool on_sky =
            overlay->list.item[i].kind != ITEM_REGION ||
            wcs_reaches(overlay->request->wcs, box->x + box->width / 2, box->y + box->height / 2);
        label->placed = label->placed && on_sky;
    }
}

static void draw_leader(struct canvas *canvas, const struct label *label, enum ink ink)
{
    if (label->leader) {
        cairo_new_path(canvas->cairo);
        cairo_move_to(canvas->cairo, label->from_x, label->from_y);
        cairo_line_to(canvas->cairo, label->to_x, label->to_y);
        pen_stroke(canvas, ink, STYLE_LEADER);
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

static void write_name(struct canvas *canvas, const struct item *item, const struct label *label)
{
    struct pen_text first = item_first(item), second = item_second(item);
    double width, height, second_width, second_height;
    pen_measure(canvas, &first, &width, &height);
    pen_write(canvas, &first, align(label, width), label->box.y, item_ink(item));
    if (item->second[0] && label->form == 0) {
        pen_measure(canvas, &second, &second_width, &second_height);
        pen_write(canvas, &second, align(label, second_width), label->box.y + height,
                  item_ink(item));
    }
}

static void count_item(struct overlay_report *report, const struct item *item)
{
    report->objects += item->kind == ITEM_OBJECT;
    report->stars += item->kind == ITEM_STAR || item->kind == ITEM_LETTER;
    report->bodies += item->kind == ITEM_BODY;
}

static void draw_items(struct overlay *overlay)
{
    struct canvas *canvas = overlay->canvas;
    for (int i = 0; i < overlay->list.count; i++) {
        const struct item *item = &overlay->list.item[i];
        if (overlay->label[i].placed) {
            begin_proven(overlay, canvas);
            item_draw_mark(item, canvas, overlay->request->wcs);
            end_proven(canvas);
            draw_leader(canvas, &overlay->label[i], item_ink(item));
            count_item(overlay->report, item);
            take_box(overlay, &overlay->label[i].box);
        }
    }
    for (int i = 0; i < overlay->list.count; i++) {
        if (overlay->label[i].placed) {
            write_name(canvas, &overlay->list.item[i], &overlay->label[i]);
        }
    }
}

/* Letters come last, so that no line runs through them. */
static void draw_all(struct overlay *overlay)
{
    draw_net(overlay);
    draw_lines(overlay, overlay->canvas);
    draw_furniture(overlay);
    name_frame(overlay, &overlay->request->other);
    if (wants(overlay, LAYER_PLAN)) {
        name_frame(overlay, &overlay->request->planned);
    }
    draw_grid_labels(overlay);
    name_ecliptic(overlay);
    place_names(overlay);
    draw_items(overlay);
}

int overlay_draw(struct overlay_report *report, struct canvas *canvas,
                 const struct overlay_request *request, struct error *err)
{
    struct overlay *overlay = calloc(1, sizeof *overlay);
    memset(report, 0, sizeof *report);
    if (!overlay) {
        return error_memory(err);
    }
    overlay->canvas = canvas;
    overlay->request = request;
    overlay->report = report;
    items_choose(&overlay->list, canvas, request);
    int code = map_lines(overlay, err);
    if (!code) {
        draw_all(overlay);
    }
    busy_free(&overlay->lines);
    free(overlay);
    return code;
}
