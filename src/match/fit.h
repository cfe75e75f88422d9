/* match/fit.h: from an accepted hypothesis to the WCS of the frame. */
#ifndef ALIDADE_MATCH_FIT_H
#define ALIDADE_MATCH_FIT_H

#include "base/error.h"
#include "match/index.h"
#include "match/known_lens.h"
#include "match/pairs.h"
#include "match/solution.h"
#include "match/verify.h"
#include "stars/stars.h"

/* Half the diagonal over the focal length beyond which an optical axis may lie outside of the
 * picture: below, nothing tells where it is. */
#define FIT_LEAST_WIDE 0.08

/* Grows the verdict's pose to all stars it can pair, chooses the simplest model that the residuals
 * justify (camera with radial distortion, or polynomials of order 1 to WCS_FIT_MAX_ORDER, by the
 * Bayesian information criterion, Schwarz 1978, Ann. Statist. 6, 461) and fills in wcs, pair,
 * matched and the rms of solution. A lens that is known beforehand (NULL: none) is one more such
 * model, with attitude and focal length alone to be found: with few stars it wins, against many
 * that contradict it it loses. Returns ERROR_NO, without a message, if the verdict does not
 * survive the fit; ERROR_MEMORY. steps (may be NULL) grows by what it took, as match/effort.h
 * counts. */
int fit_solution(struct solution *solution, const struct verdict *verdict, bool mirrored,
                 const struct star_list *list, const struct index *index,
                 const struct known_lens *lens, long *steps, struct error *err);

/* Fills in pair, matched and the rms of solution, whose wcs is set. ERROR_MEMORY, without a
 * message. */
int fit_report_pairs(struct solution *solution, const struct pair_finder *finder);

/* False if no fit would let the verdict survive, whatever the stars say: an axis outside the
 * picture in a field too narrow for one. */
bool fit_is_possible(const struct verdict *verdict);

#endif
