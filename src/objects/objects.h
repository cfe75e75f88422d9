/* objects/objects.h: what a target may be called: deep-sky objects and named stars. */
#ifndef ALIDADE_OBJECTS_OBJECTS_H
#define ALIDADE_OBJECTS_OBJECTS_H

#include "base/error.h"

#include <stddef.h>

enum object_type {
    OBJECT_STAR = 0,
    OBJECT_DOUBLE_STAR,
    OBJECT_ASTERISM,
    OBJECT_STAR_CLOUD,
    OBJECT_OPEN_CLUSTER,
    OBJECT_GLOBULAR_CLUSTER,
    OBJECT_EMISSION_NEBULA,
    OBJECT_REFLECTION_NEBULA,
    OBJECT_BRIGHT_NEBULA,
    OBJECT_STAR_FORMING_REGION,
    OBJECT_PLANETARY_NEBULA,
    OBJECT_SUPERNOVA_REMNANT,
    OBJECT_DARK_NEBULA,
    OBJECT_GALAXY,
    OBJECT_GALAXY_GROUP, /* known by its name alone: "Leo Triplet" */
    OBJECT_GALAXY_CLUSTER,
    OBJECT_TYPES
};

/* "open cluster". */
const char *object_type_word(enum object_type type);

struct object {
    const char *id;           /* the designation most used: "M 31"; of a star, its name if it has
                                 one, else "α Lyr", "51 Peg", "RR Lyr", "GJ 1"; UTF-8 */
    const char *other_names;  /* further designations, parted by ';'; or "" */
    const char *common_names; /* English names, the usual one first, parted by ';'; or "" */
    const char *usual_name;   /* what is said behind the number; "" or NULL: nothing */
    enum object_type type;
    double ra_deg, dec_deg;            /* ICRS, J2000; 0 <= ra_deg < 360 */
    double magnitude;                  /* visual where known, NAN if unknown */
    double major_arcmin, minor_arcmin; /* apparent size, NAN if unknown; major >= minor */
    double angle_deg; /* position angle of the major axis, east of north; NAN if unknown */
};

struct object_store; /* the texts and what find needs */

/* Deep-sky objects first, by catalogue (M, NGC, IC, ...), then the named stars by Hipparcos number.
 * Starts as all zeros; free with objects_free. */
struct objects {
    struct object *object;
    int count;
    int deep_sky; /* so many of them are no stars */
    struct object_store *store;
};

/* Reads objects.tsv, star-names.tsv and constellations.tsv in the folder. ERROR_INPUT naming file
 * and line; objects is empty then. */
int objects_load(struct objects *objects, const char *folder, struct error *err);
void objects_free(struct objects *objects);

/* Writes the first English name, or the id if there is none. */
void object_title(char *out, size_t size, const struct object *object);

/* The object of that name, forgiving spelling (see name_key.h): "m31", "Messier 31", "andromeda
 * galaxy", "andromeda", "sh2-155", "sharpless 155", "cr399", "vega", "alf lyr", "51 pegasi",
 * "HIP 91262" (of stars that have a name). Of several, the first deep-sky object, else the
 * brightest star. NULL if nothing is called so. */
const struct object *objects_find(const struct objects *objects, const char *name);

/* The same, and stars that have no name but their Hipparcos number, "HIP 5", which are looked for
 * in the folder's stars.tsv only then: good until the next look-up. NULL with ERROR_USAGE and the
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
