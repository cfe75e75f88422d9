#include "match/solve.h"

#include "base/stopwatch.h"
#include "base/units.h"
#include "match/all_sky.h"
#include "match/arc_turn.h"
#include "match/curved_fit.h"
#include "match/fit.h"
#include "match/search.h"
#include "sky/vector.h"
#include "stars/frame_kind.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A true solution of a frame with few stars reaches 1e-6. Of 50,000 lists without one a few of city
 * lights reach 1e-10, since lamps do not lie by chance: it is the fit that refuses those. */
static const double default_accept = -6;

/* In place of a recipe: the list of the middles of arcs, whose steps are its own. */
enum { OF_TRAILS = DETECT_RECIPES };

/* Steps of match/effort.h after which the search of each recipe's list ends. What solves a frame
 * solves it with a small part of it. A sixth would keep every refusal within half a second, but
 * fisheyes, panoramas and skies side by side, of which only a part fits any camera here, are then
 * refused that so much solves in their middle. */
static const long effort_until[DETECT_RECIPES + 1] = {21600000, 26400000, 30000000, 33000000,
                                                      [OF_TRAILS] = 3000000};

long solve_effort_until(int recipe)
{
    return effort_until[recipe];
}

static double accepted_chance(const struct solve_options *options)
{
    return options->accept_log10 < 0 ? options->accept_log10 : default_accept;
}

/* A list that leaves so many wrong hypotheses behind is not worth more time; what a wrong hint left
 * behind does not count against the search without it. With a right scale fewer are wrong: none of
 * 1,000 narrow fields needed more than the smaller number before the last pass. */
static const long hypotheses_last = 40000, hypotheses_before = 15000;

static bool is_within(const struct wcs *wcs, const struct solve_options *options)
{
    if (!options->near_given || !options->strict) {
        return true;
    }
    double ra, dec;
    wcs_centre(wcs, &ra, &dec);
    return radec_angle_deg(ra, dec, options->near_ra_deg, options->near_dec_deg) <=
           options->within_deg;
}

/* What is needed to confirm a hypothesis by fitting it. */
struct confirm {
    struct solution *solution;
    const struct star_list *list;
    const struct index *index;
    const struct solve_options *options;
    struct effort *effort;
    struct error error; /* out of memory */
};

/* Where a plane does not fit, or not well, a fisheye or a panorama may. Returns as fit_solution. */
static int try_curved(struct confirm *c, const struct verdict *verdict, bool mirrored, int code)
{
    long left = c->effort->most - c->effort->spent;
    if (!curved_fit_is_possible(verdict, code == 0) || left < CURVED_FIT_STEPS) {
        return code;
    }
    int curved = curved_fit_solution(c->solution, verdict, mirrored, c->list, c->index,
                                     code == 0 ? c->solution : NULL, &c->effort->spent, &c->error);
    return curved == ERROR_MEMORY || curved == 0 ? curved : code;
}

static bool confirm_verdict(const struct verdict *verdict, bool mirrored, void *context)
{
    struct confirm *c = context;
    if (!fit_is_possible(verdict) || effort_was_failure(c->effort, verdict, mirrored, c->list)) {
        return false;
    }
    double start = stopwatch_ms();
    int code = fit_solution(c->solution, verdict, mirrored, c->list, c->index, c->options->lens,
                            &c->effort->spent, &c->error);
    if (code == 0 || code == ERROR_NO) {
        code = try_curved(c, verdict, mirrored, code);
    }
    c->solution->fit_ms += stopwatch_ms() - start;
    if (code == ERROR_NO) {
        effort_note_failure(c->effort, verdict, mirrored, c->list);
    }
    return code == ERROR_MEMORY || (code == 0 && is_within(&c->solution->wcs, c->options));
}

/* Both hands of a list, too large for the stack. */
struct hands {
    struct detections direct, mirrored;
};

static void set_options(struct search_options *search, const struct star_list *list,
                        const struct solve_options *options, bool with_hints)
{
    *search = (struct search_options){.near_cos = -2, .both_hands = true};
    double half = 0.5 * hypot(list->width, list->height);
    /* Lenses bend the corner by 2 % and are centred to 2 % of the picture, typically. */
    search->verify.prior = (struct pose_prior){0.02, 0.03 * half};
    search->verify.scale_low = 0.1;
    search->verify.scale_high = 7200;
    search->accept_log10 = accepted_chance(options);
    if (!with_hints) {
        return;
    }
    if (options->scale_arcsec > 0) {
        search->verify.scale_low = options->scale_arcsec / (1 + options->scale_tolerance);
        search->verify.scale_high = options->scale_arcsec * (1 + options->scale_tolerance);
    }
    if (options->near_given) {
        vector_from_radec(search->near, options->near_ra_deg, options->near_dec_deg);
        double reach = options->within_deg * RAD_PER_DEG + 0.1;
        search->near_cos = reach < PI ? cos(reach) : -2;
    }
}

