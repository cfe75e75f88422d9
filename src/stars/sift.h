/* stars/sift.h: tells stars from what else is bright and small, by the frame's own stars. */
#ifndef ALIDADE_STARS_SIFT_H
#define ALIDADE_STARS_SIFT_H

#include "stars/measure.h"

/* Fills flux and dropped of n measured sources. widest: times the typical star's ratio of flux to
 * peak up to which a source that is neither bright nor sharp-edged passes, 2.5 as a rule. keep_hot:
 * a source of a single pixel passes.
 * ERROR_MEMORY only. */
int sift_sources(struct source *s, int n, const struct profile *p, double widest, bool keep_hot,
                 struct error *err);

#endif
