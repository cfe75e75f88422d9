/* jobs/watch_advice.h: each frame of a session beside the one before it: did the tripod stand, and
 * where does the target go? */
#ifndef ALIDADE_JOBS_WATCH_ADVICE_H
#define ALIDADE_JOBS_WATCH_ADVICE_H

#include "jobs/aim_answer.h"
#include "night/alerts.h"
#include "night/night_frame.h"
#include "night/pace.h"
#include "tripod/series.h"

#include <stdbool.h>

/* Starts as all zeros with context set, which is borrowed. Holds no memory of its own. */
struct watch_advice {
    const struct aim_context *context;
    bool has_last, has_sight; /* a frame with a time; a solved one */
    struct utc last;          /* middle of the latest exposure */
    struct series_frame sight;
    int since_touch; /* solved frames since the tripod was touched */
    struct pace pace;
    bool has_batch; /* how long a batch should be is known for where the camera looks now: */
    struct batch_length batch;
    double cadence_s; /* from frame to frame, as wished or as they come; 0: unknown */
    int late; /* frames in a row that are older than the latest, each newer than the one before */
    struct utc late_mid;
    struct solve_before before; /* for the next frame */
};

/* The target where it is when the frame was taken; false where that is not known of what moves. */
bool watch_advice_target(struct aim_target *target, const struct watch_advice *advice,
                         const struct night_frame *frame);

/* What this frame says beside those before; the advice then takes it in. */
void watch_advice_step(struct night_step *step, struct watch_advice *advice,
                       const struct night_frame *frame);

/* What to do about a frame, for an alert that wants a move. cadence_s as in its step. */
void watch_advice_give(struct aim_answer *answer, const struct watch_advice *advice,
                       const struct solved_frame *solved, double cadence_s);

#endif