static bool has_hints(const struct solve_options *options)
{
    return options->scale_arcsec > 0 || options->near_given;
}

static void try_expected(struct search_state *state, const struct hands *hands,
                         struct confirm *confirm)
{
    const struct solve_options *options = confirm->options;
    bool mirrored = options->expected_mirrored;
    verify_pose(&state->best, options->expected, mirrored ? &hands->mirrored : &hands->direct,
                confirm->index);
    state->best_mirrored = mirrored;
    state->hypotheses = 1;
    state->chance_log10 = -state->best.log_ratio / log(10);
    state->accepted = state->chance_log10 < accepted_chance(options) &&
                      confirm_verdict(&state->best, mirrored, confirm);
}

/* Tries what is expected, then runs the stages, with hints first and then without. Returns the
 * number of the stage that found it, from 1; 0 before them or if none did. */
static int search_all(struct search_state *state, const struct hands *hands,
                      struct confirm *confirm)
{
    const struct solve_options *options = confirm->options;
    struct search_options search;
    int stage = 0;
    if (options->expected) {
        try_expected(state, hands, confirm);
        if (state->accepted) {
            return 0;
        }
    }
    bool hinted = has_hints(options);
    struct effort *effort = confirm->effort;
    const long most = effort->most;
    int last = options->strict && hinted ? 0 : 1;
    for (int pass = hinted ? 0 : 1; pass <= last; pass++) {
        set_options(&search, confirm->list, options, pass == 0);
        search.most_hypotheses =
            state->hypotheses + (pass == last ? hypotheses_last : hypotheses_before);
        search.effort = effort;
        /* A wrong hint leaves half of it. */
        effort->most = pass == last ? most : effort->spent + (most - effort->spent) / 2;
        search.confirm = confirm_verdict;
        search.context = confirm;
        for (int i = 0; i < search_stage_count; i++) {
            stage++;
            search_stage(state, &search_stages[i], &hands->direct, &hands->mirrored, confirm->index,
                         &search);
            if (state->accepted) {
                return stage;
            }
        }
    }
    return 0;
}

/* Few stars may be all that a small camera sees of the whole sky. Returns the number of a stage
 * after those of the search if it is so, else what is given. */
static int try_all_sky(struct search_state *state, struct confirm *confirm, int stage)
{
    struct effort *effort = confirm->effort;
    const struct solve_options *options = confirm->options;
    if (state->accepted || effort->looked_all_sky || options->scale_arcsec > 0 ||
        !all_sky_is_possible(confirm->list)) {
        return stage;
    }
    double start = stopwatch_ms();
    effort->looked_all_sky = true;
    int code = all_sky_solve(confirm->solution, confirm->list, confirm->index,
                             accepted_chance(options), &effort->spent, &confirm->error);
    confirm->solution->fit_ms += stopwatch_ms() - start;
    if (code || !is_within(&confirm->solution->wcs, options)) {
        return stage;
    }
    state->accepted = true;
    state->chance_log10 = confirm->solution->chance_log10;
    state->hypotheses += 1;
    return (options->strict ? 1 : 2) * search_stage_count + 1;
}

static void say_why(struct solution *solution, const struct star_list *list,
                    const struct index *index, const struct solve_options *options,
                    const struct search_state *state)
{
    bool confined = options->strict && options->near_given;
    if (list->count < 4) {
        snprintf(solution->why, sizeof solution->why, "only %d star%s found; at least 4 are needed",
                 list->count, list->count == 1 ? "" : "s");
    } else if (list->count < 12) {
        snprintf(solution->why, sizeof solution->why,
                 "only %d stars found, and no pattern of them is in the catalogue", list->count);
    } else if (state->hypotheses > 0 && state->chance_log10 < accepted_chance(options)) {
        snprintf(solution->why, sizeof solution->why,
                 "%d stars found; a pattern of them fits, but %s", list->count,
                 confined ? "not where it must be by what was told, or not well enough"
                          : "too few of the stars that belong around it are there to be sure");
    } else if (state->hypotheses > 0 && state->chance_log10 < -2) {
        snprintf(solution->why, sizeof solution->why,
                 "%d stars found; the best match is too weak to be sure (chance 1e%.0f); the "
                 "catalogue (to magnitude %.1f) may be too shallow for this field",
                 list->count, state->chance_log10, index->facts.faintest);
    } else {
        snprintf(solution->why, sizeof solution->why,
                 "%d points of light found, but no pattern of them is in the catalogue: not a sky, "
                 "or too narrow a field for it",
                 list->count);
    }
}

