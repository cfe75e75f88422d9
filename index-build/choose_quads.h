/* index-build/choose_quads.h: which stars make a quad. */
#ifndef ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H
#define ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H

#include "base/error.h"
#include "match/index.h"

/* Starts as all zeros. The arrays belong to the caller. */
struct chosen_quads {
    uint32_t *near;          /* stars * neighbours */
    struct index_quad *quad; /* in the order of the file */
    uint32_t count;
    uint32_t *bucket; /* INDEX_CODE_CELLS + 1 */
};

void chosen_quads_free(struct chosen_quads *chosen);

/* Finds the nearest brighter stars of each star, and makes a quad of each star with every three of
 * them; index needs its stars and cells set. See index_make_quad for those left out. ERROR_MEMORY, or
 * ERROR_INPUT if there would be 2^31 of them. */
int choose_quads(struct chosen_quads *chosen, const struct index *index, int neighbours, int threads,
                 struct error *err);

#endif
