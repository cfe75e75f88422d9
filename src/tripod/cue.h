/* tripod/cue.h: a move as something to check on the camera's screen: this star goes there. */
#ifndef ALIDADE_TRIPOD_CUE_H
#define ALIDADE_TRIPOD_CUE_H

#include "match/index.h"
#include "match/solution.h"
#include "objects/objects.h"
#include "tripod/stand.h"

#include <stdbool.h>

enum { CUE_STARS = 40 };

/* A star that the picture shows. */
struct cue_star {
    double v[3]; /* ICRS */
    double x, y; /* px */
    double mag;
    const struct object *object; /* borrowed; NULL if it has no name */
};

/* The brightest catalogue stars that were found in the picture, brightest first; at most
 * CUE_STARS. objects may be NULL: then none has a name. Returns how many. */
int cue_stars(struct cue_star stars[CUE_STARS], const struct solution *solution,
              const struct index *index, const struct objects *objects);

/* Where a star is to go. */
struct cue {
    const struct cue_star *star; /* points into the stars */
    double to_x, to_y;           /* px, where it will be after the move */
    const struct cue_star *mark; /* what is there now, to 3 % of the width; NULL if nothing is */
};

/* The best pair for a turn on the ground's axes: both in the picture, bright, close to each other,
 * with names if it can be. False if no star of the picture will still be in it. */
bool cue_find(struct cue *cue, const struct cue_star *stars, int count, const struct stand *stand,
              double turn[3][3]);

#endif
