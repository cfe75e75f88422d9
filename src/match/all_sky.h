/* match/all_sky.h: where a camera that sees the whole sky points, from its brightest stars alone.
 *
 * Quads are of stars near each other. A small camera under a dome shows some tens of stars, tens of
 * degrees apart, and no quad of these keeps its shape. Here pairs of the brightest detections are
 * laid on pairs of the brightest stars, for focal lengths from a sky that fills the picture to one
 * that fills half of its height, and whoever then has most other stars in place is grown by
 * match/curved_fit.h. */
#ifndef ALIDADE_MATCH_ALL_SKY_H
#define ALIDADE_MATCH_ALL_SKY_H

#include "base/error.h"
#include "match/index.h"
#include "match/solution.h"
#include "stars/stars.h"

/* Whether the list may be of such a picture: it holds few stars. */
bool all_sky_is_possible(const struct star_list *list);

/* Fills in solution as curved_fit_solution does, and chance_log10: the chance that as many of the
 * bright stars would be met by chance, all tries made. ERROR_NO, without a message, if nothing is
 * found or with a greater chance than accept_log10. steps grows as match/effort.h counts. */
int all_sky_solve(struct solution *solution, const struct star_list *list,
                  const struct index *index, double accept_log10, long *steps, struct error *err);

#endif
