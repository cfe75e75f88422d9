/* stars/trail_fit.h: where the middle of a star trail is. */
#ifndef ALIDADE_STARS_TRAIL_FIT_H
#define ALIDADE_STARS_TRAIL_FIT_H

#include "image/frame.h"
#include "stars/profile.h"

/* A point that moves evenly along a line while it is exposed. */
struct trail {
    double length;           /* px, between the ends of the movement */
    double sigma;            /* of the round profile, px */
    double along_x, along_y; /* unit vector */
};

/* The trail whose light has these second moments. False if it is too short for its ends to be told
 * apart; then a long Gaussian fits as well. */
bool trail_of_moments(struct trail *trail, const struct profile *moments);

/* Moves (x, y), plane pixels, to the middle of the trail that fits the light above sky there best,
 * by least squares in place and brightness. The ends of a trail say where it is; a centroid, which
 * takes all of it alike, is several times less exact (Bouquillon et al. 2017, A&A 606, A27). Stays
 * where it is if the fit runs away. */
void trail_fit(double *x, double *y, const struct plane *plane, const struct trail *trail,
               double sky);

#endif
