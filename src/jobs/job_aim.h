/* jobs/job_aim.h: from a picture to how the camera is to be turned to a target, and when again. */
#ifndef ALIDADE_JOBS_JOB_AIM_H
#define ALIDADE_JOBS_JOB_AIM_H

#include "jobs/aim_answer.h"
#include "jobs/job_solve.h"

struct job_aim_wish {
    struct solve_wish solve; /* want_health is set besides where the aim needs it */
    struct aim_wish aim;     /* begin with AIM_WISH_USUAL */
    struct aim_target target;
    const struct night_plan *plan; /* of the night; borrowed; NULL: there is none */
};

/* Starts as all zeros; free with job_aim_free. Must not be moved. */
struct job_aim_result {
    struct solved_frame solved;
    struct aim_answer answer; /* of a solved frame; else all zeros */
};

/* Finds the target by its name ("M 31", "Vega") in the engine's objects, or takes a position
 * ("83.8,-5.4"), which needs none. ERROR_USAGE with a sentence for what is neither, and for the
 * Sun; ERROR_MEMORY. */
int job_aim_find_target(struct aim_target *target, const struct job_engine *engine,
                        const char *name, struct error *err);

/* Solves the picture and advises. No solution is a normal outcome: 0, with solved.solution.solved
 * false. Steps, cancelling and errors as job_solve. */
int job_aim(struct job_aim_result *result, const struct job_engine *engine,
            const struct picture_source *picture, const struct job_aim_wish *wish,
            const struct job_control *control, struct error *err);
void job_aim_free(struct job_aim_result *result);

/* What the frames of a series are held against each other with: see jobs/aim_series.h. Borrows. */
struct aim_context job_aim_context(const struct job_engine *engine,
                                   const struct job_aim_wish *wish);

#endif
