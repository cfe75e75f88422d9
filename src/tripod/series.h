/* tripod/series.h: frames of one night in the order of time: did anybody touch the tripod? */
#ifndef ALIDADE_TRIPOD_SERIES_H
#define ALIDADE_TRIPOD_SERIES_H

#include "sky/time.h"
#include "sky/wcs.h"

#include <stdbool.h>

/* A solved frame. */
struct series_frame {
    const char *name; /* borrowed */
    struct wcs wcs;
    struct utc mid; /* middle of the exposure; good to a day, to seconds among each other */
    int item;       /* the caller's */
};

struct series_step {
    double apart_s;  /* from one middle to the next */
    double moved_px; /* how far the camera turned in between, apart from the sky's drift */
    /* What the sky says has passed in between: it turned about its pole by so much and the tripod
     * stood. Known if the rest is small; else NAN. */
    double sky_s;
    bool touched; /* the tripod was turned: it moved by more than it creeps, and the clock was right
                   */
    double jump_s; /* by how much more the clock advanced than the sky did, where the tripod stood;
                      0: it did not jump */
};

struct series {
    int frames;
    double span_s;    /* from the first middle to the last */
    double cadence_s; /* from frame to frame: the median gap */
    int still_from;   /* the first frame since which nobody touched the tripod */
    double still_px;  /* the largest move since then */
    int clock_jump;   /* the first frame before which the clock jumped; 0: none did */
    double jump_s;    /* by how much more it advanced than the sky did */
};

/* Puts the frames into the order of time; by name where the times are equal. */
void series_sort(struct series_frame *frame, int frames);

/* From frame a to frame b, one after the other. */
void series_compare(struct series_step *step, const struct series_frame *a,
                    const struct series_frame *b);

/* Over at least two frames in the order in which they were taken. */
void series_measure(struct series *series, const struct series_frame *frame, int frames);

#endif
