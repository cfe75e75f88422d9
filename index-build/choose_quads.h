/* index-build/choose_quads.h: which stars make a quad. */
#ifndef ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H
#define ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H

#include "base/error.h"
#include "match/index.h"

/* The work is done twice so that no quad is held anywhere but at its place in the file: an index of
 * 25 million stars has tens of millions of them. */

/* Finds the nearest brighter stars of each star and counts the quads of each shape cell. index needs
 * its stars, cells and neighbours set; near has room for stars * neighbours, bucket for
 * INDEX_SHAPE_CELLS + 1 numbers: where each cell's quads begin, and the number of all. ERROR_MEMORY,
 * or ERROR_INPUT if there would be 2^31 of them. */
int choose_count(uint32_t *near, uint32_t *bucket, const struct index *index, int threads,
                 struct error *err);

/* Makes the quads of each star with every three of its neighbours and puts them in the order of the
 * file; index needs near and bucket set too. quad has room for all. See index_make_quad for those
 * left out. ERROR_MEMORY. */
int choose_place(struct index_quad *quad, const struct index *index, int threads,
                 struct error *err);

#endif
