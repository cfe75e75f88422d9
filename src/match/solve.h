/* match/solve.h: a whole solve, from a star list or from a frame. */
#ifndef ALIDADE_MATCH_SOLVE_H
#define ALIDADE_MATCH_SOLVE_H

#include "base/error.h"
#include "image/frame.h"
#include "match/effort.h"
#include "match/index.h"
#include "match/known_lens.h"
#include "match/solution.h"
#include "stars/stars.h"

#include <stdatomic.h>
#include <stdbool.h>

/* All zeros: nothing is known. */
struct solve_options {
    double scale_arcsec;    /* per picture pixel, as known beforehand; 0: unknown */
    double scale_tolerance; /* relative half-width of what is believed of it, e.g. 0.1 */
    bool near_given;
    double near_ra_deg, near_dec_deg, within_deg;
    bool strict; /* hints bind; else a search that fails with them goes on without */
    /* Tried before any search: a pose with its covariance (pose_expect), for the hand in which it
     * was found; NULL: none. A wrong one costs a fraction of a millisecond. */
    const struct pose *expected;
    bool expected_mirrored;
    /* The lens, as far as it is known; NULL: it is not. The fit may take it. */
    const struct known_lens *lens;
    int threads; /* that detection may use; 0: one. The answer is the same */
    /* Looked at by solve_frame after each detection and search; once true it ends as if nothing had
     * been found. NULL: never. */
    const atomic_bool *cancelled;
    double accept_log10; /* largest log10 chance of a false answer that is accepted; 0: -6 */
};

/* Finds where a star list points. No solution is a normal outcome: solved false and a sentence in
 * why. solution must be empty. ERROR_MEMORY only. */
int solve_stars(struct solution *solution, const struct star_list *list, const struct index *index,
                const struct solve_options *options, struct error *err);

/* The same for one of several lists of one frame, which share an effort: a search ends when
 * effort->spent has reached effort->most. solve_stars begins one of its own. */
int solve_stars_within(struct solution *solution, struct effort *effort,
                       const struct star_list *list, const struct index *index,
                       const struct solve_options *options, struct error *err);

/* What may be spent (effort.most) when the list of this recipe (enum detect_recipe) is searched:
 * each can use what those before left. */
long solve_effort_until(int recipe);

/* Milliseconds of wall clock that each part took. */
struct solve_times {
    double detect_ms, match_ms, fit_ms;
    long steps; /* of matching and fitting, as match/effort.h counts */
};

/* Detects stars and solves; when that fails, detects again by the other recipes, each search with
 * its own share of the allowed chance. *list receives the star list that solved it, or the first
 * one. solution and list must be empty. ERROR_MEMORY only. */
int solve_frame(struct solution *solution, struct star_list *list, struct solve_times *times,
                const struct frame *frame, const struct index *index,
                const struct solve_options *options, struct error *err);

/* Indexes to be tried, in this order, each list with all of them; which: set to the one that solved
 * it, or to the first. Each has an effort of its own; they share the allowed chance. */
struct solve_indexes {
    const struct index *const *index;
    int count;
    const struct index *which;
};

/* The same with several indexes. */
int solve_frame_among(struct solution *solution, struct star_list *list, struct solve_times *times,
                      const struct frame *frame, struct solve_indexes *indexes,
                      const struct solve_options *options, struct error *err);

#endif
