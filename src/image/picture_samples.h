/* image/picture_samples.h: where a picture is looked at that need not be seen: at few pixels,
 * evenly over it. */
#ifndef ALIDADE_IMAGE_PICTURE_SAMPLES_H
#define ALIDADE_IMAGE_PICTURE_SAMPLES_H

#include "image/frame.h"

#include <math.h>

/* Cells along the longer side, and samples of each in both directions. */
enum { SAMPLED_CELLS = 160, CELL_SAMPLES = 4 };

/* A side of a cell of a picture of this size, px; 1 of small ones. */
static inline double picture_cell_px(int width, int height)
{
    int longer = width > height ? width : height;
    return fmax(1, longer / (double)SAMPLED_CELLS);
}

/* Cells along a side of so many px. */
static inline int picture_cells(int side, double cell_px)
{
    return (int)ceil(side / cell_px);
}

/* Sample k of a side, from 0 to less than CELL_SAMPLES of each of its cells: which pixel it is. */
static inline int picture_sample_at(int k, int side, double cell_px)
{
    return (int)fmin((k + 0.5) / CELL_SAMPLES * cell_px, side - 1);
}

/* Whether leaving out all but the samples makes a picture of this size much smaller. */
static inline bool picture_worth_sampling(int width, int height)
{
    return picture_cell_px(width, height) >= 2 * CELL_SAMPLES;
}

/* Columns and rows of values that are kept of a picture: of samples, or of its pixels. */
static inline int picture_kept_columns(const struct picture *picture)
{
    double cell_px = picture_cell_px(picture->width, picture->height);
    return picture->sampled ? CELL_SAMPLES * picture_cells(picture->width, cell_px)
                            : picture->width;
}

static inline int picture_kept_rows(const struct picture *picture)
{
    double cell_px = picture_cell_px(picture->width, picture->height);
    return picture->sampled ? CELL_SAMPLES * picture_cells(picture->height, cell_px)
                            : picture->height;
}

#endif
