/* stars/measure.h: light, place and shape of one source, once its pixels are known. */
#ifndef ALIDADE_STARS_MEASURE_H
#define ALIDADE_STARS_MEASURE_H

#include "image/frame.h"
#include "stars/profile.h"
#include "stars/stars.h"

#include <stdbool.h>

/* Plane pixels throughout, origin at the centre of the plane's first pixel. */
struct source {
    const int *pixel; /* borrowed: indices into the plane of the pixels above the threshold */
    int pixels;
    int peak_x, peak_y;  /* highest pixel of the smoothed plane */
    double peak_snr;     /* its height over the noise there */
    bool merged;         /* cut out of a larger source, neighbours are near */
    double sky;          /* local background */
    double noise;        /* of one pixel of the smoothed plane */

    double x, y;         /* centroid */
    double peak;         /* highest value above sky */
    double sum;          /* light of its pixels above sky */
    double profile_flux; /* light of the star of the frame's profile that fits best */
    double flux;         /* the better of the two, see measure_calibrate */
    double xx, xy, yy;   /* second moments of its pixels */
    double beside;       /* light of the eight pixels around the highest one, over that one's */
    int clipped;         /* pixels at the plane's full value */
    bool dropped;
};

/* Fills the measured half of the source from the given half. */
void measure_source(struct source *s, const struct plane *plane, const struct profile *p);

#endif
