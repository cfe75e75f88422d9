/* health/foreground.h: which parts of a frame show no sky: roofs, trees, thick cloud. */
#ifndef ALIDADE_HEALTH_FOREGROUND_H
#define ALIDADE_HEALTH_FOREGROUND_H

#include "match/index.h"
#include "match/solution.h"

#include <stdbool.h>

enum { FOREGROUND_STARS = 500 };

/* The brightest catalogue stars that should be in the frame, and whether they are. All zeros: the
 * whole frame is taken for sky. */
struct foreground {
    struct {
        double x, y; /* px, where it should be */
        bool seen;
    } star[FOREGROUND_STARS];
    int stars;
};

/* index is the one that the frame was solved with. ERROR_MEMORY. */
int foreground_find(struct foreground *foreground, const struct solution *solution,
                    const struct index *index, struct error *err);

/* Whether there is no sky around a pixel: of the nearest stars that should be there, hardly any is.
 */
bool foreground_hides(const struct foreground *foreground, double x, double y);

/* Whether a star of the catalogue that should be at a pixel is there, or everything around it is,
 * so that only its own glare, or a nebula, may be in the way. */
bool foreground_shows_star(const struct foreground *foreground, double x, double y);

#endif
