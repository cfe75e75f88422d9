#include "draw/legend.h"

#include "draw/marks.h"

#include <math.h>
#include <string.h>

enum { LEGEND_MOST = 16 };

/* One line: an item stands for its kind. */
struct legend_row {
    const char *word;
    enum item_kind kind;
    enum object_type type;
    bool open, dotted, outlined;
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
    struct legend_row one = {.kind = item->kind};
    if (item->kind == ITEM_STAR) {
        one.word = "star, named";
    } else if (item->kind == ITEM_BODY) {
        one.word = "Sun, Moon, planet";
    } else if (item->kind != ITEM_OBJECT) {
        return rows;
    } else if (!item->outlined) {
        one.type = item->found->object->type;
        one.word = mark_word(one.type);
    } else {
        one.outlined = true;
        one.open = item->found->shape.turn_unknown;
        one.dotted = item->found->object->type == OBJECT_DARK_NEBULA;
        one.word = one.dotted ? "dark nebula, true size"
                   : one.open ? "true size, way it lies not known"
                              : "true size";
    }
    return add_row(row, rows, one);
}

static void draw_row(struct canvas *canvas, const struct legend_row *row, double x, double y,
                     double text_x, double line_height)
{
    struct canvas_text text = {row->word, STYLE_TINY_TEXT, false, 0};
    double r = STYLE_MARK * canvas->unit;
    if (row->kind == ITEM_STAR) {
        mark_star(canvas, x, y, 8);
    } else if (row->kind == ITEM_BODY) {
        mark_body(canvas, x, y, 0.55 * r);
    } else if (row->outlined) {
        mark_ring(canvas, x, y, r, (struct mark_line){row->open, row->dotted, false});
    } else {
        mark_object(canvas, row->type, x, y);
    }
    canvas_write(canvas, &text, text_x, y - line_height / 2, INK_PLAIN);
}

bool legend_draw(struct label_box *taken, struct canvas *canvas, const struct item_list *list,
                 double x, double y)
{
    struct legend_row row[LEGEND_MOST];
    double widest = 0, line_height = 0, column = 3.2 * STYLE_MARK * canvas->unit;
    int rows = 0;
    for (int i = 0; i < list->count; i++) {
        rows = rows_of_item(row, rows, &list->item[i]);
    }
    for (int i = 0; i < rows; i++) {
        struct canvas_text text = {row[i].word, STYLE_TINY_TEXT, false, 0};
        double wide;
        canvas_measure(canvas, &text, &wide, &line_height);
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
