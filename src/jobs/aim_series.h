/* jobs/aim_series.h: the solved frames of a run, kept until all are through. */
#ifndef ALIDADE_JOBS_AIM_SERIES_H
#define ALIDADE_JOBS_AIM_SERIES_H

#include "jobs/aim_answer.h"
#include "tripod/series.h"

#include <pthread.h>

/* Starts as all zeros; aim_series_open, then aim_series_free. */
struct aim_series {
    pthread_mutex_t lock;
    struct series_frame *frame; /* count, in any order before aim_series_find */
    struct aim_sight *sight;    /* by series_frame.item */
    int count;
};

int aim_series_open(struct aim_series *series, int most, struct error *err);
void aim_series_free(struct aim_series *series);

/* From any thread, at most most times. Frames without a time are left out. */
void aim_series_add(struct aim_series *series, const struct solved_frame *solved,
                    const struct aim_context *context);

/* What the frames of a series say together. Starts as all zeros; free with
 * aim_series_answer_free. */
struct aim_series_answer {
    struct series measured;
    const struct series_frame *frame; /* of the series, in the order of time */
    bool steady;                      /* frames follow each other as measured.cadence_s says */
    struct aim_answer *answer;        /* of the last frame; NULL: there are not two frames */
};

/* Whether the tripod stood, how often a frame was taken, and what comes next after the last. name:
 * all frames in the order in which they were taken or, if the clock did not jump in between, in
 * any. found borrows from series, whose frames are put in order. ERROR_MEMORY. */
int aim_series_find(struct aim_series_answer *found, struct aim_series *series, char **name,
                    int names, const struct aim_context *context, struct error *err);
void aim_series_answer_free(struct aim_series_answer *found);

#endif
