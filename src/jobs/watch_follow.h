/* jobs/watch_follow.h: the watch of a folder, until it is enough. */
#ifndef ALIDADE_JOBS_WATCH_FOLLOW_H
#define ALIDADE_JOBS_WATCH_FOLLOW_H

#include "jobs/job_control.h"
#include "jobs/watch_folder.h"
#include "jobs/watch_session.h"

#include <stdbool.h>

/* Takes frames into the open session as they become ready, until the job is cancelled; if once is
 * set, those that are there in the order of their names, and then stops. A folder that goes away
 * may come back: that is a trouble, unless once is set, when it is ERROR_INPUT. ERROR_MEMORY. */
int watch_follow(struct watch_folder *folder, struct watch_session *session, bool once,
                 const struct job_control *control, struct error *err);

#endif
