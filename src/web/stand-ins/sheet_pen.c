#include "sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct sheet_style *style_of(cairo_t *pen)
{
    return &pen->state[pen->depth];
}

cairo_t *cairo_create(cairo_surface_t *surface)
{
    static cairo_t nothing = {.status = CAIRO_STATUS_NO_MEMORY};
    cairo_t *pen = calloc(1, sizeof *pen);
    if (!pen) {
        return &nothing;
    }
    pen->sheet = surface;
    pen->status = surface->status;
    pen->state[0] = (struct sheet_style){.colour = {0, 0, 0, 1}, .scale = 1, .width = 2};
    return pen;
}

void cairo_destroy(cairo_t *pen)
{
    if (pen->sheet) {
        free(pen->path.step);
        free(pen);
    }
}

cairo_status_t cairo_status(cairo_t *pen)
{
    return pen->status;
}

cairo_surface_t *cairo_get_target(cairo_t *pen)
{
    return pen->sheet;
}

void cairo_save(cairo_t *pen)
{
    if (pen->depth + 1 < SHEET_STATES) {
        pen->state[pen->depth + 1] = pen->state[pen->depth];
        pen->state[++pen->depth].clips = 0;
    }
}

void cairo_restore(cairo_t *pen)
{
    for (int i = 0; i < style_of(pen)->clips; i++) {
        pen->sheet->kind->unclip(pen->sheet);
    }
    if (pen->depth > 0) {
        pen->depth--;
    }
}

void cairo_identity_matrix(cairo_t *pen)
{
    struct sheet_style *style = style_of(pen);
    style->scale = 1;
    style->x = style->y = 0;
}

void cairo_translate(cairo_t *pen, double x, double y)
{
    struct sheet_style *style = style_of(pen);
    style->x += style->scale * x;
    style->y += style->scale * y;
}

void cairo_scale(cairo_t *pen, double x, double y)
{
    (void)y;
    style_of(pen)->scale *= x;
}

void cairo_set_source_rgba(cairo_t *pen, double red, double green, double blue, double alpha)
{
    style_of(pen)->colour = (struct sheet_colour){red, green, blue, alpha};
    pen->picture = NULL;
}

void cairo_set_source_rgb(cairo_t *pen, double red, double green, double blue)
{
    cairo_set_source_rgba(pen, red, green, blue, 1);
}

void cairo_set_source_surface(cairo_t *pen, cairo_surface_t *surface, double x, double y)
{
    (void)x;
    (void)y;
    pen->picture = surface;
}

void cairo_set_line_width(cairo_t *pen, double width)
{
    style_of(pen)->width = width;
}

/* All lines here have round corners. */
void cairo_set_line_join(cairo_t *pen, cairo_line_join_t join)
{
    (void)pen;
    (void)join;
}

void cairo_set_fill_rule(cairo_t *pen, cairo_fill_rule_t rule)
{
    style_of(pen)->even_odd = rule == CAIRO_FILL_RULE_EVEN_ODD;
}

void cairo_set_dash(cairo_t *pen, const double *dash, int count, double offset)
{
    struct sheet_style *style = style_of(pen);
    (void)offset;
    style->dashes = count < SHEET_DASHES ? count : SHEET_DASHES;
    for (int i = 0; i < style->dashes; i++) {
        style->dash[i] = dash[i];
    }
}

void cairo_new_path(cairo_t *pen)
{
    pen->path.count = 0;
    pen->path.begun = false;
}

void cairo_new_sub_path(cairo_t *pen)
{
    pen->path.begun = false;
}

static void add(cairo_t *pen, char kind, const double *at, int points)
{
    struct sheet_path *path = &pen->path;
    if (path->count == path->room) {
        int room = 2 * path->room + 64;
        struct sheet_step *more = realloc(path->step, (size_t)room * sizeof *more);
        if (!more) {
            pen->status = CAIRO_STATUS_NO_MEMORY;
            return;
        }
        path->step = more;
        path->room = room;
    }
    const struct sheet_style *style = style_of(pen);
    struct sheet_step *step = &path->step[path->count++];
    step->kind = kind;
    for (int i = 0; i < 2 * points; i++) {
        step->at[i] = style->scale * at[i] + (i % 2 ? style->y : style->x);
    }
    path->begun = kind != 'Z';
}

