/* demo/lens.h: where a lens puts a star: gnomonic about its axis, with radial distortion. */
#ifndef ALIDADE_DEMO_LENS_H
#define ALIDADE_DEMO_LENS_H

#include "sky/horizon.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* Distances from the axis: ideal = actual * (1 + k3 * actual^2 + k5 * actual^4), px. That way round
 * the truth is exactly a SIP polynomial, so that a fit can be judged against it. */
struct lens {
    double scale_arcsec;   /* per px on the axis */
    int width, height;     /* of the picture, px */
    double axis_x, axis_y; /* the optical axis, px right and down of the picture's middle */
    /* (actual - ideal) / ideal at corner_px from the axis, barrel < 0 < pincushion: by the term of
     * the second power and by that of the fourth. */
    double distortion, moustache;
    double corner_px; /* half the diagonal of the uncropped picture; 0: of this picture */
    bool mirrored;
};

/* The WCS when the middle of the picture is at (ra, dec), ICRS degrees, and picture-up there has
 * the position angle up_angle_deg, east of north. Exact at all distances from the poles. */
void lens_wcs(struct wcs *wcs, const struct lens *lens, double ra_deg, double dec_deg,
              double up_angle_deg);

/* The air of a place at a moment. */
struct lens_air {
    struct horizon through, without;
};

/* False if ERFA refuses the time. */
bool lens_air_make(struct lens_air *air, const struct place *place, struct utc utc);

/* A lens_wcs made ready for many stars. */
struct lens_plan {
    const struct lens_air *air;        /* that lifts them; borrowed; NULL: none */
    double axis[3], right[3], down[3]; /* right and down: px per unit */
    double x, y, k3, k5;
    double reach; /* ideal px from the axis: what is farther out is not projected */
};

void lens_plan_make(struct lens_plan *plan, const struct lens *lens, const struct wcs *wcs);

/* Pixel of the ICRS unit vector v, as wcs_pixel but many times as fast, and through the air. False,
 * with x and y untouched, if it is well outside the picture. */
bool lens_plan_pixel(double *x, double *y, const struct lens_plan *plan, const double v[3]);

#endif
