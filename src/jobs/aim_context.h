/* jobs/aim_context.h: what is wanted of the advice, and what all frames of a run share. */
#ifndef ALIDADE_JOBS_AIM_CONTEXT_H
#define ALIDADE_JOBS_AIM_CONTEXT_H

#include "jobs/job_solve.h"
#include "jobs/occasion.h"
#include "plan/night_plan.h"
#include "tripod/advice.h"

#include <stdbool.h>

/* What is wanted of the advice. */
struct aim_wish {
    struct occasion_settings occasion;
    double margin_percent;      /* of the frame's shorter side, to be kept free along each edge */
    double cadence_s;           /* from frame to frame; 0: as the frames show */
    double settle_s;            /* from a frame until the batch that is aimed for begins */
    struct batch_accept accept; /* at the edge of a stack */
    int batch;        /* frames that are to be centred on average; 0: as many as is advised */
    bool centre;      /* centre it now instead */
    bool level;       /* the camera was levelled, */
    double level_deg; /* as well as this */
    int stack;        /* frames; 0: not asked */
    double snr;       /* signal to noise a pixel that is wanted; 0: not asked */
};

/* What is usual. */
#define AIM_WISH_USUAL                                                                             \
    {                                                                                              \
        .settle_s = 30, .accept = {.widening = 0.1, .align = SMEAR_HOMOGRAPHY}, .level_deg = 0.5,  \
        .occasion.temperature_c = 10                                                               \
    }

/* What all frames share. */
struct aim_context {
    const struct aim_wish *wish;     /* borrowed */
    const struct job_engine *engine; /* likewise */
    struct aim_target target;
    const struct night_plan *plan; /* likewise; NULL: there is none */
};

#endif
