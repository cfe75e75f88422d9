/* index-build/order_stars.h: which stars go into an index and in which order. */
#ifndef ALIDADE_INDEX_BUILD_ORDER_STARS_H
#define ALIDADE_INDEX_BUILD_ORDER_STARS_H

#include "base/error.h"
#include "catalogue.h"
#include "match/index.h"

/* Drops stars fainter than faintest (NaN: none) and, in each HEALPix cell of N_side 64 (0.84 square
 * degrees), all but the brightest density * 0.84. Keeps no order. ERROR_MEMORY. */
int order_thin(struct catalogue *catalogue, double faintest, double density, struct error *err);

/* Sorts by level, cell, magnitude, number, position as index-build/FORMAT.md says, and makes the
 * cells: *cells holds index_first_cell(levels) + 1 records and belongs to the caller. */
int order_stars(struct index_cell **cells, int *levels, struct catalogue *catalogue,
                struct error *err);

#endif
