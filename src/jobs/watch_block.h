/* jobs/watch_block.h: the next few frames of a folder, read and solved on all processors. */
#ifndef ALIDADE_JOBS_WATCH_BLOCK_H
#define ALIDADE_JOBS_WATCH_BLOCK_H

#include "jobs/job_control.h"
#include "jobs/watch_folder.h"
#include "jobs/watch_session.h"

#include <stdbool.h>

/* Takes the next frames that are ready, leaves out those that the log holds, solves the others and
 * lets the session take them in, in their order. How many are taken at a time does not depend on
 * the threads; so neither do the answers. *any: there were some. Frames that were not begun when
 * the job is cancelled are left. Where the index has changed meanwhile they are solved again with
 * the new one. ERROR_MEMORY; as session_renew_index, and then frames are left for another run. */
int watch_block_do(bool *any, struct watch_folder *folder, struct watch_session *session,
                   const struct job_control *control, struct error *err);

#endif
