/* objects/fame.h: how well known an object is. */
#ifndef ALIDADE_OBJECTS_FAME_H
#define ALIDADE_OBJECTS_FAME_H

#include "objects/objects.h"

/* What its designations and an English name are worth: 4 for Messier's, about 1 for the large
 * catalogues, 2 more with an English name. Below FAME_KNOWN few people look for it. */
double fame_of_object(const struct object *object);

#define FAME_KNOWN 0.5

#endif
