#include "match/solve.h"

#include "base/stopwatch.h"
#include "base/units.h"
#include "match/all_sky.h"
#include "match/curved_fit.h"
#include "match/fit.h"
#include "match/search.h"
#include "match/solve_parts.h"
#include "sky/vector.h"
#include "stars/frame_kind.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A true solution of a frame with few stars reaches 1e-6. Of 50,000 lists without one a few of city
 * lights reach 1e-10, since lamps do not lie by chance: it is the fit that refuses those. */
static const double default_accept = -6;

/* Steps of match/effort.h after which the search of each recipe's list ends. What solves a frame
 * solves it with a small part of it; but of skies 90 degrees wide, with stars of a pixel among
 * traces of compression, some take 13 million, and fisheyes, panoramas and skies side by side, of
 * which only a part fits any camera here, much of it. A fifth would keep every refusal within half
 * a second. */
static const long effort_until[DETECT_RECIPES + 1] = {21600000, 26400000, 30000000,
                                                      33000000, [SOLVE_OF_TRAILS] = 3000000};

/* After so many it is looked whether stars are arcs: most frames are solved before. */
static const long look_for_trails_at = 1000000;

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

/* A region is tried so often with lenses that do not draw straight lines straight. */
enum { MOST_CURVED = 2 };

/* Of match/effort.h, what a fit takes: none is begun when less is left. */
enum { FIT_STEPS = 200000 };

/* Where a plane does not fit, or not well, a fisheye or a panorama may. Returns as fit_solution. */
static int try_curved(struct confirm *c, const struct verdict *verdict, bool mirrored, int code)
{
    long left = c->effort->most - c->effort->spent;
    if (!curved_fit_is_possible(verdict, code == 0) || left < CURVED_FIT_STEPS ||
        effort_failures(c->effort, verdict, mirrored, c->list) >= MOST_CURVED) {
        return code;
    }
    int curved = curved_fit_solution(c->solution, verdict, mirrored, c->list, c->index,
                                     code == 0 ? c->solution : NULL, &c->effort->spent, &c->error);
    return curved == ERROR_MEMORY || curved == 0 ? curved : code;
}

