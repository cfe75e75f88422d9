/* tripod/smear.h: how far stars miss each other when frames that drifted apart are aligned on the
 * one in their middle.
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
    /* Where a stack has a star of one frame after the other is a path, since each frame was fitted
     * by least squares to the one in the middle: a line, or bent. Of all stars, the largest length
     * of a line whose points spread as widely (by the sum of their variances). */
    double worst_px[SMEAR_FITS];
};

/* Of a stack of frames with span_s seconds from the first to the last, aligned on the one in the
 * middle, which has this WCS and was taken at utc (good to days). Judged on an even grid of stars,
 * and on the rims of all three. False if they have too little in common. */
bool smear_measure(struct smear *smear, const struct wcs *wcs, struct utc utc, double span_s);

/* Seconds from the first frame to the last after which the smear of that fit exceeds limit_px, or
 * most_s if it does not by then or the frames have too little in common earlier. */
double smear_time(const struct wcs *wcs, struct utc utc, enum smear_fit fit, double limit_px,
                  double most_s);

#endif
