/* match/curved_fit.h: from an accepted hypothesis to the WCS of a fisheye or a panorama.
 *
 * Any lens draws a small piece of sky as a plane does: the search finds it there. From that piece
 * each projection grows outwards by itself, a star being taken in where its place has become
 * certain, and the one that then explains most stars to the fit's error is kept. */
#ifndef ALIDADE_MATCH_CURVED_FIT_H
#define ALIDADE_MATCH_CURVED_FIT_H

#include "base/error.h"
#include "match/index.h"
#include "match/solution.h"
#include "match/verify.h"
#include "stars/stars.h"

/* What a try that ends in nothing takes at most, as match/effort.h counts. */
enum { CURVED_FIT_STEPS = 1200000 };

/* False if the field that the verdict's pose gives the picture is so narrow that no lens could be
 * told from a rectilinear one; present: a plane fits. */
bool curved_fit_is_possible(const struct verdict *verdict, bool present);

/* Fills in what fit_solution does, but for the pose, whose focal length is 0: no plane shows it.
 * present: an answer that there is from a plane (NULL: none; it may be solution): only one that
 * explains clearly more, or explains it clearly better, is taken. Returns ERROR_NO, without a
 * message, if no projection explains the picture, or none better; ERROR_MEMORY. steps grows as
 * match/effort.h counts. */
int curved_fit_solution(struct solution *solution, const struct verdict *verdict, bool mirrored,
                        const struct star_list *list, const struct index *index,
                        const struct solution *present, long *steps, struct error *err);

#endif
