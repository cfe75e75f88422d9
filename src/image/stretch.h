/* image/stretch.h: numbers of any range to a picture that shows faint and bright at once. */
#ifndef ALIDADE_IMAGE_STRETCH_H
#define ALIDADE_IMAGE_STRETCH_H

#include "base/error.h"

#include <stdbool.h>

enum { STRETCH_LEVELS = 16384 };

/* Starts as all zeros; free with stretch_free. First look at samples of all rows, then settle, then
 * convert. */
struct stretch {
    float *sample[3]; /* one list a channel */
    int count[3], capacity;
    int step;              /* one pixel in so many is looked at, both ways */
    float black[3], scale; /* level = (value - black) * scale */
    bool plain;            /* shown in proportion, each channel for itself */
    float sky;             /* level of the sky */
    float *curve;          /* STRETCH_LEVELS + 1 of them, 0 to 1 */
};

/* For a picture of this size. ERROR_MEMORY. */
int stretch_start(struct stretch *stretch, int width, int height, struct error *err);

/* Whether the row is one that should be shown to stretch_look. */
bool stretch_wants(const struct stretch *stretch, int row);
void stretch_look(struct stretch *stretch, int channel, const float *value, int width);

/* full: the value at which the numbers end, 0 if unknown. What is 8 bits already, or has its median
 * above a twentieth of full, is meant to be looked at and keeps its proportions. Else each channel
 * gets its own black point, so that their medians fall together, and the brightness one curve,
 * asinh (Lupton et al. 2004, PASP 116, 133), that brings the median to a quarter of the range and
 * reaches its end at the brightest, so that cores do not burn out. Above the sky's noise colours
 * keep their proportions, as there. */
void stretch_settle(struct stretch *stretch, float full);

/* Instead: everything keeps its proportions; up to the brightest if full is unknown. */
void stretch_settle_plain(struct stretch *stretch, float full);

/* Writes width pixels, red, green, blue, 0 to 1; NaN becomes black. What keeps its proportions
 * comes out as value / full. */
void stretch_convert(const struct stretch *stretch, const float *const colour[3], int width,
                     float *out);

void stretch_free(struct stretch *stretch);

#endif
