/* Frames exposed for minutes from a tripod. */
#include "base/stopwatch.h"
#include "match/arc_turn.h"
#include "match/solve_parts.h"
#include "match/trail_ends.h"
#include "sky/rates.h"
#include "stars/arcs.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { LEAST_ENDS = 8 };

/* Two ends' solutions are of one camera that stands if they are so close, turned about the pole, as
 * a share of half the diagonal. */
static const double alike_share = 0.004;

/* Arcs of stars, and what they have in common. */
struct trails {
    struct arc_list arcs;
    bool *is_whole;
    struct arc_turn turn;
};

static void trails_free(struct trails *trails)
{
    arc_list_free(&trails->arcs);
    free(trails->is_whole);
}

static int find_trails(struct trails *trails, const struct frame *frame, struct error *err)
{
    int code = arcs_find(&trails->arcs, frame, err);
    trails->is_whole = malloc(((size_t)trails->arcs.count + 1) * sizeof *trails->is_whole);
    code = code ? code : trails->is_whole ? 0 : error_memory(err);
    return code ? code : arc_turn_find(&trails->turn, trails->is_whole, &trails->arcs, err);
}

static int search_list(struct solution *attempt, struct star_list *stars,
                       struct trail_search *search, struct error *err)
{
    struct effort *effort = calloc((size_t)search->indexes->count, sizeof *effort);
    int code = effort ? solve_list_among(attempt, search->indexes, effort, stars, SOLVE_OF_TRAILS,
                                         search->options, err)
                      : error_memory(err);
    for (int i = 0; effort && i < search->indexes->count; i++) {
        search->steps += effort[i].spent;
    }
    free(effort);
    return code;
}

/* By the middles of whole arcs. What is found must have arcs along its circles of declination,
 * whatever its stars say. */
static int search_middles(struct trail_search *search, const struct trails *trails)
{
    struct solution *attempt = &search->attempt;
    int code = arc_turn_stars(&search->stars, &trails->arcs, trails->is_whole, &search->err);
    code = code ? code : search_list(attempt, &search->stars, search, &search->err);
    if (!code && attempt->solved) {
        attempt->solved = arc_turn_seconds(&attempt->trails_s, &attempt->trails_error_s,
                                           &trails->arcs, trails->is_whole, &attempt->wcs);
    }
    return code;
}

/* Where the stars stood at one end of the exposure. */
struct end {
    struct solution solution;
    struct star_list stars;
    const struct index *index;
};

static void end_free(struct end *end)
{
    solution_free(&end->solution);
    star_list_free(&end->stars);
}

static int search_end(struct end *end, int side, struct trail_search *search,
                      const struct trails *trails)
{
    int code = arc_turn_end_stars(&end->stars, &trails->arcs, &trails->turn, side, &search->err);
    if (!code && end->stars.count >= LEAST_ENDS) {
        code = search_list(&end->solution, &end->stars, search, &search->err);
        end->index = search->indexes->which;
    }
    return code;
}

/* Both ends are of one sky that turned about the celestial pole: then by how much, and the error,
 * half of what stars' width adds. */
static bool find_turn(double *turn_deg, const struct end end[2])
{
    double apart_deg;
    if (!end[0].solution.solved || !end[1].solution.solved) {
        return false;
    }
    const struct wcs *wcs = &end[0].solution.wcs;
    *turn_deg = trail_ends_turn(&apart_deg, wcs, &end[1].solution.wcs);
    double half_deg = hypot(wcs->width, wcs->height) / 2 * wcs_scale_arcsec(wcs) / 3600;
    return apart_deg < alike_share * half_deg;
}

/* Takes over one end, turned to the middle of the exposure. */
static int take_end(struct trail_search *search, struct end *end, double turn_deg,
                    const struct trails *trails)
{
    double scale_deg = wcs_scale_arcsec(&end->solution.wcs) / 3600;
    solution_free(&search->attempt);
    star_list_free(&search->stars);
    search->attempt = end->solution;
    search->stars = end->stars;
    search->indexes->which = end->index;
    end->solution = (struct solution){0};
    end->stars = (struct star_list){0};
    /* As far apart as stars are wide, less. */
    double excess_deg = 0.9 * trails->arcs.error_px * scale_deg;
    search->attempt.trails_s = (fabs(turn_deg) - excess_deg) / SIDEREAL_DEG_S;
    search->attempt.trails_error_s = excess_deg / SIDEREAL_DEG_S;
    return trail_ends_shift(&search->attempt, &search->stars, turn_deg / 2, &search->err);
}

/* By their ends: of long arcs few are whole, but each star that was in the picture when the
 * exposure began, or when it ended, stood at an end then. */
static int search_ends(struct trail_search *search, const struct trails *trails)
{
    struct end end[2] = {{.index = NULL}, {.index = NULL}};
    double turn_deg;
    int code = search_end(&end[0], 0, search, trails);
    if (!code && end[0].solution.solved) {
        code = search_end(&end[1], 1, search, trails);
    }
    search->attempt.match_ms += end[0].solution.match_ms + end[1].solution.match_ms;
    search->attempt.fit_ms += end[0].solution.fit_ms + end[1].solution.fit_ms;
    if (!code && find_turn(&turn_deg, end)) {
        code = take_end(search, &end[0], turn_deg, trails);
    }
    end_free(&end[0]);
    end_free(&end[1]);
    return code;
}

static void say_why(struct solution *attempt, const struct trails *trails)
{
    snprintf(attempt->why, sizeof attempt->why,
             "%d arcs of stars found, but no pattern of their middles or ends is in the catalogue",
             trails->turn.square);
}

bool solve_trails(struct trail_search *search)
{
    struct trails trails = {0};
    double start = stopwatch_ms();
    search->looked = true;
    search->code = find_trails(&trails, search->frame, &search->err);
    search->detect_ms = stopwatch_ms() - start;
    search->plain = !search->code && arc_turn_is_plain(&trails.turn);
    if (!search->code && trails.turn.whole > 0) {
        search->code = search_middles(search, &trails);
    }
    if (!search->code && !search->attempt.solved && search->plain &&
        !solve_is_cancelled(search->options)) {
        search->code = search_ends(search, &trails);
    }
    if (search->plain && !search->attempt.solved) {
        say_why(&search->attempt, &trails);
    }
    trails_free(&trails);
    return search->code || search->attempt.solved || search->plain;
}
