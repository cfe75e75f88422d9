/* match/verify.h: how much better a hypothesis predicts the detections than chance would.
 *
 * The test is sequential. Catalogue stars are taken in an order fixed beforehand (the quad's own
 * neighbours, then around the quad, then over the whole picture, brightest first). For each, the
 * pose as known so far predicts a place with its uncertainty, and a brightness. The ratio of two
 * probabilities of what is then found there, under "this pose is right" and under "the detections
 * lie there by chance", multiplies the likelihood ratio; then the star sharpens the pose. Since
 * each prediction is made before it is looked up, the ratio is a martingale under chance and by
 * Ville's inequality (Ville 1939, Etude critique de la notion de collectif) the probability that
 * its largest value ever reaches R is at most 1/R. With n hypotheses tried, the chance of a false
 * one that good is at most n/R. */
#ifndef ALIDADE_MATCH_VERIFY_H
#define ALIDADE_MATCH_VERIFY_H

#include "match/detections.h"
#include "match/index.h"
#include "match/pose.h"

#include <stdbool.h>

enum { VERIFY_MAX_PAIRS = 128 };

struct hypothesis {
    uint32_t star[4]; /* of the index: A, B, C, D */
    uint32_t anchor;  /* the faintest of them */
    int detection[4]; /* their ranks in the detections */
    double tolerance; /* of the shape distance within which candidates were taken */
    struct pose_axis axis;
};

struct verify_options {
    struct pose_prior prior;
    double scale_low, scale_high; /* arcsec per px allowed, in the middle of the picture */
};

struct verdict {
    double log_ratio; /* natural logarithm of the largest likelihood ratio reached */
    struct pose pose; /* after all stars that were taken in */
    int pairs;        /* stars taken in, the quad's included */
    uint32_t star[VERIFY_MAX_PAIRS];
    int detection[VERIFY_MAX_PAIRS];
    int tested; /* catalogue stars looked up beyond the quad */
    long steps; /* what that took, as match/effort.h counts */
};

/* False if the hypothesis is out of the allowed range before any star is looked up (it then does
 * not count as tried). Gives up early when the ratio falls too low. */
bool verify_hypothesis(struct verdict *verdict, const struct hypothesis *hypothesis,
                       const struct detections *list, const struct index *index,
                       const struct verify_options *options);

/* The same test of a pose that is believed beforehand, within the covariance that it comes with: no
 * quad is needed, every star counts as evidence. Stars whose place is less certain than 2 % of the
 * half diagonal are passed over. */
void verify_pose(struct verdict *verdict, const struct pose *pose, const struct detections *list,
                 const struct index *index);

#endif