void cairo_move_to(cairo_t *pen, double x, double y)
{
    add(pen, 'M', (double[]){x, y}, 1);
}

void cairo_line_to(cairo_t *pen, double x, double y)
{
    add(pen, pen->path.begun ? 'L' : 'M', (double[]){x, y}, 1);
}

void cairo_curve_to(cairo_t *pen, double x1, double y1, double x2, double y2, double x3, double y3)
{
    if (!pen->path.begun) {
        cairo_move_to(pen, x1, y1);
    }
    add(pen, 'C', (double[]){x1, y1, x2, y2, x3, y3}, 3);
}

void cairo_close_path(cairo_t *pen)
{
    add(pen, 'Z', NULL, 0);
}

void cairo_rectangle(cairo_t *pen, double x, double y, double width, double height)
{
    cairo_move_to(pen, x, y);
    cairo_line_to(pen, x + width, y);
    cairo_line_to(pen, x + width, y + height);
    cairo_line_to(pen, x, y + height);
    cairo_close_path(pen);
}

/* A cubic curve follows an eighth of a circle to 4 millionths of its radius. */
void cairo_arc(cairo_t *pen, double x, double y, double radius, double from, double to)
{
    const double eighth = 0.785398163397448;
    int pieces = (int)ceil((to - from) / eighth - 1e-9);
    double step = pieces > 0 ? (to - from) / pieces : 0;
    double reach = radius * 4 / 3 * tan(step / 4);
    cairo_line_to(pen, x + radius * cos(from), y + radius * sin(from));
    for (int i = 0; i < pieces; i++) {
        double a = from + i * step, b = a + step;
        cairo_curve_to(pen, x + radius * cos(a) - reach * sin(a),
                       y + radius * sin(a) + reach * cos(a), x + radius * cos(b) + reach * sin(b),
                       y + radius * sin(b) - reach * cos(b), x + radius * cos(b),
                       y + radius * sin(b));
    }
}

static void draw(cairo_t *pen, bool stroke)
{
    if (pen->status == CAIRO_STATUS_SUCCESS && pen->path.count > 0) {
        pen->sheet->kind->path(pen->sheet, &pen->path, style_of(pen), stroke);
    }
}

void cairo_stroke_preserve(cairo_t *pen)
{
    draw(pen, true);
}

void cairo_stroke(cairo_t *pen)
{
    draw(pen, true);
    cairo_new_path(pen);
}

void cairo_fill_preserve(cairo_t *pen)
{
    draw(pen, false);
}

void cairo_fill(cairo_t *pen)
{
    draw(pen, false);
    cairo_new_path(pen);
}

void cairo_paint(cairo_t *pen)
{
    const struct sheet_style *style = style_of(pen);
    if (pen->status != CAIRO_STATUS_SUCCESS) {
        return;
    }
    if (pen->picture) {
        pen->sheet->kind->picture(pen->sheet, pen->picture, style->x - 0.5 * style->scale,
                                  style->y - 0.5 * style->scale, style->scale);
    } else {
        pen->sheet->kind->paint(pen->sheet, &style->colour);
    }
}

void cairo_clip(cairo_t *pen)
{
    if (pen->status == CAIRO_STATUS_SUCCESS) {
        pen->sheet->kind->clip(pen->sheet, &pen->path);
        style_of(pen)->clips++;
    }
    cairo_new_path(pen);
}

void cairo_show_page(cairo_t *pen)
{
    (void)pen; /* a sheet has one */
}

void sheet_write_text(cairo_t *pen, const struct sheet_text *text)
{
    const struct sheet_style *style = style_of(pen);
    struct sheet_text there = *text;
    if (pen->status != CAIRO_STATUS_SUCCESS) {
        return;
    }
    there.x = style->scale * text->x + style->x;
    there.y = style->scale * text->y + style->y;
    there.size *= style->scale;
    there.spacing *= style->scale;
    there.rim_width *= style->scale;
    pen->sheet->kind->text(pen->sheet, &there);
}
