/* objects/numbered_star.h: stars that have no name, found by their number in stars.tsv. */
#ifndef ALIDADE_OBJECTS_NUMBERED_STAR_H
#define ALIDADE_OBJECTS_NUMBERED_STAR_H

#include "objects/objects.h"

#include <stdbool.h>

enum { NUMBERED_STAR_LAST = 120416 }; /* the highest Hipparcos number */

/* Holds what its object points to: it must not be moved. Starts as all zeros. */
struct numbered_star {
    struct object object;
    char id[16]; /* "HIP 5" */
};

/* Whether a key (see name_key.h) is a Hipparcos number, "hip5"; the number comes out. */
bool numbered_star_key(long *hip, const char *key);

/* Looks a Hipparcos number up in the folder's stars.tsv; found tells whether the table has it.
 * ERROR_INPUT naming file and line if it cannot be read. */
int numbered_star_find(struct numbered_star *star, bool *found, const char *folder, long hip,
                       struct error *err);

#endif
