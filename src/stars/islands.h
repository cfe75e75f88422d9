/* stars/islands.h: what stands out of the relief without being high enough for a star. */
#ifndef ALIDADE_STARS_ISLANDS_H
#define ALIDADE_STARS_ISLANDS_H

#include "base/error.h"
#include "stars/relief.h"

#include <stddef.h>

/* A pixel of the relief, and its level. */
struct hidden_pixel {
    size_t at;
    float level;
};

/* Starts as all zeros. */
struct islands {
    struct hidden_pixel *pixel;
    size_t count, capacity;
};

/* Sets those islands of connected pixels (8 neighbours) of at least the level of the shore to 0
 * which nowhere reach the peak; most of them are noise. The others are left as they are. On
 * ERROR_MEMORY, too, islands_show is to follow. */
int islands_hide(struct islands *hidden, struct relief *r, float shore, float peak,
                 struct error *err);

/* Puts them back to the bit, and frees. */
void islands_show(struct islands *hidden, struct relief *r);

#endif
