/* health/skyline.h: which parts of a frame show no sky: roofs, trees, thick cloud. */
#ifndef ALIDADE_HEALTH_SKYLINE_H
#define ALIDADE_HEALTH_SKYLINE_H

#include "match/index.h"
#include "match/solution.h"

#include <stdbool.h>

enum { SKYLINE_STARS = 500 };

/* The brightest catalogue stars that should be in the frame, and whether they are. All zeros: the
 * whole frame is taken for sky. */
struct skyline {
    struct {
        double x, y; /* px, where it should be */
        bool seen;
    } star[SKYLINE_STARS];
    int stars;
};

/* index is the one that the frame was solved with. */
void skyline_find(struct skyline *skyline, const struct solution *solution,
                  const struct index *index);

/* Whether there is no sky around a pixel: of the nearest stars that should be there, hardly any is.
 */
bool skyline_hides(const struct skyline *skyline, double x, double y);

/* Whether a star of the catalogue that should be at a pixel is there, or everything around it is,
 * so that only its own glare, or a nebula, may be in the way. */
bool skyline_shows_star(const struct skyline *skyline, double x, double y);

#endif
