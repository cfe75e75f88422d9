#include "objects/bodies.h"

#include "sky/sun_moon.h"
#include "sky/vector.h"

static int add(struct field_body *body, const struct wcs *wcs, const char *name, const double v[3])
{
    struct field_body found = {.name = name};
    vector_to_radec(&found.ra_deg, &found.dec_deg, v);
    bool inside = wcs_pixel(&found.x, &found.y, wcs, v) && found.x >= -0.5 && found.y >= -0.5 &&
                  found.x < wcs->width - 0.5 && found.y < wcs->height - 0.5;
    if (inside) {
        *body = found;
    }
    return inside;
}

int bodies_find(struct field_body body[BODIES_MOST], const struct wcs *wcs,
                const struct place *place, struct utc mid)
{
    double v[3], distance_au;
    int count = 0;
    if (sun_moon_among_stars(v, &distance_au, THE_SUN, place, mid)) {
        count += add(&body[count], wcs, "Sun", v);
    }
    if (sun_moon_among_stars(v, &distance_au, THE_MOON, place, mid)) {
        count += add(&body[count], wcs, "Moon", v);
    }
    for (int i = 0; i < PLANETS; i++) {
        if (planet_among_stars(v, (enum planet)i, place, mid)) {
            count += add(&body[count], wcs, planet_name((enum planet)i), v);
        }
    }
    return count;
}

int bodies_keep_proven(struct field_body *body, int count, const struct trust *trust)
{
    int kept = 0;
    for (int i = 0; i < count; i++) {
        if (trust_holds(trust, body[i].x, body[i].y)) {
            body[kept++] = body[i];
        }
    }
    return kept;
}
