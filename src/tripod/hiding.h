/* tripod/hiding.h: when the sky's turn takes a target behind the skyline of a place. */
#ifndef ALIDADE_TRIPOD_HIDING_H
#define ALIDADE_TRIPOD_HIDING_H

#include "sky/skyline.h"
#include "tripod/ground.h"

#include <stdbool.h>
#include <stddef.h>

/* All zeros: nothing is known of a skyline there. */
struct hiding {
    bool known;
    bool hidden;        /* it is behind the skyline now, or below the horizon */
    bool changes;       /* it goes behind it, or comes out, */
    double change_s;    /* so long after the ground's moment, */
    double azimuth_deg; /* there; if it does not change, where it is now */
};

/* Of the ICRS direction v, as far as most_s ahead; what hides it for less than half a minute may be
 * missed. skyline may be NULL. Needs the ground's place. */
void hiding_find(struct hiding *hiding, const struct skyline *skyline, const struct ground *ground,
                 const double v[3], double most_s);

/* Seconds for which it is still to be seen: 0 if it is hidden, infinite if it stays in view as far
 * as anybody knows. */
double hiding_visible_s(const struct hiding *hiding);

/* "the target goes behind the skyline in the south-west", "the target is behind the skyline, and
 * comes out in the east"; "" if neither. UTF-8, cut to size. */
void hiding_write(char *out, size_t size, const struct hiding *hiding);

#endif