static bool confirm_verdict(const struct verdict *verdict, bool mirrored, void *context)
{
    struct confirm *c = context;
    if (!fit_is_possible(verdict) || c->effort->most - c->effort->spent < FIT_STEPS ||
        effort_was_failure(c->effort, verdict, mirrored, c->list)) {
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
            if (!effort_goes_on(effort)) {
                return 0;
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
    if (state->accepted || effort->looked_all_sky || effort->is_over || options->scale_arcsec > 0 ||
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
    double start = stopwatch_ms(), paused = effort->pause_ms;
    detections_make(&hands->direct, list);
    detections_mirror(&hands->mirrored, &hands->direct);
    solution->detected = list->count;
    solution->stage = search_all(state, hands, &confirm);
    solution->stage = try_all_sky(state, &confirm, solution->stage);
    solution->solved = state->accepted && confirm.error.code == 0;
    solution->hypotheses = state->hypotheses;
    solution->chance_log10 = state->hypotheses > 0 ? fmin(0, state->chance_log10) : 0;
    solution->match_ms = stopwatch_ms() - start - solution->fit_ms - (effort->pause_ms - paused);
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

bool solve_is_cancelled(const struct solve_options *options)
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

int solve_list_among(struct solution *attempt, struct solve_indexes *indexes, struct effort *effort,
                     const struct star_list *stars, int recipe, const struct solve_options *options,
                     struct error *err)
{
    struct solve_options each = *options;
    int code = 0;
    each.accept_log10 =
        accepted_chance(options) - log10(DETECT_RECIPES) - log10((double)indexes->count);
    for (int i = 0; i < indexes->count && !code && !attempt->solved && !effort[0].is_over &&
                    !solve_is_cancelled(options);
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

int solve_frame(struct solution *solution, struct star_list *list, struct solve_times *times,
                const struct frame *frame, const struct index *index,
                const struct solve_options *options, struct error *err)
{
    struct solve_indexes alone = {.index = &index, .count = 1};
    return solve_frame_among(solution, list, times, frame, &alone, options, err);
}

static bool pause_for_trails(void *context)
{
    return solve_trails(context);
}

/* What a search needs that goes through the recipes. */
struct frame_search {
    struct solution *solution;
    struct star_list *list;
    struct solve_times *times;
    const struct frame *frame;
    struct solve_indexes *indexes;
    const struct solve_options *options;
    struct star_finder finder;
    struct effort *effort; /* of each index */
    struct trail_search trails;
    bool over;
};

static bool is_tried(const struct frame_search *s, int recipe)
{
    return recipe < DETECT_RECIPES && !s->over && !s->solution->solved &&
           !is_hopeless(s->solution) && !solve_is_cancelled(s->options) &&
           (recipe != DETECT_SHARP || is_undersampled(s->list, s->frame));
}

/* Takes over what arcs have led to. */
static int take_trails(struct frame_search *s)
{
    struct trail_search *t = &s->trails;
    if (!t->looked) {
        return 0;
    }
    s->over = t->attempt.solved || t->plain;
    s->times->detect_ms += t->detect_ms;
    s->times->match_ms += t->attempt.match_ms;
    s->times->fit_ms += t->attempt.fit_ms;
    if (!t->attempt.solved && t->attempt.why[0] && t->plain) {
        memcpy(s->solution->why, t->attempt.why, sizeof s->solution->why);
    }
    keep_attempt(s->solution, s->list, &t->attempt, &t->stars, false);
    t->attempt = (struct solution){0};
    t->stars = (struct star_list){0};
    return t->code;
}

static int try_recipe(struct frame_search *s, int recipe, struct error *err)
{
    const struct detect_options detect = {.recipe = (enum detect_recipe)recipe,
                                          .threads = s->options->threads};
    struct solution attempt = {0};
    struct star_list stars = {0};
    double start = stopwatch_ms();
    int code = star_finder_list(&stars, &s->finder, s->frame, &detect, err);
    s->times->detect_ms += stopwatch_ms() - start;
    code = code
               ? code
               : solve_list_among(&attempt, s->indexes, s->effort, &stars, recipe, s->options, err);
    /* What solves is a sky, however it looks. */
    if (!code && recipe == 0 && !attempt.solved) {
        code = frame_look_at(&attempt.look, s->frame, &stars, err);
        attempt.looked = !code;
    }
    s->times->match_ms += attempt.match_ms;
    s->times->fit_ms += attempt.fit_ms;
    keep_attempt(s->solution, s->list, &attempt, &stars, recipe == 0);
    return code;
}

/* The plain recipe, in which arcs are looked for when it takes long; else after it. */
static int try_recipes(struct frame_search *s, struct error *err)
{
    int code = 0;
    s->effort[0].pause = pause_for_trails;
    s->effort[0].context = &s->trails;
    s->effort[0].pause_at = look_for_trails_at;
    for (int recipe = 0; !code && is_tried(s, recipe); recipe++) {
        code = try_recipe(s, recipe, err);
        if (!code && recipe == 0) {
            if (!s->trails.looked && !s->solution->solved && !solve_is_cancelled(s->options)) {
                solve_trails(&s->trails);
            }
            code = take_trails(s);
        }
        s->effort[0].pause = NULL;
    }
    return code == ERROR_MEMORY ? error_memory(err) : code;
}

int solve_frame_among(struct solution *solution, struct star_list *list, struct solve_times *times,
                      const struct frame *frame, struct solve_indexes *indexes,
                      const struct solve_options *options, struct error *err)
{
    struct frame_search search = {
        .solution = solution,
        .list = list,
        .times = times,
        .frame = frame,
        .indexes = indexes,
        .options = options,
        .trails = {.frame = frame, .indexes = indexes, .options = options}};
    *times = (struct solve_times){0};
    search.effort = calloc((size_t)indexes->count, sizeof *search.effort);
    indexes->which = indexes->index[0];
    int code = search.effort ? try_recipes(&search, err) : error_memory(err);
    for (int i = 0; search.effort && i < indexes->count; i++) {
        times->steps += search.effort[i].spent;
    }
    times->steps += search.trails.steps;
    free(search.effort);
    star_finder_free(&search.finder);
    solution_free(&search.trails.attempt);
    star_list_free(&search.trails.stars);
    say_kind(solution);
    solution->match_ms = times->match_ms;
    solution->fit_ms = times->fit_ms;
    return code;
}
