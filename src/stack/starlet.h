/* stack/starlet.h: a picture without what is no more than its noise. */
#ifndef ALIDADE_STACK_STARLET_H
#define ALIDADE_STACK_STARLET_H

#include "base/error.h"

/* Parts the picture into details of rising size by an isotropic wavelet with holes (B3 spline;
 * Starck & Murtagh 1994, A&A 288, 342) and takes from each size what its noise explains: details
 * count by the share of their mean square around that is beyond twice that of noise, so that a star
 * and the dips beside it stay together (after Lee 1980, IEEE Trans. PAMI 2, 165). The noise of a
 * size is from the median of its details. value: width * height finite numbers, changed in place.
 * ERROR_MEMORY only. */
int starlet_clean(float *value, int width, int height, int scales, struct error *err);

/* Smooths by the same spline, of pixels so far apart. ERROR_MEMORY only. */
int starlet_smooth(float *value, int width, int height, int apart, struct error *err);

#endif
