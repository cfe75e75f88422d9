/* cage/cage_limits.h: what one picture may take. */
#ifndef ALIDADE_CAGE_CAGE_LIMITS_H
#define ALIDADE_CAGE_CAGE_LIMITS_H

#include "image/frame.h"

/* Zero: as much as CAGE_MEMORY_MB, CAGE_SECONDS and
 * CAGE_SILENCE_S say. */
struct cage_limits {
    double memory_mb; /* megabytes (10^6 bytes) beyond what the program itself takes, 16 to 1e6 */
    int seconds;      /* of processor time, at least 1 */
    int silence_s;    /* by the clock, until it is given up; a disk may be slow */
    /* For tests: reads in place of frame_read_from, in the cage. */
    int (*read)(struct frame *frame, const struct picture_source *source,
                const struct frame_options *options, struct error *err);
};

/* A picture of the largest size that is read, 400 megapixels of three values, is within. */
#define CAGE_MEMORY_MB 4000.0
#define CAGE_SECONDS 120
#define CAGE_SILENCE_S 1200

#endif
