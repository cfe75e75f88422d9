/* jobs/frame_queue.h: many frames on many threads, whose answers come in the order of the frames.
 */
#ifndef ALIDADE_JOBS_FRAME_QUEUE_H
#define ALIDADE_JOBS_FRAME_QUEUE_H

#include "base/error.h"
#include "jobs/job_control.h"

#include <stdbool.h>

struct frame_queue {
    int frames, threads; /* threads 0: one a processor */
    /* Works on a frame, of 0 to frames - 1: on any thread, in any order. */
    void (*work)(int item, void *context);
    /* Takes in what came of it: one frame at a time, in their order. False: leave the rest. */
    bool (*hand_out)(int item, void *context);
    void *context;
};

/* Runs until all frames are handed out, or the rest is left. Each that is handed out is a progress
 * of the control, which may be NULL. ERROR_CANCELLED if it was cancelled before the last;
 * ERROR_MEMORY. */
int frame_queue_run(const struct frame_queue *queue, const struct job_control *control,
                    struct error *err);

#endif
