/* jobs/review_measure.h: measures the frames of a night, on all processors, and never twice. */
#ifndef ALIDADE_JOBS_REVIEW_MEASURE_H
#define ALIDADE_JOBS_REVIEW_MEASURE_H

#include "jobs/job_control.h"
#include "jobs/job_solve.h"
#include "jobs/review_files.h"
#include "night/night_list.h"

/* All borrowed. */
struct review_work {
    const struct job_engine *engine;
    const struct solve_wish *solve; /* with want_health */
    const struct review_files *files;
    const char *log; /* its file */
    bool log_wanted; /* it was named by the user: not being able to write it is an error */
    int threads;     /* 0: one a processor */
    const struct job_control *control; /* may be NULL; cancelled: frames that were not begun have
                                          no name */
    /* What does not stop the work, with that context: a log that cannot be written. NULL: nobody
     * asks. */
    void (*trouble)(void *context, const struct error *err);
    void *context;
};

/* Adds a frame for each file, in the order of files, but one only for several of the same content:
 * list->copies counts these. It is taken from the log if that holds this content (night_known_find)
 * and says more than that it could not be read for a reason that may have passed; else it is
 * measured and added to the log. *measured: how many of them. Problems with single frames are kept
 * in the frames. ERROR_OUTPUT, ERROR_NO as night_log_open, ERROR_INPUT, ERROR_MEMORY. */
int review_measure(struct night_list *list, int *measured, const struct review_work *work,
                   struct error *err);

#endif
