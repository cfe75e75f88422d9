/* stars/shape.h: how wide and how long the images of single stars are, by fitting them. */
#ifndef ALIDADE_STARS_SHAPE_H
#define ALIDADE_STARS_SHAPE_H

#include "image/frame.h"
#include "stars/stars.h"

#include <stdbool.h>

/* The image of one star: a round Gaussian drawn out evenly along a line. Pixels of the displayed
 * picture, origin at the centre of the top left one, x right, y down. The trail is kept as the
 * second moments that it adds, because those of many stars can be averaged: q = L^2 / 12 for a
 * length L, q1 = q cos 2a and q2 = q sin 2a for a direction a from +x towards +y. Of a picture of
 * 8 bits values are taken as sRGB and made linear first. */
struct star_shape {
    int star;        /* index into the star list */
    double x, y;     /* middle of the trail */
    double variance; /* of the round Gaussian in one axis, with the picture's own pixel; px^2 */
    double q1, q2;   /* px^2 */
    double light;    /* whole light of the model, the plane's values times pixels of the picture */
    double height;   /* of the model in its middle over what it stands on, the plane's values */
    double ground;   /* what it stands on, the plane's values */
};

enum { SHAPES_MOST = 144 };

/* Fits the brightest stars that are alone and not saturated, at most so many in each twelfth of the
 * picture that bright crowds in one place don't speak for all. shape has room for SHAPES_MOST.
 * Returns how many could be fitted, in the list's order. The frame must still have its plane. */
int shapes_measure(struct star_shape *shape, const struct frame *frame,
                   const struct star_list *list);

/* Fits the image of one star (least squares after Levenberg and Marquardt). False if there is none
 * that the model resembles. */
bool shape_fit(struct star_shape *shape, const struct plane *plane, const struct star *star);

/* Variance across a trail whose direction is known from all stars, as the cosine and sine of twice
 * its angle, px^2. Noise makes every fit long in some direction, and as much narrower across that;
 * across a direction of its own choice it would not average out. */
double shape_variance_across(const struct star_shape *shape, double cos_2a, double sin_2a);

/* Full width at half maximum across the trail, px: 2.3548 standard deviations. */
double shape_fwhm(double variance);

/* Length L of the trail, px, and its direction, -90..90 degrees from +x towards +y. */
double shape_trail_px(double q1, double q2);
double shape_trail_angle_deg(double q1, double q2);

/* rms length over rms width: sqrt(1 + q / variance). */
double shape_elongation(double variance, double q1, double q2);

#endif
