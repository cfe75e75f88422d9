/* jobs/batch_advice.h: after how many frames to re-centre, as the plan of the night has decided or,
 * without one, as the same rules say of a solved frame. */
#ifndef ALIDADE_JOBS_BATCH_ADVICE_H
#define ALIDADE_JOBS_BATCH_ADVICE_H

#include "jobs/aim_context.h"

/* A solved frame as it stands, the head it is on, and how frames follow each other; 0 is unknown.
 * What counts is the picture that it gives once the head is turned to the target. */
struct batch_sight {
    const struct stand *stand;
    const struct head *head;
    double exposure_s, cadence_s;
    double visible_s; /* until the target goes behind the skyline; infinite if it does not */
};

/* For the target of context. False if it is not known how frames follow each other. */
bool batch_advise(struct batch_length *batch, const struct batch_sight *sight,
                  const struct aim_context *context);

#endif
