/* jobs/frame_solver.h: from the name of a file to its solution. */
#ifndef ALIDADE_JOBS_FRAME_SOLVER_H
#define ALIDADE_JOBS_FRAME_SOLVER_H

#include "health/health.h"
#include "jobs/hints.h"
#include "match/index.h"
#include "match/solution.h"
#include "night/night_frame.h"
#include "rig/body_table.h"
#include "sky/time.h"
#include "stars/streak.h"

#include <stdbool.h>

/* What all frames of a run share. Starts as all zeros; free with solver_close. */
struct solver {
    char index_name[4096];
    struct index_file index;
    const struct hint_settings *hints;         /* borrowed; not NULL */
    struct rig_in_use rig;                     /* points into itself; all zeros: nothing is known */
    struct body_table bodies;                  /* empty if there is none */
    bool want_picture, want_deep, keep_levels; /* see struct frame_options */
    bool want_health;
    int threads; /* for each frame; 0: one. To be set where fewer frames than threads are at hand */
    bool
        black_known; /* for health: see struct health_input; not used for camera raw, which knows */
    double black;
};

/* Opens the index of that name; rig, hints and what is wanted are set by the caller, before or
 * after. ERROR_INPUT, ERROR_MEMORY. */
int solver_open(struct solver *solver, const char *index, struct error *err);

/* Adds the table of cameras from the folder of tables, which helps frames that do not state their
 * pixels. ERROR_INPUT, ERROR_MEMORY: the solver works without. */
int solver_add_bodies(struct solver *solver, const char *folder, struct error *err);

void solver_close(struct solver *solver);

/* Whether the file of the index was written to since it was opened. */
bool solver_is_stale(const struct solver *solver);
/* Opens the index anew, under its name; no frame may be solved meanwhile. On failure nothing has
 * changed. ERROR_INPUT. */
int solver_renew(struct solver *solver, struct error *err);

/* One frame, solved or not. Starts as all zeros; free with solved_frame_free. */
struct solved_frame {
    struct picture_source source; /* borrowed */
    const char *name;             /* of the source */
    struct frame frame; /* without the values of its plane; with the picture if it was wanted */
    struct solution solution;
    bool has_health;            /* it was wanted: */
    struct frame_health health; /* else all zeros, which is not what the frame is like */
    struct streak_list streaks; /* likewise, of a solved frame */
    struct solve_options options;
    struct hint_use hints;
    struct solve_times times;
    double read_ms, health_ms, total_ms;
};

/* Reads and solves. No solution is a normal outcome. ERROR_INPUT, also if the solver is stale
 * afterwards, since what came out is worth nothing then; ERROR_MEMORY. May run on several threads
 * at once with one solver. */
int frame_solve(struct solved_frame *solved, const char *name, const struct solver *solver,
                struct error *err);
/* What an earlier frame of the same tripod tells beforehand. All zeros: nothing. */
struct solve_before {
    bool known;
    struct pose pose;
    bool mirrored;
    double scale_arcsec;
    bool has_start;
    struct utc start; /* on the clock of the frames */
};

/* The same for a frame that is expected where the sky has turned to since an earlier one; then
 * nearby; then anywhere. before may be NULL. */
int frame_solve_after(struct solved_frame *solved, const char *name, const struct solver *solver,
                      const struct solve_before *before, struct error *err);

void solved_frame_free(struct solved_frame *solved);

/* What is kept of it: what its JSON line says. note must be empty; file is as it
 * was when it was read, NULL: as it is now; unread is NULL if the frame could be read, else why
 * not. ERROR_MEMORY only. */
int solved_frame_note(struct night_frame *note, const struct solved_frame *solved,
                      const struct night_file *file, const struct error *unread, struct error *err);

#endif
