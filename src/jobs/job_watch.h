/* jobs/job_watch.h: from a folder where frames arrive to what must be done, as they arrive. */
#ifndef ALIDADE_JOBS_JOB_WATCH_H
#define ALIDADE_JOBS_JOB_WATCH_H

#include "jobs/job_aim.h"
#include "jobs/watch_session.h"

#include <stdbool.h>

struct job_watch_wish {
    struct solve_wish solve; /* want_health is set besides */
    struct aim_wish aim;     /* begin with AIM_WISH_USUAL */
    struct aim_target target;
    const struct night_plan *plan; /* of the night; borrowed; NULL: there is none */
    struct watch_wish watch;
    bool once; /* the frames that are there, in the order of their names; else until cancelled */
    bool poll; /* do not rely on the system to report new files */
};

struct job_watch_result {
    long frames, solved, alerts; /* new ones; loud alerts */
};

/* Follows the folder and tells the listener of each frame and alert; keeps a line a frame in the
 * log. Being cancelled is how a watch usually ends: 0, when the frames that were begun are through.
 * A folder that goes away may come back, which is a trouble for the listener; with once it is
 * ERROR_INPUT. The engine gets another index where that was written to, so no other job may use it
 * meanwhile. No progress is told. ERROR_INPUT, ERROR_OUTPUT and ERROR_NO as night_log_open;
 * ERROR_MEMORY. */
int job_watch(struct job_watch_result *result, struct job_engine *engine, const char *folder,
              const struct job_watch_wish *wish, const struct watch_listener *listener,
              const struct job_control *control, struct error *err);

#endif
