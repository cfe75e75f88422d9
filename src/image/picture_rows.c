#include "image/picture_rows.h"

#include <stdlib.h>
#include <string.h>

int picture_rows_start(struct picture_rows *rows, struct binner *binner, struct error *err)
{
    size_t values = 3 * (size_t)binner->width;
    rows->binner = binner;
    rows->line = malloc(values * sizeof *rows->line);
    rows->deep = binner->deep ? malloc(values * sizeof *rows->deep) : NULL;
    rows->rgb = binner->deep ? NULL : malloc(values);
    if (!rows->line || (!rows->deep && !rows->rgb)) {
        return error_memory(err);
    }
    return stretch_start(&rows->stretch, binner->width, binner->height, err);
}

void picture_rows_free(struct picture_rows *rows)
{
    free(rows->line);
    free(rows->rgb);
    free(rows->deep);
    stretch_free(&rows->stretch);
    memset(rows, 0, sizeof *rows);
}

void picture_rows_look(struct picture_rows *rows, int row, const float *const colour[3])
{
    for (int c = 0; rows->binner && stretch_wants(&rows->stretch, row) && c < 3; c++) {
        stretch_look(&rows->stretch, c, colour[c], rows->binner->width);
    }
}

void picture_rows_settle(struct picture_rows *rows, float full)
{
    if (rows->binner && rows->binner->keep_levels) {
        stretch_settle_plain(&rows->stretch, full);
    } else if (rows->binner) {
        stretch_settle(&rows->stretch, full);
    }
}

bool picture_rows_in_proportion(const struct picture_rows *rows)
{
    return rows->stretch.plain;
}

static void convert(struct picture_rows *rows, const float *const colour[3])
{
    int values = 3 * rows->binner->width;
    stretch_convert(&rows->stretch, colour, rows->binner->width, rows->line);
    for (int i = 0; rows->deep && i < values; i++) {
        rows->deep[i] = (uint16_t)(rows->line[i] * 65535 + 0.5F);
    }
    for (int i = 0; rows->rgb && i < values; i++) {
        rows->rgb[i] = (unsigned char)(rows->line[i] * 255 + 0.5F);
    }
}

/* One more, since half a cell at the end has the colours of the one before. */
bool picture_rows_wants(const struct picture_rows *rows, int times)
{
    return rows->binner && binner_wants(rows->binner, times + 1);
}

void picture_rows_add(struct picture_rows *rows, const float *const colour[3], int times)
{
    if (colour && picture_rows_wants(rows, times)) {
        convert(rows, colour);
    }
    for (int i = 0; rows->binner && i < times; i++) {
        if (rows->deep) {
            binner_add_deep(rows->binner, rows->deep);
        } else {
            binner_add_rgb(rows->binner, rows->rgb);
        }
    }
}
