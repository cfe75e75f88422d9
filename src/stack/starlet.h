/* stack/starlet.h: a picture without what is no more than its noise. */
#ifndef ALIDADE_STACK_STARLET_H
#define ALIDADE_STACK_STARLET_H

#include "base/error.h"

/* Parts the picture into details of rising size by an isotropic wavelet with holes (B3 spline;
 * Starck & Murtagh 1994, A&A 288, 342) and takes from each size what its own noise explains: a
 * detail d counts by d^2 / (d^2 + (3 s)^2), s the noise of details of that size, from their median
 * size. value: width * height finite numbers, changed in place. ERROR_MEMORY only. */
int starlet_clean(float *value, int width, int height, int scales, struct error *err);

#endif
