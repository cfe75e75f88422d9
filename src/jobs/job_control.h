/* jobs/job_control.h: how a caller keeps a hand on a job that takes long. */
#ifndef ALIDADE_JOBS_JOB_CONTROL_H
#define ALIDADE_JOBS_JOB_CONTROL_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>

/* All zeros: the job runs to its end and says nothing on the way. */
struct job_control {
    /* Looked at between frames, and between the steps of one; once true, the job leaves what it has
     * not begun. May be set by another thread or a signal handler. NULL: never. */
    const atomic_bool *cancelled;
    /* How many frames, or steps of a single one, of how many are done; called by one thread at a
     * time. NULL: nobody asks. */
    void (*progress)(void *context, int done, int all);
    void *context;
};

static inline bool job_is_cancelled(const struct job_control *control)
{
    return control && control->cancelled && atomic_load(control->cancelled);
}

static inline void job_progress(const struct job_control *control, int done, int all)
{
    if (control && control->progress) {
        control->progress(control->context, done, all);
    }
}

/* The same hand on a part of the job, which does not report for itself. */
static inline struct job_control job_control_of_part(const struct job_control *control)
{
    return (struct job_control){.cancelled = control ? control->cancelled : NULL};
}

#endif
