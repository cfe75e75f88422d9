/* stack/sky_surface.h: the level of the sky over a plane as one smooth surface. */
#ifndef ALIDADE_STACK_SKY_SURFACE_H
#define ALIDADE_STACK_SKY_SURFACE_H

#include "base/error.h"
#include "stars/background.h"

#include <stdbool.h>

enum { SKY_SURFACE_ORDER = 4, SKY_SURFACE_TERMS = 15 };

/* All zeros: 0 everywhere. */
struct sky_surface {
    int order;
    double middle[2], half; /* of the plane, and half of its longer side, px of the plane */
    double term[SKY_SURFACE_TERMS];
    double rest; /* what levels of the mesh are off by that were not left out, half of them less */
};

/* Fits a polynomial to the levels of the mesh of a plane of that size by least squares, leaving out
 * the nodes that left_out names (rows * columns; NULL: none) and then, a few times, those that are
 * off by more than three times the usual: stars' halos, hills, lamps. Of order 4 (corners that a
 * lens darkens) where most of the mesh counts, the lower the less of it does, so that what is left
 * out stays as level as its surroundings. ERROR_MEMORY only. */
int sky_surface_fit(struct sky_surface *surface, const struct background *mesh, int width,
                    int height, const bool *left_out, struct error *err);

/* Middle of the part of the plane that a node of the mesh stands for, px. */
void sky_surface_node(double *x, double *y, const struct background *mesh, int width, int height,
                      int node);

/* At pixel (x, y) of the plane. */
double sky_surface_level(const struct sky_surface *surface, double x, double y);

#endif
