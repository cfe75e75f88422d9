/* index-build/quad_heap.h: the quads of an index on their way from the order of their anchors to
 * that of their shape cells. */
#ifndef ALIDADE_INDEX_BUILD_QUAD_HEAP_H
#define ALIDADE_INDEX_BUILD_QUAD_HEAP_H

#include "base/error.h"

#include <stdint.h>
#include <stdio.h>

/* One quad: its cell in the upper bits, from cell_shift on. Below them its number and the steps
 * within its cell, which are not looked at here. */
typedef uint64_t heap_quad;

/* Quads are thrown on piles, each of a stretch of cells, in blocks. Many of them are kept in a file
 * that has no name. Starts as all zeros. */
struct quad_heap {
    struct quad_pile *pile;
    uint32_t piles, cells_each, cells;
    int cell_shift;
    FILE *file; /* NULL: all are in memory */
    uint64_t blocks_in_file;
};

/* expected: about how many quads will come; more than some millions go to a file beside the one of
 * this name, or to the system's temporary folder if beside is NULL. ERROR_MEMORY, ERROR_OUTPUT.
 * Inverse: quad_heap_free. */
int quad_heap_make(struct quad_heap *heap, uint32_t cells, int cell_shift, uint64_t expected,
                   const char *beside, struct error *err);
void quad_heap_free(struct quad_heap *heap);

/* Throws count quads on. ERROR_MEMORY, ERROR_OUTPUT. */
int quad_heap_add(struct quad_heap *heap, const heap_quad *quad, uint64_t count, struct error *err);

/* Takes one pile's quads, sorted by cell and in the order in which they came within each; first
 * gets where the quads of each of its cells begin, and their end. *quad and *first belong to the
 * caller. The pile is empty afterwards. ERROR_MEMORY, ERROR_OUTPUT. */
int quad_heap_take(heap_quad **quad, uint32_t **first, struct quad_heap *heap, uint32_t pile,
                   struct error *err);

/* The first cell of a pile; that of the one behind the last is the number of cells. */
uint32_t quad_heap_cell(const struct quad_heap *heap, uint32_t pile);

#endif
