/* jobs/job_solve.h: from a picture to where it points and how good it is. */
#ifndef ALIDADE_JOBS_JOB_SOLVE_H
#define ALIDADE_JOBS_JOB_SOLVE_H

#include "health/health.h"
#include "jobs/hints.h"
#include "jobs/job_control.h"
#include "jobs/job_engine.h"
#include "jobs/occasion.h"
#include "match/solution.h"
#include "night/night_frame.h"
#include "sky/time.h"
#include "stars/streak.h"

#include <stdbool.h>

/* Planes have at most so many pixels: enough for the stars of any lens; 24 megapixels are binned 2
 * x 2. */
#define JOB_PLANE_PIXELS 8000000L

/* What an earlier frame of the same tripod tells beforehand. All zeros: nothing. */
struct solve_before {
    bool known;
    struct pose pose;
    bool mirrored;
    double scale_arcsec;
    bool has_start;
    struct utc start; /* on the clock of the frames */
};

/* All zeros: solve, with no more known than the file and the settings file say. */
struct solve_wish {
    struct hint_settings hints;
    /* The frame is expected where the sky has turned to since an earlier one; then nearby; then
     * anywhere. Borrowed; NULL: nothing is known. */
    const struct solve_before *before;
    bool want_picture, want_deep, want_samples, keep_levels; /* see struct frame_options */
    bool want_health;
    bool keep_planes; /* the frame's plane, and its colours if it has them, are left in it */
    int threads;      /* for this frame; 0: one. The answer is the same */
    /* For health: see struct health_input; not used for camera raw, which knows. */
    bool black_known;
    double black;
    double accepted_s; /* exposure by a plan of the night; 0: as the settings file chooses */
    bool want_stars;   /* the star list is kept */
    /* For the place and time, by which a known lens is told from refraction; borrowed. NULL: as the
     * settings file and the frame say, in usual air. */
    const struct occasion_settings *occasion;
};

/* One frame, solved or not. Starts as all zeros; free with solved_frame_free. */
struct solved_frame {
    struct picture_source source; /* borrowed */
    const char *name;             /* of the source */
    struct frame frame;           /* without the values of its plane, unless these were wanted */
    struct solution solution;
    const struct index *index;  /* of the engine: the one that it was solved with */
    struct star_list stars;     /* that it was solved with, if they were wanted */
    bool has_health;            /* it was wanted: */
    struct frame_health health; /* else all zeros, which is not what the frame is like */
    struct streak_list streaks; /* likewise, of a solved frame */
    struct solve_options options;
    struct hint_use hints;
    struct solve_times times;
    double read_ms, health_ms, total_ms;
};

/* Reads a picture, from a file or from memory, and solves it. No solution is a normal outcome: 0,
 * with solution.solved false and the reason in solution.why. Each step that is done (reading,
 * solving, judging its health) is a progress of the control, which is looked at before the next;
 * it may be NULL. The same picture gives the same answer wherever its bytes are.
 * ERROR_INPUT: not a picture, or the engine is stale afterwards, since what came out is worth
 * nothing then; ERROR_CANCELLED; ERROR_MEMORY. solved is to be freed in each case. */
int job_solve(struct solved_frame *solved, const struct job_engine *engine,
              const struct picture_source *picture, const struct solve_wish *wish,
              const struct job_control *control, struct error *err);

void solved_frame_free(struct solved_frame *solved);

/* What is kept of it: what its JSON line says. note must be empty; file is as it
 * was when it was read, NULL: as it is now; unread is NULL if the frame could be read, else why
 * not. ERROR_MEMORY only. */
int solved_frame_note(struct night_frame *note, const struct solved_frame *solved,
                      const struct night_file *file, const struct error *unread, struct error *err);

#endif
