/* image/colour_cells.h: the colours of a file's rows, summed over cells, to the frame's colours. */
#ifndef ALIDADE_IMAGE_COLOUR_CELLS_H
#define ALIDADE_IMAGE_COLOUR_CELLS_H

#include "base/error.h"
#include "image/binner.h"

/* Starts as all zeros, which takes and does nothing; free with colour_cells_free. */
struct colour_cells {
    const struct binner *binner; /* borrowed */
    int cell, columns, rows;     /* before they are transposed */
    int skip_x, skip_y;          /* the rest that is left out, when it comes first */
    int row;                     /* the next one of the file */
    float *sum[3];
};

/* After binner_start, where colours are wanted. ERROR_MEMORY. */
int colour_cells_start(struct colour_cells *cells, const struct binner *binner, struct error *err);

/* Adds the next rows of the file, so many of the same colours. */
void colour_cells_add(struct colour_cells *cells, const float *const colour[3], int rows);
/* The next row, three values a pixel. */
void colour_cells_add_bytes(struct colour_cells *cells, const unsigned char *rgb);

void colour_cells_free(struct colour_cells *cells);

#endif
