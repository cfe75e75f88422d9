/* match/trail_ends.h: from where stars stood at both ends of an exposure to its middle. */
#ifndef ALIDADE_MATCH_TRAIL_ENDS_H
#define ALIDADE_MATCH_TRAIL_ENDS_H

#include "base/error.h"
#include "match/solution.h"
#include "stars/stars.h"

#include <stdbool.h>

/* By how much right ascension grew in each pixel from one WCS of a camera that stands to the other,
 * degrees, below 0 if it fell; and what speaks against it: how far directions are apart then, rms,
 * degrees. */
double trail_ends_turn(double *apart_deg, const struct wcs *from, const struct wcs *to);

/* Turns a solution by so many degrees of right ascension: stars move to where they stood then, and
 * those that were not in the picture are left out with their pairs. Zones and errors stay: they are
 * the lens's. ERROR_MEMORY. */
int trail_ends_shift(struct solution *solution, struct star_list *list, double turn_deg,
                     struct error *err);

#endif
