/* demo/render_light.h: what the lens and the air do to light before it reaches the sensor. */
#ifndef ALIDADE_DEMO_RENDER_LIGHT_H
#define ALIDADE_DEMO_RENDER_LIGHT_H

#include "base/error.h"
#include "demo/lens.h"

#include <stdint.h>

/* Zero means none of each. */
struct render_light {
    double vignetting;     /* share of the light that is lost in the corners */
    double moon_glow;      /* the sky is brighter by this share at the corner on the Moon's side */
    double moon_angle_deg; /* where in the picture: from right (0) to down (90) */
    double cloud;          /* mean magnitudes lost, in patches */
    double foreground; /* share of the picture's height that trees and a roof cover from below */
    int wires;         /* power lines across the sky */
    uint64_t seed;     /* of clouds and skyline */
};

/* Values on a grid of step px, to be interpolated. Starts as all zeros. */
struct light_map {
    int step, columns, rows;
    float *pass;  /* share of a star's light that arrives */
    float *glow;  /* brightness of the sky, with what the lens loses; 1: as the camera's sky_mag */
    int *skyline; /* for each x the first y that the foreground hides */
    int width, height;
    int wires;
    uint64_t seed;
};

int light_map_make(struct light_map *map, const struct render_light *light, const struct lens *lens,
                   struct error *err);
void light_map_free(struct light_map *map);

/* Share of a star's light that arrives at a pixel in or near the picture; 0 behind the foreground.
 */
double light_map_pass(const struct light_map *map, double x, double y);

/* The rows from, to - 1 that wire i hides in column x, within the picture; none if they are equal.
 */
void light_map_wire(int *from, int *to, const struct light_map *map, int i, int x);

/* The sky's brightness along row y: width values. */
void light_map_glow_row(float *out, const struct light_map *map, int y);

#endif
