/* index-build/neighbours.h: which brighter stars are nearest to a star. */
#ifndef ALIDADE_INDEX_BUILD_NEIGHBOURS_H
#define ALIDADE_INDEX_BUILD_NEIGHBOURS_H

#include "match/index.h"

/* The brighter stars nearest to an anchor. */
struct neighbours {
    const struct index *index;
    uint32_t anchor;
    double centre[3];
    double cos_radius;
    int count, wanted;
    uint32_t star[INDEX_MAX_NEIGHBOURS]; /* nearest first */
    double dot[INDEX_MAX_NEIGHBOURS];    /* cosines of the distances */
};

/* The stars around those of one cell, which serve for all of these. Starts as all zeros but for
 * index and share_of_sky (order_share_of_sky). */
struct surroundings {
    const struct index *index;
    double share_of_sky;
    uint32_t first, end; /* the cell's own stars; end is 0 before there is one */
    int level;
    double radius; /* of a disc around each of them: it lies in the surroundings whole */
    double centre[3], cos_reach;
    uint32_t *star;
    double (*v)[3];
    size_t count, room;
    bool no_memory;
};

/* Finds as many neighbours of an anchor as an index has (fewer if fewer stars are brighter and
 * within 20 degrees). Quick if anchors come in the order of the index. around->no_memory is set,
 * and neighbours may be missing, when memory is short. Inverse: surroundings_free. */
void neighbours_find(struct neighbours *n, struct surroundings *around, uint32_t anchor);
void surroundings_free(struct surroundings *around);

#endif
