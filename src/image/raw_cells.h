/* image/raw_cells.h: sensor values to luminance and colour without demosaicing. */
#ifndef ALIDADE_IMAGE_RAW_CELLS_H
#define ALIDADE_IMAGE_RAW_CELLS_H

#include "base/error.h"

#include <libraw/libraw.h>
#include <stdbool.h>

enum { RAW_PATTERN = 24 }; /* rows and columns after which every known filter pattern repeats */

/* What LibRaw unpacked, seen as rows of the visible picture. Starts as all zeros; free with
 * raw_cells_free. The values belong to LibRaw. */
struct raw_cells {
    const unsigned short *first; /* the visible picture's first value */
    size_t stride;               /* values from one row to the next */
    int channels;                /* 1: a mosaic or grey; 3 or 4 a pixel: linear colours */
    int width, height;
    int cell; /* 2: Bayer, 3: X-Trans, 1: none */
    int colour[RAW_PATTERN]
              [RAW_PATTERN]; /* of the filter at (row, column): 0 red, 1 green, 2 blue */
    int rows, columns;       /* of the pattern of black levels */
    float *black;            /* rows * (width * channels) */
    float full;              /* white less black */
    float balance[3];        /* factors that make grey grey */
};

/* Looks at an unpacked file. ERROR_INPUT for sensors whose pixels lie on a slant and for unknown
 * layouts, ERROR_MEMORY. */
int raw_cells_look(struct raw_cells *cells, libraw_data_t *raw, const char *name,
                   struct error *err);

/* Luminance of row y above the black level: width values. */
void raw_cells_luminance(float *line, const struct raw_cells *cells, int y);

/* Colours of the row of cells that begins at row y, above the black level and balanced, repeated
 * over the cells' columns: width values for each of red, green and blue. */
void raw_cells_colours(float *const line[3], const struct raw_cells *cells, int y);

/* Whether all values of the file are 0: none were there. */
bool raw_cells_are_blank(const struct raw_cells *cells);

void raw_cells_free(struct raw_cells *cells);

#endif
