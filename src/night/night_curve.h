/* night/night_curve.h: how a fisheye or a panorama draws the sky, as a line keeps it. */
#ifndef ALIDADE_NIGHT_NIGHT_CURVE_H
#define ALIDADE_NIGHT_NIGHT_CURVE_H

#include "sky/wcs.h"

#include <stdbool.h>

enum { NIGHT_CURVE_NUMBERS = 12 };

/* As match/curved_camera.h has it; laid out so that a pose in its place would have no focal length.
 */
struct night_curve {
    double ra_deg, dec_deg, x, y, cd[2][2]; /* as of struct wcs; cd all 0: not known */
    double turn_deg;
    double no_focal_px; /* 0 */
    double term[3];     /* radial, at half of the diagonal */
};

/* From the WCS of match/curved_camera.h, and back into one of which size, projection and reach are
 * set. */
void night_curve_take(struct night_curve *curve, const struct wcs *wcs);
void night_curve_wcs(struct wcs *wcs, const struct night_curve *curve);
bool night_curve_is_known(const struct night_curve *curve);

/* As a line has them: in the order of the structure, without no_focal_px. What makes no sense
 * becomes a curve of zeros: not known. */
void night_curve_numbers(double number[NIGHT_CURVE_NUMBERS], const struct night_curve *curve);
void night_curve_from_numbers(struct night_curve *curve, const double number[NIGHT_CURVE_NUMBERS]);

#endif
