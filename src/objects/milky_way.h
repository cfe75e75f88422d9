/* objects/milky_way.h: parts of the Milky Way that make a picture with a wide lens.
 *
 * Places on the galactic equator as ERFA has it (eraG2icrs; the coordinates of Hipparcos, ESA
 * 1997); how far a part reaches along and across it is a matter of taste. */
#ifndef ALIDADE_OBJECTS_MILKY_WAY_H
#define ALIDADE_OBJECTS_MILKY_WAY_H

#include "objects/object.h"

#include <stdbool.h>

enum { MILKY_WAY_PARTS = 8 };

/* Part i, 0 is the centre: a star cloud that borrows nothing but static names. */
void milky_way_part(struct object *object, int i);

/* The part of that name: "Milky Way" is its centre, "Milky Way in Cygnus"; spelling is forgiven as
 * in name_key.h. False, with *object untouched, for other names. */
bool milky_way_find(struct object *object, const char *name);

#endif
