/* objects/object.h: what is known of a deep-sky object or a named star. */
#ifndef ALIDADE_OBJECTS_OBJECT_H
#define ALIDADE_OBJECTS_OBJECT_H

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
    OBJECT_PLANET, /* these move, and stand in no table */
    OBJECT_MOON,
    OBJECT_TYPES
};

struct outline;

struct object {
    const char *id;           /* the designation most used: "M 31"; of a star, its name if it has
                                 one, else "α Lyr", "51 Peg", "RR Lyr", "GJ 1"; UTF-8 */
    const char *other_names;  /* further designations, parted by ';'; or "" */
    const char *common_names; /* English names, the usual one first, parted by ';'; or "" */
    const char *usual_name;   /* what is said behind the number; "" or NULL: nothing */
    enum object_type type;
    double ra_deg, dec_deg; /* ICRS, J2000; 0 <= ra_deg < 360 */
    double magnitude;       /* visual where known, NAN if unknown */
    double magnitude_error; /* standard error of it as a visual one; NAN: the band is not known */
    double major_arcmin, minor_arcmin; /* apparent size, NAN if unknown; major >= minor */
    double angle_deg; /* position angle of the major axis, east of north; NAN if unknown */
    const struct outline *outline; /* objects/outline.h; NULL if unknown */
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

#endif
