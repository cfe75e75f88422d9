/* sky/projection.h: how directions become places on a plane, for lenses and pictures that do not
 * draw straight lines straight.
 *
 * The projections are those of FITS WCS Paper II (Calabretta & Greisen 2002, A&A 395, 1077), under
 * its names: of a fisheye ARC is equidistant, ZEA equisolid, STG stereographic, SIN orthographic;
 * of a panorama CYP (mu = 0, lambda = 1) is cylindrical, CAR equirectangular. */
#ifndef ALIDADE_SKY_PROJECTION_H
#define ALIDADE_SKY_PROJECTION_H

#include <stdbool.h>

enum projection_kind {
    PROJECTION_TAN = 0, /* rectilinear */
    PROJECTION_ARC,
    PROJECTION_ZEA,
    PROJECTION_STG,
    PROJECTION_SIN,
    PROJECTION_CYP,
    PROJECTION_CAR,
    PROJECTION_KINDS
};

/* Three letters, as in CTYPE; what a photographer calls it ("equidistant fisheye"). */
const char *projection_code(enum projection_kind kind);
const char *projection_words(enum projection_kind kind);

/* A panorama's: not the same in all directions from its middle. */
bool projection_is_cylinder(enum projection_kind kind);

/* The plane's coordinates, in units of a radian in the middle, of a unit vector in the axes of the
 * plane: v[0] where the first grows, v[1] where the second grows, v[2] in the middle. False, with
 * plane untouched, where the projection has no place for it, or one that runs away: 80 degrees of
 * height on a cylinder, 85 from the middle of TAN, 90 of SIN, 170 of STG, 179 of ARC and ZEA. */
bool projection_plane(double plane[2], enum projection_kind kind, const double v[3]);

/* The inverse. Every finite place has a direction: one beyond the edge of the projection has that
 * of the edge. */
void projection_vector(double v[3], enum projection_kind kind, const double plane[2]);

#endif
