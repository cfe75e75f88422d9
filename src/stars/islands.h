/* stars/islands.h: what stands out of the relief, in connected pixels. */
#ifndef ALIDADE_STARS_ISLANDS_H
#define ALIDADE_STARS_ISLANDS_H

#include "base/error.h"
#include "stars/relief.h"

#include <stdbool.h>
#include <stddef.h>

/* Pixels are told by their index into the plane. */
struct island {
    size_t first; /* of its pixels in the list of all */
    int pixels;
    int left, right, upper, lower; /* their bounding box */
    int peak;                      /* highest pixel, the first of several */
    float height;                  /* the relief there */
    double flux;                   /* sum of the relief */
    bool merged;                   /* cut out of a larger one */
};

/* Starts as all zeros; free with islands_free. */
struct islands {
    int *pixel;   /* island after island */
    float *level; /* the relief at each */
    size_t pixels;
    struct island *island;
    size_t count;
};

/* Finds what is connected (8 neighbours) at the level of the shore or above, reaches the peak
 * somewhere, and has so many pixels; in the order of their first pixels, and so are the pixels of
 * each. Memory: up to 20 bytes for each pixel above the shore. ERROR_MEMORY only. */
int islands_find(struct islands *found, const struct relief *r, float shore, float peak,
                 int least_area, int threads, struct error *err);

/* Cuts those apart in which several stars have run together: where two summits meet, both are stars
 * if each has least_area pixels above the pass, stands out of it by more than noise, and holds a
 * share of 0.001 of the island's flux above it. Every pixel goes with the summit that water would
 * have come from. (As Bertin & Arnouts 1996, A&AS 117, 393, section 6, with as many levels as there
 * are pixels, and without a draw of lots.) Time grows as the number of pixels; same bits on any
 * number of threads. ERROR_MEMORY only.
 */
int islands_part(struct islands *found, int plane_width, int least_area, int threads,
                 struct error *err);

void islands_free(struct islands *found);

#endif
