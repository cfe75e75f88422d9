/* index-build/choose_quads.h: which stars make a quad. */
#ifndef ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H
#define ALIDADE_INDEX_BUILD_CHOOSE_QUADS_H

#include "base/error.h"
#include "match/index.h"
#include "quad_heap.h"

/* Stars are done in chunks, whose packed neighbours are whole bytes. */
enum { CHOOSE_CHUNK = 2048, CHOOSE_WIDTHS = 32 };

/* What came of one chunk of stars. Starts as all zeros. */
struct chosen {
    unsigned char *near; /* packed as index_neighbour reads it, PACKED_SLACK behind */
    size_t near_size;    /* without the slack */
    heap_quad *quad;     /* in order of their numbers; see choose_shift */
    uint32_t quads;
    double width[CHOOSE_WIDTHS]; /* of some of the quads, radians */
    int widths;
    bool no_memory;
};

/* Finds the nearest brighter stars of each star of a chunk (stars CHOOSE_CHUNK * chunk and on), and
 * the narrowest most quads that each makes with three of them. index needs its stars, cells, grid
 * and number of neighbours set. share_of_sky: see order_share_of_sky. no_memory is set when memory
 * is short. Inverse: chosen_free. */
void choose_chunk(struct chosen *chosen, const struct index *index, uint32_t chunk, int most,
                  double share_of_sky);
void chosen_free(struct chosen *chosen);

/* Where a heap_quad has its cell: below it are its number, and the pairs of steps, those of axes 0
 * and 1 lowest. */
int choose_shift(const struct index *index);

#endif
