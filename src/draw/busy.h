/* draw/busy.h: where a picture shows something that a name had better not hide. */
#ifndef ALIDADE_DRAW_BUSY_H
#define ALIDADE_DRAW_BUSY_H

#include "base/error.h"
#include "draw/canvas.h"
#include "draw/label_box.h"
#include "image/frame.h"

/* A coarse map of how far the picture rises above its sky, 0..1. Starts as all zeros, which means
 * an even picture; free with busy_free. */
struct busy_map {
    int columns, rows;
    double cell_px;
    double *sum; /* over all cells above and to the left; one more each way */
};

/* ERROR_MEMORY. */
int busy_find(struct busy_map *map, const struct picture *picture, struct error *err);

/* The same of lines on a sheet whose pixels are the cells, each cell_px pixels of the picture wide:
 * how much of a cell is covered, 0..1. The sheet must not be drawn on any more. ERROR_MEMORY. */
int busy_of_sheet(struct busy_map *map, struct canvas *sheet, double cell_px, struct error *err);

void busy_free(struct busy_map *map);

/* Mean over a box, 0..1. */
double busy_in(const struct busy_map *map, const struct label_box *box);

#endif
