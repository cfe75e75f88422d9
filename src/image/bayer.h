/* image/bayer.h: colours of a Bayer mosaic, cell by cell. */
#ifndef ALIDADE_IMAGE_BAYER_H
#define ALIDADE_IMAGE_BAYER_H

#include <stdbool.h>

/* Colours of the filters of a cell, 0 red, 1 green, 2 blue, at [row % 2][column % 2]. */
struct bayer {
    bool known;
    int colour[2][2];
};

/* From text like "RGGB", the cell's first row and then its second. Of anything that does not hold
 * all three colours *bayer says that it is not known. */
void bayer_read(struct bayer *bayer, const char *pattern);

/* Begins the cell at another of its columns and rows, for a picture cut out of a mosaic. */
void bayer_shift(struct bayer *bayer, long columns, long rows);

/* Means of each colour in the cells of two rows, repeated over the cells' columns: width values
 * for each of red, green and blue. */
void bayer_colours(float *const colour[3], const struct bayer *bayer, const float *upper,
                   const float *lower, int width);

#endif
