/* demo/mosaic.h: colour filters on a sensor's pixels, red at the upper left, blue across. */
#ifndef ALIDADE_DEMO_MOSAIC_H
#define ALIDADE_DEMO_MOSAIC_H

/* Share of the light of a pixel without filter that counts behind each filter of a cell, by row and
 * column modulo 2; the mean of the four is 1. */
struct mosaic_gain {
    float at[2][2];
};

/* Every pixel sees the same. */
struct mosaic_gain mosaic_grey(void);

/* For light of a colour index, about -0.4..2. */
struct mosaic_gain mosaic_of_colour(double b_v);

#endif
