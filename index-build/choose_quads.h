/* index-build/choose_quads.h: which stars make a quad. */
#ifndef ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H
#define ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H

#include "base/error.h"
#include "match/index.h"

/* Starts as all zeros. Both arrays belong to the caller. */
struct chosen_quads {
    struct index_quad *quad; /* in the order of the file */
    uint32_t count;
    uint32_t *bucket; /* INDEX_CODE_CELLS + 1 */
};

void chosen_quads_free(struct chosen_quads *chosen);

/* Makes quads from each star and its `neighbours` nearest brighter stars; index needs its stars and
 * cells set. Quads without a code, with two stars closer than 20 arcsec or wider than 30 degrees are
 * left out. ERROR_MEMORY, or ERROR_INPUT if there would be 2^31 of them. */
int choose_quads(struct chosen_quads *chosen, const struct index *index, int neighbours, int threads,
                 struct error *err);

#endif
