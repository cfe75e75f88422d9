/* jobs/job_plan.h: from a lens, a place and a date to what to shoot in a night, and how. */
#ifndef ALIDADE_JOBS_JOB_PLAN_H
#define ALIDADE_JOBS_JOB_PLAN_H

#include "draw/page.h"
#include "jobs/job_control.h"
#include "jobs/job_engine.h"
#include "jobs/plan_evening.h"
#include "jobs/plan_gear.h"
#include "plan/plan.h"
#include "plan/plan_words.h"

struct job_plan_wish {
    const char *target; /* name or position of the one to be told all of; NULL: what is best */
    const char *with; /* with a target: names of what else is to be in the frame, parted by commas;
                         NULL: nothing certain */
    int most;         /* targets to propose, without one */
    struct plan_evening evening;
    struct plan_gear gear;
    double
        moonless_hours; /* of the target in the dark, in the nights that are named; their number: */
    int nights;
    double sky_mag, bortle; /* of the sky without the Moon; both 0: the place's, else a suburb's */
    struct plan_settings settings; /* camera, sky_mag and shutter are filled in by the job, trail
                                      where it is all zeros, with and with_count by with */
};

/* What is usual; evening.now and own_offset_min are the caller's to fill in. */
#define JOB_PLAN_USUAL                                                                             \
    {                                                                                              \
        .most = 8, .moonless_hours = 2, .nights = 5,                                               \
        .evening = {.darkness = DARKNESS_ASTRONOMICAL},                                            \
        .gear = {.distortion_percent = (double)NAN}, .settings = {                                 \
            .least_altitude_deg = 30,                                                              \
            .total_s = 3600,                                                                       \
            .pause_s = 1,                                                                          \
            .snr = 1,                                                                              \
            .accept = {.widening = 0.1, .align = SMEAR_HOMOGRAPHY}                                 \
        }                                                                                          \
    }

/* Starts as all zeros; free with job_plan_free. Points into itself and borrows from the engine:
 * must not be moved. */
struct job_plan_result {
    struct plan_settings settings; /* as they were settled */
    struct darkness night;
    struct plan_sheet sheet; /* of the two, and of what follows */
    struct plan plan;        /* without a target: best first, perhaps nothing */
    struct plan_item item;   /* with one; item.window.span.any: it is up that night */
    struct approach approach;
    struct star_steps star_steps;
    struct season season;
    char place[120], camera[160]; /* in words */
    struct object own;            /* a target that is a position */
    char own_name[64];
    const struct object *with[PLAN_MEMBERS];
};

/* The engine needs its objects, and the lens and the place of a settings file where the wish does
 * not tell them. ERROR_USAGE for what is missing or cannot be: no lens, no place, no such target,
 * no such night; ERROR_CANCELLED before the work; ERROR_MEMORY. */
int job_plan(struct job_plan_result *result, const struct job_engine *engine,
             const struct job_plan_wish *wish, const struct job_control *control,
             struct error *err);

/* Writes the field card of a target that is up, to a file or to memory; red: for a screen in the
 * dark. With figures of constellations if the engine has its atlas. ERROR_OUTPUT, ERROR_MEMORY. */
int job_plan_card(const struct job_plan_result *result, const struct job_engine *engine,
                  enum page_format format, bool red, const struct file_target *target,
                  struct error *err);
void job_plan_free(struct job_plan_result *result);

#endif