/* Finds out where it holds. */
static int prove(struct solution *solution, const struct star_list *list, const struct index *index,
                 struct error *err)
{
    int *catalogue = malloc(2 * ((size_t)solution->matched + 1) * sizeof *catalogue);
    if (!catalogue) {
        return error_memory(err);
    }
    int *star = catalogue + solution->matched;
    for (int i = 0; i < solution->matched; i++) {
        catalogue[i] = solution->pair[i].catalogue;
        star[i] = solution->pair[i].star;
    }
    const struct trust_fit fit = {.wcs = &solution->wcs,
                                  .error_px = solution->rms_px / sqrt(2),
                                  .catalogue = catalogue,
                                  .star = star,
                                  .pairs = solution->matched,
                                  .doubt_px = solution->cell_error_px,
                                  .doubt_columns = SOLUTION_COLUMNS,
                                  .doubt_rows = SOLUTION_ROWS};
    int code = trust_find(&solution->trust, &fit, list, index, err);
    free(catalogue);
    return code;
}

static int solve_list(struct solution *solution, struct effort *effort,
                      const struct star_list *list, const struct index *index,
                      const struct solve_options *options, struct hands *hands, struct error *err)
{
    struct search_state *state = calloc(1, sizeof *state);
    if (!state) {
        return error_memory(err);
    }
    struct confirm confirm = {solution, list, index, options, effort, {0}};
    double start = stopwatch_ms();
    detections_make(&hands->direct, list);
    detections_mirror(&hands->mirrored, &hands->direct);
    solution->detected = list->count;
    solution->stage = search_all(state, hands, &confirm);
    solution->stage = try_all_sky(state, &confirm, solution->stage);
    solution->solved = state->accepted && confirm.error.code == 0;
    solution->hypotheses = state->hypotheses;
    solution->chance_log10 = state->hypotheses > 0 ? fmin(0, state->chance_log10) : 0;
    solution->match_ms = stopwatch_ms() - start - solution->fit_ms;
    if (!solution->solved) {
        say_why(solution, list, index, options, state);
    }
    free(state);
    if (confirm.error.code) {
        return error_memory(err);
    }
    return solution->solved ? prove(solution, list, index, err) : 0;
}

int solve_stars_within(struct solution *solution, struct effort *effort,
                       const struct star_list *list, const struct index *index,
                       const struct solve_options *options, struct error *err)
{
    struct hands *hands = malloc(sizeof *hands);
    if (!hands) {
        return error_memory(err);
    }
    int code = solve_list(solution, effort, list, index, options, hands, err);
    free(hands);
    return code;
}

int solve_stars(struct solution *solution, const struct star_list *list, const struct index *index,
                const struct solve_options *options, struct error *err)
{
    struct effort *effort = calloc(1, sizeof *effort);
    if (!effort) {
        return error_memory(err);
    }
    effort->most = solve_effort_until(0);
    int code = solve_stars_within(solution, effort, list, index, options, err);
    free(effort);
    return code;
}

/* Half of the stars are hardly larger than a pixel, in which case what looks like a hot pixel may
 * be a star. */
static bool is_undersampled(const struct star_list *list, const struct frame *frame)
{
    int small = 0;
    for (int i = 0; i < list->count; i++) {
        small += list->star[i].size < 1.0 * frame->luminance.bin;
    }
    return 2 * small > list->count;
}

/* Whether it cannot show stars: then no other recipe will find any. */
static bool is_hopeless(const struct solution *solution)
{
    return solution->looked && frame_kind_hopeless(solution->look.kind);
}

/* What the frame is says more than what is wrong with its stars. */
static void say_kind(struct solution *solution)
{
    char words[sizeof solution->why] = "";
    if (!solution->solved && solution->looked) {
        frame_look_words(words, sizeof words, &solution->look);
    }
    if (words[0]) {
        memcpy(solution->why, words, sizeof words);
    }
}

static bool is_cancelled(const struct solve_options *options)
{
    return options->cancelled && atomic_load(options->cancelled);
}

/* The first attempt stays until one solves. Takes over what is handed in. */
static void keep_attempt(struct solution *solution, struct star_list *list,
                         struct solution *attempt, struct star_list *stars, bool first)
{
    bool better = first || attempt->solved;
    solution_free(better ? solution : attempt);
    star_list_free(better ? list : stars);
    if (better) {
        *solution = *attempt;
        *list = *stars;
    }
}

