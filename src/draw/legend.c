#include "draw/legend.h"

#include "draw/marks.h"
#include "draw/pen.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEGEND_MOST = 24 };

/* What a row shows; rows stand in this order. */
enum sample { SAMPLE_STAR, SAMPLE_BODY, SAMPLE_OUTLINE, SAMPLE_MARK, SAMPLE_LINE };

struct legend_row {
    const char *word;
    enum sample sample;
    enum object_type type; /* of a mark */
    bool open, dotted;     /* of an outline */
    enum layer layer;      /* of a line */
};

static const struct legend_row line_rows[] = {
    {.word = "lines of a constellation", .sample = SAMPLE_LINE, .layer = LAYER_LINES},
    {.word = "border of a constellation", .sample = SAMPLE_LINE, .layer = LAYER_BORDERS},
};

static bool has_row(const struct legend_row *row, int rows, const char *word)
{
    for (int i = 0; i < rows; i++) {
        if (strcmp(row[i].word, word) == 0) {
            return true;
        }
    }
    return false;
}

static int add_row(struct legend_row *row, int rows, struct legend_row one)
{
    if (rows < LEGEND_MOST && !has_row(row, rows, one.word)) {
        row[rows++] = one;
    }
    return rows;
}

static int rows_of_item(struct legend_row *row, int rows, const struct item *item)
{
    struct legend_row one = {.sample = SAMPLE_STAR};
    if (item->kind == ITEM_STAR) {
        one.word = "star, named";
    } else if (item->kind == ITEM_BODY) {
        one.sample = SAMPLE_BODY;
        one.word = "Sun, Moon, planet";
    } else if (item->kind != ITEM_OBJECT) {
        return rows;
    } else if (!item->outlined) {
        one.sample = SAMPLE_MARK;
        one.type = item->found->object->type;
        one.word = mark_word(one.type);
    } else {
        one.sample = SAMPLE_OUTLINE;
        one.open = item->found->shape.turn_unknown;
        one.dotted = item->found->object->type == OBJECT_DARK_NEBULA;
        one.word = one.dotted ? "dark nebula, true size"
                   : one.open ? "true area, tilt not known"
                              : "true size";
    }
    return add_row(row, rows, one);
}

static int by_sample(const void *left, const void *right)
{
    const struct legend_row *a = left, *b = right;
    if (a->sample != b->sample) {
        return a->sample < b->sample ? -1 : 1;
    }
    if (a->type != b->type) {
        return a->type < b->type ? -1 : 1;
    }
    return a->open + 2 * a->dotted - b->open - 2 * b->dotted;
}

static int find_rows(struct legend_row *row, const struct item_list *list, layer_set layers)
{
    int rows = 0;
    for (int i = 0; i < list->count; i++) {
        rows = rows_of_item(row, rows, &list->item[i]);
    }
    if (rows) {
        qsort(row, (size_t)rows, sizeof *row, by_sample);
    }
    for (size_t i = 0; i < sizeof line_rows / sizeof *line_rows; i++) {
        if (layers_have(layers, line_rows[i].layer)) {
            rows = add_row(row, rows, line_rows[i]);
        }
    }
    return rows;
}

static void draw_line_sample(struct canvas *canvas, enum layer layer, double x, double y, double r)
{
    bool border = layer == LAYER_BORDERS;
    cairo_new_path(canvas->cairo);
    cairo_move_to(canvas->cairo, x - 1.4 * r, y);
    cairo_line_to(canvas->cairo, x + 1.4 * r, y);
    pen_dash(canvas, border ? 7 : 0, 7);
    pen_stroke_faint(canvas, border ? INK_BORDER : INK_FIGURE,
                     border ? STYLE_THIN_LINE : STYLE_FIGURE_LINE);
    pen_dash(canvas, 0, 0);
}

static void draw_row(struct canvas *canvas, const struct legend_row *row, double x, double y,
                     double text_x, double line_height)
{
    struct pen_text text = {row->word, STYLE_TINY_TEXT, false, 0};
    double r = STYLE_MARK * canvas->unit;
    switch (row->sample) {
    case SAMPLE_STAR:
        mark_star(canvas, x, y, 8, false);
        break;
    case SAMPLE_BODY:
        mark_body(canvas, x, y, 0.55 * r);
        break;
    case SAMPLE_OUTLINE:
        mark_ring(canvas, x, y, r, (struct mark_line){row->open, row->dotted, false});
        break;
    case SAMPLE_MARK:
        mark_object(canvas, row->type, x, y);
        break;
    case SAMPLE_LINE:
        draw_line_sample(canvas, row->layer, x, y, r);
        break;
    }
    pen_write(canvas, &text, text_x, y - line_height / 2, INK_PLAIN);
}

bool legend_draw(struct label_box *taken, struct canvas *canvas, const struct item_list *list,
                 layer_set layers, double x, double y)
{
    struct legend_row row[LEGEND_MOST];
    double widest = 0, line_height = 0, column = 3.8 * STYLE_MARK * canvas->unit;
    int rows = find_rows(row, list, layers);
    for (int i = 0; i < rows; i++) {
        struct pen_text text = {row[i].word, STYLE_TINY_TEXT, false, 0};
        double wide;
        pen_measure(canvas, &text, &wide, &line_height);
        widest = fmax(widest, wide);
    }
    double pitch = fmax(1.25 * line_height, 2.6 * STYLE_MARK * canvas->unit);
    *taken = (struct label_box){x, y, column + widest, rows * pitch};
    if (rows == 0 || x + taken->width > canvas->width / 2.0 ||
        y + taken->height > canvas->height * 0.8) {
        return false;
    }
    for (int i = 0; i < rows; i++) {
        draw_row(canvas, &row[i], x + column * 0.4, y + (i + 0.5) * pitch, x + column, line_height);
    }
    return true;
}
