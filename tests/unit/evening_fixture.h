/* tests/unit/evening_fixture.h: evenings with rigs, places, targets and dates at random. The
 * pictures are pointed by the demo's renderer, which knows nothing of plans. */
#ifndef ALIDADE_TESTS_EVENING_FIXTURE_H
#define ALIDADE_TESTS_EVENING_FIXTURE_H

#include "jobs/aim_answer.h"
#include "plan/night_plan.h"
#include "stand_fixture.h"

#include <stdbool.h>

/* What is made up for an evening, and what comes of it. */
struct evening {
    struct plan_settings settings;
    struct darkness night;
    struct plan_item item;
    struct night_plan plan;  /* as it was read back */
    struct rig_place stands; /* where, as a settings file would have it */
    struct tripod tripod;
    struct aim_wish wish;
    struct job_engine engine; /* with nothing but the objects */
    struct aim_context context;
    struct solved_frame solved; /* the frame that is aimed with */
    struct aim_answer answer;
};

/* Draws a rig, a place, a night and a target, and plans it; false if nothing comes of that. */
bool evening_draw(struct evening *evening, const struct objects *objects, struct random *random);

/* Once its plan was read back: the camera stands as the plan has it, but points beside the target.
 */
void evening_set_up(struct evening *evening, const struct objects *objects, struct random *random);

/* Takes the frame that is aimed with, and asks. */
void evening_ask_aim(struct evening *evening);

/* The frame of that number of the night, and all that is known of it. night_frame_free. */
struct night_frame evening_frame(const struct evening *evening, int number);
void evening_solved(struct solved_frame *solved, const struct evening *evening, int number);

/* What to do about such a frame. */
void evening_answer(struct aim_answer *answer, const struct evening *evening,
                    const struct solved_frame *solved);

#endif