/* One list, index after index until one solves it; attempt is empty before. */
static int try_indexes(struct solution *attempt, struct solve_indexes *indexes,
                       struct effort *effort, const struct star_list *stars, int recipe,
                       const struct solve_options *options, struct error *err)
{
    struct solve_options each = *options;
    int code = 0;
    each.accept_log10 =
        accepted_chance(options) - log10(DETECT_RECIPES) - log10((double)indexes->count);
    for (int i = 0; i < indexes->count && !code && !attempt->solved && !is_cancelled(options);
         i++) {
        struct solution one = {0};
        effort[i].most = solve_effort_until(recipe);
        code = solve_stars_within(&one, &effort[i], stars, indexes->index[i], &each, err);
        one.match_ms += attempt->match_ms;
        one.fit_ms += attempt->fit_ms;
        if (i == 0 || one.solved) {
            solution_free(attempt);
            *attempt = one;
        } else {
            attempt->match_ms = one.match_ms;
            attempt->fit_ms = one.fit_ms;
            solution_free(&one);
        }
        indexes->which = attempt->solved ? indexes->index[i] : indexes->index[0];
    }
    return code;
}

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

/* The middles of arcs, index after index. What is found must have arcs along its circles of
 * declination, whatever its stars say. */
static int search_trails(struct solution *attempt, struct star_list *stars,
                         struct solve_indexes *indexes, const struct trails *trails,
                         const struct solve_options *options, struct error *err)
{
    struct effort *effort = calloc((size_t)indexes->count, sizeof *effort);
    int code = effort ? arc_turn_stars(stars, &trails->arcs, trails->is_whole, err)
                      : error_memory(err);
    code = code ? code : try_indexes(attempt, indexes, effort, stars, OF_TRAILS, options, err);
    if (!code && attempt->solved) {
        attempt->solved = arc_turn_seconds(&attempt->trails_s, &attempt->trails_error_s,
                                           &trails->arcs, trails->is_whole, &attempt->wcs);
    }
    free(effort);
    return code;
}

/* Where stars are arcs: a list of its own, tried once, unless the frame is solved. */
static int try_trails(struct solution *solution, struct star_list *list, struct solve_times *times,
                      const struct frame *frame, struct solve_indexes *indexes,
                      const struct solve_options *options, struct error *err)
{
    struct trails trails = {0};
    struct solution attempt = {0};
    struct star_list stars = {0};
    double start = stopwatch_ms();
    if (solution->solved || is_cancelled(options)) {
        return 0;
    }
    int code = find_trails(&trails, frame, err);
    times->detect_ms += stopwatch_ms() - start;
    if (!code && trails.turn.whole > 0) {
        code = search_trails(&attempt, &stars, indexes, &trails, options, err);
        times->match_ms += attempt.match_ms;
        times->fit_ms += attempt.fit_ms;
    }
    keep_attempt(solution, list, &attempt, &stars, false);
    trails_free(&trails);
    return code;
}

int solve_frame(struct solution *solution, struct star_list *list, struct solve_times *times,
                const struct frame *frame, const struct index *index,
                const struct solve_options *options, struct error *err)
{
    struct solve_indexes alone = {.index = &index, .count = 1};
    return solve_frame_among(solution, list, times, frame, &alone, options, err);
}

int solve_frame_among(struct solution *solution, struct star_list *list, struct solve_times *times,
                      const struct frame *frame, struct solve_indexes *indexes,
                      const struct solve_options *options, struct error *err)
{
    *times = (struct solve_times){0};
    struct star_finder finder = {0};
    struct effort *effort = calloc((size_t)indexes->count, sizeof *effort);
    int code = effort ? 0 : error_memory(err);
    indexes->which = indexes->index[0];
    for (int recipe = 0; recipe < DETECT_RECIPES && !code && !solution->solved &&
                         !is_hopeless(solution) && !is_cancelled(options);
         recipe++) {
        if (recipe == DETECT_SHARP && !is_undersampled(list, frame)) {
            break;
        }
        const struct detect_options detect = {.recipe = (enum detect_recipe)recipe,
                                              .threads = options->threads};
        struct solution attempt = {0};
        struct star_list stars = {0};
        double start = stopwatch_ms();
        code = star_finder_list(&stars, &finder, frame, &detect, err);
        times->detect_ms += stopwatch_ms() - start;
        code = code ? code : try_indexes(&attempt, indexes, effort, &stars, recipe, options, err);
        /* What solves is a sky, however it looks. */
        if (!code && recipe == 0 && !attempt.solved) {
            code = frame_look_at(&attempt.look, frame, &stars, err);
            attempt.looked = !code;
        }
        times->match_ms += attempt.match_ms;
        times->fit_ms += attempt.fit_ms;
        keep_attempt(solution, list, &attempt, &stars, recipe == 0);
        code = code || recipe > 0
                   ? code
                   : try_trails(solution, list, times, frame, indexes, options, err);
    }
    free(effort);
    star_finder_free(&finder);
    say_kind(solution);
    solution->match_ms = times->match_ms;
    solution->fit_ms = times->fit_ms;
    return code;
}
