/* sky/wcs_inverse.h: a polynomial that undoes the distortion of a WCS, for FITS headers. */
#ifndef ALIDADE_SKY_WCS_INVERSE_H
#define ALIDADE_SKY_WCS_INVERSE_H

#include "sky/wcs.h"

#include <stdbool.h>

/* SIP (Shupe et al. 2005) allows single digits. */
enum { WCS_INVERSE_MAX_ORDER = 9 };

/* u = u' + sum ap[p][q] u'^p v'^q, v = v' + sum bp[p][q] u'^p v'^q, 0 <= p+q <= order, in the pixel
 * axes of the WCS that it was fitted to. */
struct wcs_inverse {
    int order;
    double ap[WCS_INVERSE_MAX_ORDER + 1][WCS_INVERSE_MAX_ORDER + 1];
    double bp[WCS_INVERSE_MAX_ORDER + 1][WCS_INVERSE_MAX_ORDER + 1];
    double worst_px; /* largest error over the picture */
};

/* Fits over the whole picture by least squares, starting one order above that of the WCS and going
 * up until the worst error is under 0.002 px. False if no order gives a fit better than 1 px. */
bool wcs_inverse_fit(struct wcs_inverse *inverse, const struct wcs *wcs);

#endif
