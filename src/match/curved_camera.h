/* match/curved_camera.h: a camera that does not draw straight lines straight.
 *
 * A star at the angle t from the axis of a fisheye lies R(t) focal lengths from it
 * (sky/projection.h) but for three radial terms; a panorama is drawn on a cylinder or in angles.
 * Nine numbers: attitude (3), logarithm of the focal length in px, place of the axis (2), terms
 * (3), with their covariance. Pixels here count from the middle of the picture, in its hand, as in
 * match/pose.h. */
#ifndef ALIDADE_MATCH_CURVED_CAMERA_H
#define ALIDADE_MATCH_CURVED_CAMERA_H

#include "sky/projection.h"
#include "sky/wcs.h"

#include <stdbool.h>

enum { CURVED_SIZE = 9, CURVED_TERMS = 3 };

struct curved_camera {
    enum projection_kind kind;
    double axis[3][3]; /* unit vectors, ICRS, of camera right, down and out */
    double focal_px;
    double x, y;               /* px of the axis from the middle of the picture */
    double term[CURVED_TERMS]; /* see below */
    double unit_px; /* a place at r px from the axis lies where an ideal lens has r (1 + sum
                       term[i] (r / unit_px)^(2 i + 2)) */
    double covariance[CURVED_SIZE][CURVED_SIZE]; /* of (turn about right, down, out; ln focal; x; y;
                                                    terms) */
};

/* A direction that was seen, and where. */
struct curved_sighting {
    double v[3];
    double p[2];
};

/* What is believed of the numbers before a star is seen, standard deviations: of the axis's place,
 * px; of each term. 0: it stays as it is. */
struct curved_prior {
    double axis_px, term[CURVED_TERMS];
};

/* Predicted place of a direction. False where the projection has none, or the terms fold over. */
bool curved_project(double p[2], const struct curved_camera *camera, const double v[3]);

/* Variance of a predicted place, px^2, the mean of those in x and y. */
double curved_variance(const struct curved_camera *camera, const double v[3]);

/* The errors, one sigma, of scale (share) and turn (radians) around a direction: four directions
 * right and left of, below and above it, as of struct lens_cross. NAN where there is no place. */
void curved_cross_errors(double *scale_error, double *turn_error,
                         const struct curved_camera *camera, double arm[4][3]);

/* Turns the camera so that two directions are seen along two places; the focal length, axis and
 * terms are as given. False if a pair coincides. */
bool curved_point(struct curved_camera *camera, const struct curved_sighting pair[2]);

/* Fits all nine numbers, or those that the prior leaves open, to the sightings, those beyond scale
 * px counting less (as in pose_fit). A cylinder has no terms, and no place of its axis in x: they
 * stay. False if they do not determine it. */
bool curved_fit(struct curved_camera *camera, const struct curved_sighting *sighting, int count,
                double scale, const struct curved_prior *prior);

/* The same as a WCS of a picture of this size; terms become SIP polynomials, exactly. */
void curved_wcs(struct wcs *wcs, const struct curved_camera *camera, int width, int height,
                bool mirrored);

#endif
