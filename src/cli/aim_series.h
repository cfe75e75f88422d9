/* cli/aim_series.h: the solved frames of a run, kept until all are through. */
#ifndef ALIDADE_CLI_AIM_SERIES_H
#define ALIDADE_CLI_AIM_SERIES_H

#include "cli/aim_answer.h"
#include "tripod/series.h"

#include <pthread.h>
#include <stdio.h>

/* Starts as all zeros; aim_series_open, then aim_series_free. */
struct aim_series {
    pthread_mutex_t lock;
    struct series_frame *frame; /* count, in any order before aim_series_report */
    struct aim_sight *sight;    /* by series_frame.item */
    int count;
};

int aim_series_open(struct aim_series *series, int most, struct error *err);
void aim_series_free(struct aim_series *series);

/* From any thread, at most most times. Frames without a time are left out. */
void aim_series_add(struct aim_series *series, const struct solved_frame *solved,
                    const struct aim_context *context);

/* What the frames say together, if there are two or more: whether the tripod stood, how often a
 * frame was taken, and what comes next after the last. name: all frames in the order in which they
 * were taken or, if the clock did not jump in between, in any. ERROR_MEMORY. */
int aim_series_report(FILE *out, struct aim_series *series, char **name, int names,
                      const struct aim_context *context, struct error *err);

#endif
