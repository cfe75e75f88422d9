/* stars/sources.h: from the relief to measured sources. */
#ifndef ALIDADE_STARS_SOURCES_H
#define ALIDADE_STARS_SOURCES_H

#include "stars/measure.h"

/* Starts as all zeros; free with sources_free. */
struct sources {
    struct source *source; /* measured, but for what sift_sources finds; without their pixels */
    int count;
    int raw_count; /* islands that they were chosen from */
};

/* Finds and measures all that is as high as a star, or the brightest so many. The relief must be
 * flattened. known: what was found on the same plane with the same profile and another sky, which
 * spares measuring places again; NULL: nothing. Same bits on any number of threads. ERROR_MEMORY
 * only. */
int sources_find(struct sources *found, const struct sources *known, const struct plane *plane,
                 const struct relief *r, const struct profile *p, int most, int threads,
                 struct error *err);

void sources_free(struct sources *found);

#endif
