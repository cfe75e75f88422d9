/* demo/nebulae.h: galaxies, nebulae and globular clusters as smooth patches of light. */
#ifndef ALIDADE_DEMO_NEBULAE_H
#define ALIDADE_DEMO_NEBULAE_H

#include "base/error.h"
#include "demo/camera.h"
#include "demo/lens.h"
#include "demo/render_light.h"

#include <stdbool.h>
#include <stdint.h>

struct nebula {
    double v[3]; /* ICRS unit vector */
    double mag;  /* of the whole */
    double major_deg, minor_deg;
    double angle_deg; /* position angle of the long side; made up if the table has none */
    bool lumpy;       /* gas rather than stars */
    bool even;        /* as bright all over its outline */
    uint64_t seed;
};

/* Starts as all zeros. */
struct nebulae {
    struct nebula *nebula;
    int count;
};

/* Reads a table with columns ra_deg, dec_deg, type, magnitude, major_arcmin, minor_arcmin,
 * angle_deg (catalogs/objects.tsv). What has no size, or is dark or made of separate stars, is left
 * out; gas without a magnitude gets 22.5 a square arcsecond. Besides the catalogue's types there is
 * "even nebula", for measuring. ERROR_INPUT, ERROR_MEMORY; empty on failure. */
int nebulae_load(struct nebulae *nebulae, const char *name, struct error *err);
void nebulae_free(struct nebulae *nebulae);

/* Adds their light, electrons a pixel of one exposure, to a plane of the lens's size, leaving out
 * what is mostly below floor_e; mosaic: behind colour filters (demo/mosaic.h). ERROR_MEMORY. */
int nebulae_draw(float *plane, const struct nebulae *nebulae, const struct lens *lens,
                 const struct wcs *wcs, const struct camera *camera, const struct light_map *map,
                 double floor_e, bool mosaic, struct error *err);

#endif
