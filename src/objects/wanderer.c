#include "objects/wanderer.h"

#include "objects/name_key.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* Keys as name_key writes them. */
static const struct {
    const char *key;
    int which;
} names[] = {
    {"moon", WANDERER_MOON},
    {"mond", WANDERER_MOON},
    {"dermond", WANDERER_MOON},
    {"lune", WANDERER_MOON},
    {"lalune", WANDERER_MOON},
    {"luna", WANDERER_MOON},
    {"laluna", WANDERER_MOON},
    {"lua", WANDERER_MOON},
    {"mercury", WANDERER_PLANET + PLANET_MERCURY},
    {"merkur", WANDERER_PLANET + PLANET_MERCURY},
    {"mercure", WANDERER_PLANET + PLANET_MERCURY},
    {"mercurio", WANDERER_PLANET + PLANET_MERCURY},
    {"venus", WANDERER_PLANET + PLANET_VENUS},
    {"venere", WANDERER_PLANET + PLANET_VENUS},
    {"mars", WANDERER_PLANET + PLANET_MARS},
    {"marte", WANDERER_PLANET + PLANET_MARS},
    {"jupiter", WANDERER_PLANET + PLANET_JUPITER},
    {"giove", WANDERER_PLANET + PLANET_JUPITER},
    {"saturn", WANDERER_PLANET + PLANET_SATURN},
    {"saturne", WANDERER_PLANET + PLANET_SATURN},
    {"saturno", WANDERER_PLANET + PLANET_SATURN},
    {"uranus", WANDERER_PLANET + PLANET_URANUS},
    {"urano", WANDERER_PLANET + PLANET_URANUS},
    {"neptune", WANDERER_PLANET + PLANET_NEPTUNE},
    {"neptun", WANDERER_PLANET + PLANET_NEPTUNE},
    {"neptuno", WANDERER_PLANET + PLANET_NEPTUNE},
    {"nettuno", WANDERER_PLANET + PLANET_NEPTUNE},
    {"netuno", WANDERER_PLANET + PLANET_NEPTUNE},
};

static const char *const suns[] = {"sun",      "sol",  "helios", "sonne", "diesonne", "soleil",
                                   "lesoleil", "sole", "ilsole", "elsol", "osol"};

enum wanderer wanderer_find(const char *name)
{
    char key[NAME_KEY_SIZE];
    name_key(key, name, NULL);
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strcmp(key, names[i].key) == 0) {
            return (enum wanderer)names[i].which;
        }
    }
    return WANDERER_NONE;
}

const char *wanderer_name(enum wanderer which)
{
    return which >= WANDERER_PLANET ? planet_name((enum planet)(which - WANDERER_PLANET))
           : which == WANDERER_MOON ? "Moon"
                                    : "";
}

bool wanderer_place(struct sky_ellipse *shape, enum wanderer which, const struct place *place,
                    struct utc utc)
{
    double v[3], distance_au, radius_deg = 0;
    if (which == WANDERER_MOON) {
        if (!sun_moon_among_stars(v, &distance_au, THE_MOON, place, utc)) {
            return false;
        }
        radius_deg = sun_moon_radius_deg(THE_MOON, distance_au);
    } else if (which == WANDERER_NONE ||
               !planet_among_stars(v, (enum planet)(which - WANDERER_PLANET), place, utc)) {
        return false;
    }
    *shape = (struct sky_ellipse){.major_deg = radius_deg, .minor_deg = radius_deg};
    vector_to_radec(&shape->ra_deg, &shape->dec_deg, v);
    return true;
}

bool wanderer_object(struct object *object, enum wanderer which, const struct place *place,
                     struct utc utc)
{
    struct sky_ellipse shape;
    if (!wanderer_place(&shape, which, place, utc)) {
        return false;
    }
    double size = shape.major_deg > 0 ? 120 * shape.major_deg : (double)NAN;
    *object = (struct object){.id = wanderer_name(which),
                              .other_names = "",
                              .common_names = "",
                              .usual_name = "",
                              .type = which == WANDERER_MOON ? OBJECT_MOON : OBJECT_PLANET,
                              .ra_deg = shape.ra_deg,
                              .dec_deg = shape.dec_deg,
                              .magnitude = (double)NAN,
                              .magnitude_error = (double)NAN,
                              .major_arcmin = size,
                              .minor_arcmin = size,
                              .angle_deg = (double)NAN};
    return true;
}

bool wanderer_is_sun(const char *name)
{
    char key[NAME_KEY_SIZE];
    name_key(key, name, NULL);
    for (size_t i = 0; i < sizeof suns / sizeof *suns; i++) {
        if (strcmp(key, suns[i]) == 0) {
            return true;
        }
    }
    return false;
}
