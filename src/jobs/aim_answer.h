/* jobs/aim_answer.h: everything that aim knows of one frame before it speaks. */
#ifndef ALIDADE_JOBS_AIM_ANSWER_H
#define ALIDADE_JOBS_AIM_ANSWER_H

#include "jobs/aim_context.h"
#include "plan/signal.h"
#include "tripod/advice_error.h"
#include "tripod/clock.h"
#include "tripod/clock_doubt.h"
#include "tripod/hiding.h"

#include <stdbool.h>

/* A head of the settings file, as far as it holds at a time: its lean only for the night in which
 * it was learned. */
struct aim_head {
    const char *name; /* NULL: none is known, a levelled one is assumed */
    struct head head;
    double error_deg;  /* NAN: not known */
    bool tilt_assumed; /* only a pan was measured: the tilt axis counts as square, to no known error
                        */
    bool lean_stale;
};

/* Of a solved frame. */
struct aim_answer {
    struct occasion occasion;
    struct aim_target target; /* where it is at that time */
    struct stand stand;
    struct aim_head head;
    double cadence_s;   /* from frame to frame */
    bool every_guessed; /* exposure + 1 s */
    bool every_planned; /* as the plan has it */
    bool daylight;      /* the Sun would have been up then: the horizon is not used */
    double sun_deg;     /* its altitude, if so */
    bool sun_there;     /* at the target, that day: nothing is advised, the rest is empty */
    bool no_when;       /* the target moves and the time is not known in UTC: likewise */
    bool has_length;    /* how long a batch should be is known: */
    struct batch_length length;
    struct advice_wish wish; /* by which it was found: */
    struct advice advice;
    struct advice_doubt doubt; /* of what it rests on */
    struct hiding hiding;      /* of the target's middle */
    struct clock_doubt clock_doubt;
    bool has_clock_fault; /* told by a level camera */
    struct clock_fault clock_fault;
    struct cue_star star[CUE_STARS];
    bool has_cue;
    struct cue cue; /* points into star: do not move */

    /* Only if it was asked for: see jobs/aim_depth.h. */
    bool has_depth, read_noise_told;
    const char *depth_unknown; /* why; static */
    bool black_doubted;        /* it is because of the black level */
    struct signal_outlook depth;
    double electrons; /* that a value of the file is worth */
    double limit_mag; /* at which stars still show in the frame; NAN: unknown */
};

/* The head of the settings file, which may be NULL, at the time of a frame. */
void aim_head_find(struct aim_head *head, const struct rig_head *rig,
                   const struct occasion *occasion);

/* Nothing is advised: sun_there or no_when. */
bool aim_answer_is_refused(const struct aim_answer *answer);

/* cadence_s: as measured in a series; 0: not known. */
void aim_answer_find(struct aim_answer *answer, const struct solved_frame *solved,
                     const struct aim_context *context, double cadence_s);

/* How exact its advice is. Takes several times as long as to find it: for those who will say it. */
void aim_answer_error(struct advice_error *error, const struct aim_answer *answer);

/* The same for a frame of which only this is known. */
struct aim_sight {
    struct wcs wcs;
    struct occasion occasion;
    struct advice_doubt doubt; /* of the WCS; what is 0 is not known */
};

/* What a solution says, and how exactly. */
void aim_sight_of(struct aim_sight *sight, const struct solution *solution);

void aim_answer_from_sight(struct aim_answer *answer, const struct aim_sight *sight,
                           const struct aim_context *context, double cadence_s);

/* What the frame says of its clock, by which it may have been day; plan: of the night, or NULL. */
void aim_clock_doubt(struct clock_doubt *doubt, const struct aim_sight *sight,
                     const struct aim_wish *wish, const struct night_plan *plan);

#endif
