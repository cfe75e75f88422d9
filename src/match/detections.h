/* match/detections.h: a star list as the search sees it: one hand, brightest first, on a grid. */
#ifndef ALIDADE_MATCH_DETECTIONS_H
#define ALIDADE_MATCH_DETECTIONS_H

#include "stars/stars.h"

#include <stdbool.h>

enum { DETECTIONS_LIMIT = 1200, DETECTIONS_GRID = 24 };

struct detection {
    double x, y;  /* px from the middle of the picture, x right, y down; x is negated if mirrored */
    double crowd; /* how many times denser than on average detections are around it, >= 1 */
    int rank;     /* 0 is the brightest; also the index into the star list */
};

struct detections {
    int count;
    bool mirrored;
    double width, height, half_diagonal;
    double sigma; /* expected error of a position, px */
    struct detection d[DETECTIONS_LIMIT];
    /* d's indices grouped by grid cell */
    int cell_start[DETECTIONS_GRID * DETECTIONS_GRID + 1];
    short by_cell[DETECTIONS_LIMIT];
};

/* Takes the brightest stars of the list. */
void detections_make(struct detections *out, const struct star_list *list);
/* The same as seen in a mirror: x negated. Its own inverse. */
void detections_mirror(struct detections *out, const struct detections *direct);

/* Expected error of a star's position in x or y, px: centroids of large and trailed stars are
 * worse. */
double detections_position_error(const struct star_list *list);

/* Brightness of the rank-th star in magnitudes with an arbitrary zero. Star counts grow about as
 * 10^(0.45 mag), so the logarithm of the rank serves: no stretch, saturation or sharpening of the
 * picture changes it. */
double detections_rank_magnitude(double rank);
/* Its inverse. */
double detections_magnitude_rank(double magnitude);
#define DETECTIONS_COUNTS_SLOPE (0.45 * 2.302585092994046)

/* Calls visit for each detection whose grid cell is within reach of (x, y), px. */
void detections_near(const struct detections *list, double x, double y, double reach,
                     void (*visit)(const struct detection *d, void *context), void *context);

#endif
