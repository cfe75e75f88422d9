/* match/pose_fit.h: the pose that fits all pairs best. */
#ifndef ALIDADE_MATCH_POSE_FIT_H
#define ALIDADE_MATCH_POSE_FIT_H

#include "match/pairs.h"
#include "match/pose.h"

/* Moves the pose to the robust weighted least squares fit of the finder's pairs (weights of a
 * Cauchy distribution of scale px), with the prior on distortion and axis, and sets its covariance.
 * Returns false, the pose as it was, if the pairs do not determine it. */
bool pose_fit(struct pose *pose, const struct pair_finder *finder, double scale,
              const struct pose_prior *prior);

#endif
