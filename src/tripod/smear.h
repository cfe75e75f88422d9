/* tripod/smear.h: how far stars miss each other when frames that drifted apart are aligned.
 *
 * A lens bends and a flat picture stretches the sky, so the same stars make another pattern
 * elsewhere in the frame. The sky turns about its pole; refraction, which changes far less, is left
 * out. */
#ifndef ALIDADE_TRIPOD_SMEAR_H
#define ALIDADE_TRIPOD_SMEAR_H

#include "sky/time.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* What an aligning program may do to a frame. */
enum smear_fit {
    SMEAR_TURN,       /* shift and rotation: 3 numbers */
    SMEAR_AFFINE,     /* also stretch and shear: 6 */
    SMEAR_HOMOGRAPHY, /* also perspective: 8 */
    SMEAR_FITS
};

/* "shift + rotation", "affine", "homography" */
const char *smear_fit_word(enum smear_fit fit);

struct smear {
    /* Largest miss of a star that both frames show, after a fit by least squares to all of them. */
    double worst_px[SMEAR_FITS];
    double shift_px; /* how far the middle of the picture has drifted */
};

/* Between a frame of this WCS, taken at utc (good to days), and one later_s seconds later. Judged
 * on an even grid of stars. False if the two share too little. */
bool smear_measure(struct smear *smear, const struct wcs *wcs, struct utc utc, double later_s);

/* Seconds until the smear of that fit exceeds limit_px, or most_s if it does not by then or the two
 * frames share too little earlier. */
double smear_time(const struct wcs *wcs, struct utc utc, enum smear_fit fit, double limit_px,
                  double most_s);

#endif
