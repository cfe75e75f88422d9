/* index-build/order_stars.h: which stars go into an index and in which order. */
#ifndef ALIDADE_INDEX_BUILD_ORDER_STARS_H
#define ALIDADE_INDEX_BUILD_ORDER_STARS_H

#include "base/error.h"
#include "catalogue.h"
#include "match/index.h"

/* Direction of a star of a catalogue: unit vector. */
void order_star_vector(double v[3], const struct catalogue_star *star);

/* Drops stars fainter than faintest (NaN: none) and, in each HEALPix cell of N_side 64 (0.84 square
 * degrees), all but the brightest density * 0.84. Keeps no order. ERROR_MEMORY. */
int order_thin(struct catalogue *catalogue, double faintest, double density, struct error *err);

/* How much of the sky the stars lie in, roughly: 0..1, never 0. */
double order_share_of_sky(const struct catalogue *catalogue);

/* Sorts by level, cell, magnitude, number, position as index-build/FORMAT.md says, in place and in
 * time that grows as the number of stars. Sets the levels of index; *cells, their records, belongs
 * to the caller. share_of_sky as above. ERROR_MEMORY. */
int order_stars(struct index_cell **cells, struct index *index, struct catalogue *catalogue,
                double share_of_sky, struct error *err);

#endif
