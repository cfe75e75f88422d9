/* objects/wanderer.h: the Moon and the planets as targets: where they stand is a matter of when. */
#ifndef ALIDADE_OBJECTS_WANDERER_H
#define ALIDADE_OBJECTS_WANDERER_H

#include "objects/ellipse.h"
#include "sky/planets.h"

#include <stdbool.h>

/* WANDERER_PLANET + an enum planet is that planet. */
enum wanderer { WANDERER_NONE = 0, WANDERER_MOON, WANDERER_PLANET, WANDERERS = 2 + PLANETS };

/* Which one is called so, in English, German, French, Spanish, Italian or Portuguese; spelling is
 * forgiven as in name_key.h. WANDERER_NONE for all other names, "Saturn Nebula" among them. */
enum wanderer wanderer_find(const char *name);

/* "Jupiter", "Moon"; "" of WANDERER_NONE. */
const char *wanderer_name(enum wanderer which);

/* Where it stands among the stars as catalogues have them, seen from a place, NULL for the Earth's
 * centre (the Moon up to a degree off then): a point, or the Moon's disc. False, with *shape
 * untouched, for WANDERER_NONE or a time that ERFA refuses. */
bool wanderer_place(struct sky_ellipse *shape, enum wanderer which, const struct place *place,
                    struct utc utc);

/* The same as an object that borrows only its name, which is static. */
bool wanderer_object(struct object *object, enum wanderer which, const struct place *place,
                     struct utc utc);

/* Whether somebody means the Sun by this name: "Sun", "the sun", "Sol", "Soleil". */
bool wanderer_is_sun(const char *name);

#endif
