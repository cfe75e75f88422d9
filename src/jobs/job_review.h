/* jobs/job_review.h: from the frames of a night, or the lines that keep them, to what they are
 * worth.
 */
#ifndef ALIDADE_JOBS_JOB_REVIEW_H
#define ALIDADE_JOBS_JOB_REVIEW_H

#include "jobs/job_control.h"
#include "jobs/job_solve.h"
#include "jobs/review_files.h"
#include "night/review.h"

#include <stdbool.h>

struct job_review_wish {
    struct solve_wish solve; /* want_health is set besides */
    struct judge_rules rules;
    const struct aim_target *target; /* what should be in the frames; NULL: nothing certain */
    const struct night_plan *plan;   /* of the night; borrowed; NULL: there is none */
    const char *log;                 /* where the lines of measured frames are kept */
    bool log_wanted;                 /* it was named: not being able to write it is an error */
    int threads;                     /* 0: one a processor */
    /* What does not stop the work, with that context: a log that cannot be written, a line that
     * cannot be read. By one thread at a time. NULL: nobody asks. */
    void (*trouble)(void *context, const struct error *err);
    void *context;
};

/* Starts as all zeros; free with job_review_free. */
struct job_review_result {
    struct night_list list; /* of all frames; the review borrows from it */
    struct review review;
    int measured; /* how many of them no log knew */
};

/* Adds the frames in folders and the folders in them, and single files, to files, which is empty;
 * log gets the place where their lines are usually kept: NIGHT_LOG_NAME in the first folder, or
 * beside the first file. ERROR_INPUT where there is no frame; ERROR_MEMORY. */
int job_review_find(struct review_files *files, char *log, size_t size, char **name, int names,
                    struct error *err);

/* Measures the frames that the log does not know and judges all. A frame that is measured is a
 * progress of the control. ERROR_CANCELLED: what was measured until then is in the log; else as
 * review_measure. */
int job_review(struct job_review_result *result, const struct job_engine *engine,
               const struct review_files *files, const struct job_review_wish *wish,
               const struct job_control *control, struct error *err);

/* Judges frames of which only the lines are there, in files of lines. Of the wish, rules, target
 * and trouble count. ERROR_INPUT where there is no line of a frame; ERROR_MEMORY. */
int job_review_lines(struct job_review_result *result, char **name, int names,
                     const struct job_review_wish *wish, struct error *err);
void job_review_free(struct job_review_result *result);

#endif
