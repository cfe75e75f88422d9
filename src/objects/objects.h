/* objects/objects.h: what a target may be called: deep-sky objects and named stars. */
#ifndef ALIDADE_OBJECTS_OBJECTS_H
#define ALIDADE_OBJECTS_OBJECTS_H

#include "base/error.h"
#include "objects/object.h"

#include <stddef.h>

/* "open cluster". */
const char *object_type_word(enum object_type type);

/* Reads objects.tsv, star-names.tsv and constellations.tsv in the folder, and ngc.tsv and
 * outlines.tsv if they are there. ERROR_INPUT naming file and line; objects is empty then. */
int objects_load(struct objects *objects, const char *folder, struct error *err);
void objects_free(struct objects *objects);

/* Square minutes of arc: of its outline if known, else of its ellipse; NAN if unknown. */
double object_area_arcmin2(const struct object *object);

/* Writes the first English name, or the id if there is none. */
void object_title(char *out, size_t size, const struct object *object);

/* The object of that name, forgiving spelling (see name_key.h): "m31", "Messier 31", "andromeda
 * galaxy", "andromeda", "sh2-155", "sharpless 155", "cr399", "vega", "alf lyr", "51 pegasi",
 * "HIP 91262" (of stars that have a name). Of several, the first deep-sky object, else the
 * brightest star. NULL if nothing is called so. */
const struct object *objects_find(const struct objects *objects, const char *name);

/* The same, and stars that have no name but their Hipparcos number, "HIP 5", which are looked for
 * in the folder's stars.tsv only then: good until the next look-up; and names in other languages,
 * in names-abroad.tsv. NULL with ERROR_USAGE and the
 * sentence of objects_unknown, or ERROR_INPUT if that table cannot be read. Not for several
 * threads. */
const struct object *objects_look_up(const struct objects *objects, const char *name,
                                     struct error *err);

enum { OBJECT_HINTS = 5 };

/* A known name near to one that is not. */
struct object_hint {
    const struct object *object;
    char name[80]; /* the name that comes near */
};

/* The known names nearest to an unknown one, best first, one for an object. Returns how many. */
int objects_hints(struct object_hint hints[OBJECT_HINTS], const struct objects *objects,
                  const char *name);

/* ERROR_USAGE with a sentence that repeats the name and lists the hints, or tells why what moves
 * among the stars is no target, or which numbers of stars are known. */
int objects_unknown(const struct objects *objects, const char *name, struct error *err);

#endif
