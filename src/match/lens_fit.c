#include "match/lens_fit.h"

#include "base/least_squares.h"
#include "base/median.h"
#include "match/lens_fit_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Stars of like error, so many groups where there are enough of them for each. */
enum { GROUPS = 4, GROUP_STARS = 20, LEAST_STARS = 8 };
/* Steps with weights that fall slowly, then with those too far off left out, then of what is kept.
 */
enum { SOFT_ROUNDS = 6, HARD_ROUNDS = 4, LAST_ROUNDS = 3 };

static const double cut = 4;
/* Standard deviation over median length, of a normal distribution in x and y: sqrt(2 ln 2). */
static const double median_length = 1.1774100225154747;
/* No star is placed better, px: weights stay finite where stars are perfect. */
static const double least_deviation = 0.002;
/* By chance alone residuals are not so much smaller than their median says. */
static const double least_inflation = 0.25;
/* What lenses are like before a star was seen: standard deviations of the terms and of the axis. */
static const double usual[LENS_COMMON] = {0.03, 0.01, 0.003, 0.02, 0.02};

struct common {
    double normal[LENS_COMMON][LENS_COMMON], right[LENS_COMMON];
};

/* A view's own unknowns follow from the lens's: free - by * common. */
struct own {
    bool known; /* stars of it are left */
    double free[LENS_OWN], by[LENS_OWN][LENS_COMMON];
    double inverse[LENS_OWN][LENS_OWN];
};

/* How one sighting stands. */
struct standing {
    double length; /* of its miss, px; < 0: it has no place */
    double weight;
    int group, star; /* star: counted from 0 without gaps */
};

struct fitting {
    struct lens_view *view;
    int views, sightings, used, stars;
    double half_px;
    struct lens_profile profile;
    struct own *own;
    struct standing *standing; /* of the sightings, view by view */
    double *room;              /* as many */
    double deviation[GROUPS];
    bool hard;
    struct common common;
};

static bool is_used(const struct lens_view *view)
{
    return view->count >= LEAST_STARS;
}

static double *common_value(struct lens_profile *profile, int i)
{
    return i < LENS_TERMS    ? &profile->term[i]
           : i == LENS_TERMS ? &profile->axis_x
                             : &profile->axis_y;
}

static int parameters(const struct fitting *f, int common)
{
    int own = 0;
    for (int i = 0; i < f->views; i++) {
        own += !is_used(&f->view[i]) ? 0 : f->view[i].stretches ? LENS_OWN : LENS_TURNS;
    }
    return own + common;
}

/* How far each star of the views that are used misses its place. */
static void measure(struct fitting *f)
{
    int n = 0;
    for (int i = 0; i < f->views; i++) {
        const struct lens_view *view = &f->view[i];
        for (int k = 0; is_used(view) && k < view->count; k++, n++) {
            struct lens_rows rows;
            bool there = lens_rows(&rows, view, &f->profile, f->half_px, &view->sighting[k]);
            f->standing[n].length = there ? hypot(rows.miss[0], rows.miss[1]) : -1;
        }
    }
}

/* How far stars of each group are off, by the median, with what the unknowns take from it. */
static void find_deviations(struct fitting *f)
{
    double taken = sqrt(fmax(0.1, 1 - parameters(f, LENS_COMMON) / (2.0 * f->sightings)));
    for (int group = 0; group < GROUPS; group++) {
        int n = 0;
        for (int i = 0; i < f->sightings; i++) {
            if (f->standing[i].group == group && f->standing[i].length >= 0) {
                f->room[n++] = f->standing[i].length;
            }
        }
        f->deviation[group] =
            fmax(least_deviation, (n ? median_of(f->room, n) : 0) / median_length / taken);
    }
}

static void find_weights(struct fitting *f)
{
    f->used = 0;
    for (int i = 0; i < f->sightings; i++) {
        struct standing *s = &f->standing[i];
        double deviation = f->deviation[s->group], q = s->length / deviation;
        double soft = 1 / (1 + 0.25 * q * q);
        s->weight = s->length < 0 ? 0 : (f->hard ? q < cut : soft) / (deviation * deviation);
        f->used += s->weight > 0;
    }
}

/* Takes a view's own unknowns out of its equations and adds what they say of the lens. */
static bool eliminate(struct common *common, struct own *own, const struct least_squares *all)
{
    struct least_squares mine;
    double free[LENS_OWN];
    least_squares_start(&mine, LENS_OWN);
    for (int i = 0; i < LENS_OWN; i++) {
        mine.right[i] = all->right[i];
        memcpy(mine.normal[i], all->normal[i], sizeof(double[LENS_OWN]));
    }
    if (!least_squares_solve(free, &own->inverse[0][0], &mine)) {
        return false;
    }
    memcpy(own->free, free, sizeof free);
    for (int k = 0; k < LENS_COMMON; k++) {
        const double *with = all->normal[LENS_OWN + k];
        for (int i = 0; i < LENS_OWN; i++) {
            own->by[i][k] = 0;
            for (int j = 0; j < LENS_OWN; j++) {
                own->by[i][k] += own->inverse[i][j] * with[j];
            }
        }
    }
    for (int k = 0; k < LENS_COMMON; k++) {
        const double *with = all->normal[LENS_OWN + k];
        common->right[k] += all->right[LENS_OWN + k];
        for (int j = 0; j < LENS_OWN; j++) {
            common->right[k] -= with[j] * free[j];
        }
        for (int m = 0; m < LENS_COMMON; m++) {
            common->normal[k][m] +=
                m <= k ? with[LENS_OWN + m] : all->normal[LENS_OWN + m][LENS_OWN + k];
            for (int j = 0; j < LENS_OWN; j++) {
                common->normal[k][m] -= with[j] * own->by[j][m];
            }
        }
    }
    return true;
}

/* The equations of the lens alone, about where all stands now, with what is usual. */
static bool gather(struct fitting *f)
{
    struct least_squares all;
    int n = 0, known = 0;
    memset(&f->common, 0, sizeof f->common);
    for (int i = 0; i < f->views; i++) {
        const struct lens_view *view = &f->view[i];
        if (!is_used(view)) {
            continue;
        }
        least_squares_start(&all, LENS_ALL);
        for (int k = 0; k < view->count; k++, n++) {
            struct lens_rows rows;
            double weight = f->standing[n].weight;
            if (weight > 0 && lens_rows(&rows, view, &f->profile, f->half_px, &view->sighting[k])) {
                least_squares_add(&all, rows.row[0], rows.miss[0], weight);
                least_squares_add(&all, rows.row[1], rows.miss[1], weight);
            }
        }
        lens_expect_stretch(&all, view);
        f->own[i].known = eliminate(&f->common, &f->own[i], &all);
        known += f->own[i].known;
    }
    for (int k = 0; k < LENS_COMMON; k++) {
        double sure = 1 / (usual[k] * usual[k]);
        f->common.normal[k][k] += sure;
        f->common.right[k] -= sure * *common_value(&f->profile, k);
    }
    return known > 0;
}

/* Solves for the unknowns of the mask, the others held; covariance (may be NULL): LENS_COMMON rows,
 * zero where they are held. */
static bool solve_masked(double step[LENS_COMMON], double (*covariance)[LENS_COMMON],
                         const struct common *common, unsigned mask)
{
    struct least_squares ls;
    int chosen[LENS_COMMON], n = 0;
    double found[LENS_COMMON], inverse[LENS_COMMON * LENS_COMMON];
    for (int k = 0; k < LENS_COMMON; k++) {
        if (mask >> k & 1) {
            chosen[n++] = k;
        }
    }
    memset(step, 0, sizeof(double[LENS_COMMON]));
    if (covariance) {
        memset(covariance, 0, sizeof(double[LENS_COMMON][LENS_COMMON]));
    }
    least_squares_start(&ls, n);
    for (int i = 0; i < n; i++) {
        ls.right[i] = common->right[chosen[i]];
        for (int j = 0; j <= i; j++) {
            ls.normal[i][j] = common->normal[chosen[i]][chosen[j]];
        }
    }
    if (n > 0 && !least_squares_solve(found, inverse, &ls)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        step[chosen[i]] = found[i];
        for (int j = 0; covariance && j < n; j++) {
            covariance[chosen[i]][chosen[j]] = inverse[i * n + j];
        }
    }
    return true;
}

static void move(struct fitting *f, const double step[LENS_COMMON])
{
    for (int k = 0; k < LENS_COMMON; k++) {
        *common_value(&f->profile, k) += step[k];
    }
    for (int i = 0; i < f->views; i++) {
        double mine[LENS_OWN];
        for (int j = 0; j < LENS_OWN; j++) {
            mine[j] = f->own[i].free[j];
            for (int k = 0; k < LENS_COMMON; k++) {
                mine[j] -= f->own[i].by[j][k] * step[k];
            }
        }
        if (f->own[i].known) {
            lens_move_view(&f->view[i], mine);
        }
    }
}

/* Some steps of Gauss and Newton; weights are found anew before each unless they are to stay. */
static bool descend(struct fitting *f, unsigned mask, int rounds, bool weights_stay)
{
    for (int round = 0; round < rounds; round++) {
        double step[LENS_COMMON];
        measure(f);
        if (!weights_stay) {
            find_deviations(f);
            find_weights(f);
        }
        if (!gather(f) || !solve_masked(step, NULL, &f->common, mask)) {
            return false;
        }
        move(f, step);
    }
    measure(f);
    return isfinite(f->profile.term[0]);
}

static double weighted_square_sum(const struct fitting *f)
{
    double sum = 0;
    for (int i = 0; i < f->sightings; i++) {
        const struct standing *s = &f->standing[i];
        sum += s->weight > 0 ? s->weight * s->length * s->length : 0;
    }
    return sum;
}

/* What each star says of the lens, summed over frames. */
static void add_scores(double (*star)[LENS_COMMON], struct fitting *f)
{
    int n = 0;
    for (int i = 0; i < f->views; i++) {
        const struct lens_view *view = &f->view[i];
        for (int s = 0; is_used(view) && s < view->count; s++, n++) {
            struct lens_rows rows;
            const struct standing *standing = &f->standing[n];
            if (!(standing->weight > 0) ||
                !lens_rows(&rows, view, &f->profile, f->half_px, &view->sighting[s])) {
                continue;
            }
            for (int k = 0; k < 2 * LENS_COMMON; k++) {
                double along = rows.row[k % 2][LENS_OWN + k / 2];
                for (int j = 0; j < LENS_OWN; j++) {
                    along -= rows.row[k % 2][j] * f->own[i].by[j][k / 2];
                }
                star[standing->star][k / 2] += standing->weight * along * rows.miss[k % 2];
            }
        }
    }
}

/* By how much variances are larger than residuals that know nothing of each other would make them:
 * the mean over all directions, 1 at least. */
static int find_inflation(double *inflation, struct fitting *f,
                          double covariance[LENS_COMMON][LENS_COMMON], struct error *err)
{
    double(*star)[LENS_COMMON] = calloc((size_t)f->stars + 1, sizeof *star), trace = 0;
    if (!star) {
        return error_memory(err);
    }
    add_scores(star, f);
    for (int i = 0; i < f->stars; i++) {
        for (int k = 0; k < LENS_COMMON; k++) {
            for (int m = 0; m < LENS_COMMON; m++) {
                trace += star[i][k] * star[i][m] * covariance[k][m];
            }
        }
    }
    free(star);
    double values = 2.0 * f->used, freedom = values - parameters(f, LENS_COMMON);
    double by_chance = weighted_square_sum(f) / freedom;
    for (int k = 0; k < LENS_COMMON; k++) { /* what is usual knows nothing of stars */
        trace += by_chance * covariance[k][k] / (usual[k] * usual[k]) * freedom / values;
    }
    by_chance = fmax(by_chance, least_inflation);
    *inflation = fmax(by_chance, trace / LENS_COMMON * values / freedom);
    return 0;
}

static unsigned mask_of(int terms, bool axis)
{
    const unsigned both = 3;
    return ((1U << terms) - 1) | (axis ? both << LENS_TERMS : 0);
}

/* A lens with some values held at 0: how well it does, and what it says. */
struct candidate {
    int terms;
    bool has_axis;
    double criterion, corner, variance; /* corner: d(1) */
    double value[LENS_COMMON], covariance[LENS_COMMON][LENS_COMMON];
};

enum { CANDIDATES = 2 * (LENS_TERMS + 1) };

/* ln of the determinant of the equations of the mask, less that of what is usual: by how much the
 * stars have narrowed what was believed. */
static double narrowing(const struct common *common, unsigned mask)
{
    double m[LENS_COMMON][LENS_COMMON], sum = 0;
    memcpy(m, common->normal, sizeof m);
    for (int k = 0; k < LENS_COMMON; k++) {
        if (!(mask >> k & 1)) {
            continue;
        }
        sum += log(m[k][k] * usual[k] * usual[k]);
        for (int i = k + 1; i < LENS_COMMON; i++) {
            double share = m[i][k] / m[k][k];
            for (int j = k + 1; j < LENS_COMMON; j++) {
                m[i][j] -= share * m[k][j];
            }
        }
    }
    return sum;
}

/* The best values of the mask follow from those of all, whose equations these are: right is normal
 * times all. Criterion: -2 ln of the evidence, but for what all candidates share. */
static bool try_candidate(struct candidate *candidate, const struct common *about_zero)
{
    double met = 0;
    unsigned mask = mask_of(candidate->terms, candidate->has_axis);
    if (!solve_masked(candidate->value, candidate->covariance, about_zero, mask)) {
        return false;
    }
    candidate->corner = candidate->variance = 0;
    for (int i = 0; i < LENS_COMMON; i++) {
        met += candidate->value[i] * about_zero->right[i];
        candidate->corner += i < LENS_TERMS ? candidate->value[i] : 0;
        for (int j = 0; i < LENS_TERMS && j < LENS_TERMS; j++) {
            candidate->variance += candidate->covariance[i][j];
        }
    }
    candidate->criterion = narrowing(about_zero, mask) - met;
    return true;
}

/* The variance about what the best says, over all candidates by their weights. */
static double mean_variance(const struct candidate *candidate, int count,
                            const struct candidate *best)
{
    double sum = 0, weights = 0;
    for (int i = 0; i < count; i++) {
        double weight = exp((best->criterion - candidate[i].criterion) / 2);
        double off = candidate[i].corner - best->corner;
        sum += weight * (candidate[i].variance + off * off);
        weights += weight;
    }
    return sum / weights;
}

/* The equations with variances as they are, about a lens without distortion. */
static void move_to_zero(struct common *about_zero, const struct fitting *f, double inflation)
{
    struct lens_profile profile = f->profile;
    for (int i = 0; i < LENS_COMMON; i++) {
        about_zero->right[i] = 0;
        for (int j = 0; j < LENS_COMMON; j++) {
            double sure = i == j ? 1 / (usual[i] * usual[i]) : 0;
            about_zero->normal[i][j] = (f->common.normal[i][j] - sure) / inflation + sure;
            about_zero->right[i] += about_zero->normal[i][j] * *common_value(&profile, j);
        }
    }
}

struct choice {
    struct candidate candidate[CANDIDATES];
    int count;
    const struct candidate *best;
    double inflation;
};

static bool choose(struct choice *choice, const struct fitting *f)
{
    struct common about_zero;
    struct candidate *candidate = choice->candidate;
    move_to_zero(&about_zero, f, choice->inflation);
    choice->count = 0;
    choice->best = NULL;
    for (int i = 0; i < CANDIDATES; i++) {
        struct candidate *next = &candidate[choice->count];
        *next = (struct candidate){.terms = i / 2, .has_axis = i % 2};
        choice->count += try_candidate(next, &about_zero);
    }
    for (int i = 0; i < choice->count; i++) {
        const struct candidate *best = choice->best;
        choice->best = best && best->criterion <= candidate[i].criterion ? best : &candidate[i];
    }
    return choice->best != NULL;
}

static void take_choice(struct lens_lesson *lesson, const struct choice *choice)
{
    const struct candidate *best = choice->best;
    lesson->terms = best->terms;
    lesson->has_axis = best->has_axis;
    lesson->profile.error = sqrt(mean_variance(choice->candidate, choice->count, best));
    for (int i = 0; i < choice->count; i++) { /* the same with an axis, if it has none */
        const struct candidate *candidate = &choice->candidate[i];
        if (candidate->terms == best->terms && candidate->has_axis) {
            double across = candidate->covariance[LENS_TERMS][LENS_TERMS];
            double along = candidate->covariance[LENS_TERMS + 1][LENS_TERMS + 1];
            lesson->profile.axis_error = sqrt(fmax(across, along));
        }
    }
}

static void describe(struct lens_lesson *lesson, const struct fitting *f)
{
    double sum = 0;
    int n = 0;
    lesson->stars = f->used;
    lesson->left_out = f->sightings - f->used;
    for (int i = 0; i < f->views; i++) {
        const struct lens_view *view = &f->view[i];
        if (!is_used(view)) {
            continue;
        }
        lesson->frames += f->own[i].known;
        lesson->focal_px += f->own[i].known ? view->pose.focal_px : 0;
        for (int k = 0; k < view->count; k++, n++) {
            const struct standing *s = &f->standing[n];
            double x = view->sighting[k].x / f->half_px - f->profile.axis_x;
            double y = view->sighting[k].y / f->half_px - f->profile.axis_y;
            if (s->weight > 0) {
                sum += s->length * s->length;
                lesson->farthest = fmax(lesson->farthest, hypot(x, y));
            }
        }
    }
    lesson->focal_px /= lesson->frames;
    lesson->rms_px = sqrt(sum / f->used);
    lesson->profile.radius = f->half_px / lesson->focal_px;
}

/* All unknowns by all stars, and what is to be made of them. */
static int weigh(struct choice *choice, struct fitting *f, struct error *err)
{
    double step[LENS_COMMON], covariance[LENS_COMMON][LENS_COMMON];
    const unsigned all = mask_of(LENS_TERMS, true);
    bool good = descend(f, all, SOFT_ROUNDS, false);
    f->hard = true;
    good = good && descend(f, all, HARD_ROUNDS, false);
    if (!good || 2 * f->used <= parameters(f, LENS_COMMON) ||
        !solve_masked(step, covariance, &f->common, all)) {
        return ERROR_NO;
    }
    int code = find_inflation(&choice->inflation, f, covariance, err);
    return code ? code : choose(choice, f) ? 0 : ERROR_NO;
}

/* Leaves of all unknowns those of the best candidate. */
static bool settle(struct fitting *f, const struct candidate *best)
{
    unsigned kept = mask_of(best->terms, best->has_axis);
    for (int k = 0; k < LENS_COMMON; k++) {
        *common_value(&f->profile, k) *= kept >> k & 1;
    }
    return descend(f, kept, LAST_ROUNDS, true);
}

static int learn(struct lens_lesson *lesson, struct fitting *f, struct error *err)
{
    struct choice choice = {.inflation = 1};
    int code = weigh(&choice, f, err);
    if (code) {
        return code;
    }
    take_choice(lesson, &choice);
    if (!settle(f, choice.best)) {
        return ERROR_NO;
    }
    f->profile.error = lesson->profile.error;
    f->profile.axis_error = lesson->profile.axis_error;
    lesson->profile = f->profile;
    describe(lesson, f);
    return lens_profile_is_sound(&lesson->profile) ? 0 : ERROR_NO;
}

struct star_place {
    uint32_t star;
    int place;
};

static int compare_stars(const void *left, const void *right)
{
    const struct star_place *a = left, *b = right;
    return (a->star > b->star) - (a->star < b->star);
}

/* Numbers the stars without gaps. */
static int number_stars(struct fitting *f, struct error *err)
{
    struct star_place *list = malloc(((size_t)f->sightings + 1) * sizeof *list);
    int n = 0;
    if (!list) {
        return error_memory(err);
    }
    for (int i = 0; i < f->views; i++) {
        for (int k = 0; is_used(&f->view[i]) && k < f->view[i].count; k++, n++) {
            list[n] = (struct star_place){f->view[i].sighting[k].star, n};
        }
    }
    qsort(list, (size_t)n, sizeof *list, compare_stars);
    for (int i = 0; i < n; i++) {
        f->stars += i > 0 && list[i].star != list[i - 1].star;
        f->standing[list[i].place].star = f->stars;
    }
    f->stars++;
    free(list);
    return 0;
}

/* Puts the sightings into groups of like error. */
static void group_stars(struct fitting *f)
{
    double level[GROUPS];
    int groups = f->sightings >= GROUPS * GROUP_STARS ? GROUPS : 1, n = 0;
    for (int g = 0; g < groups - 1; g++) {
        for (int i = n = 0; i < f->views; i++) {
            for (int k = 0; is_used(&f->view[i]) && k < f->view[i].count; k++) {
                f->room[n++] = f->view[i].sighting[k].error;
            }
        }
        level[g] = median_quantile(f->room, n, (g + 1.0) / groups);
    }
    for (int i = n = 0; i < f->views; i++) {
        for (int k = 0; is_used(&f->view[i]) && k < f->view[i].count; k++, n++) {
            int g = 0;
            while (g < groups - 1 && f->view[i].sighting[k].error > level[g]) {
                g++;
            }
            f->standing[n].group = g;
        }
    }
}

static void finish(struct fitting *f)
{
    free(f->own);
    free(f->standing);
    free(f->room);
}

/* ERROR_NO if no view is of use. To be finished in each case. */
static int start(struct fitting *f, struct lens_view *view, int views, double half_px,
                 struct error *err)
{
    *f = (struct fitting){.view = view, .views = views, .half_px = half_px};
    f->profile.radius = 1;
    for (int i = 0; i < views; i++) {
        f->sightings += is_used(&view[i]) ? view[i].count : 0;
    }
    if (f->sightings == 0) {
        return ERROR_NO;
    }
    f->own = calloc((size_t)views, sizeof *f->own);
    f->standing = calloc((size_t)f->sightings, sizeof *f->standing);
    f->room = malloc((size_t)f->sightings * sizeof *f->room);
    int code = f->own && f->standing && f->room ? number_stars(f, err) : error_memory(err);
    if (!code) {
        group_stars(f);
    }
    return code;
}

int lens_fit(struct lens_lesson *lesson, struct lens_view *view, int views, double half_px,
             struct error *err)
{
    struct fitting f;
    *lesson = (struct lens_lesson){0};
    int code = start(&f, view, views, half_px, err);
    code = code ? code : learn(lesson, &f, err);
    finish(&f);
    return code;
}

/* Attitude, focal length and stretch alone, the lens being what it is said to be. */
static int hold(struct choice *choice, struct fitting *f, const struct lens_profile *known)
{
    f->profile = *known;
    bool good = descend(f, 0, SOFT_ROUNDS, false);
    f->hard = true;
    good = good && descend(f, 0, HARD_ROUNDS, false);
    double freedom = 2.0 * f->used - parameters(f, 0);
    if (!good || freedom <= 0) {
        return ERROR_NO;
    }
    choice->inflation = fmax(least_inflation, weighted_square_sum(f) / freedom);
    choice->count = 1;
    choice->best = &choice->candidate[0];
    return 0;
}

/* Variance of one coordinate, px^2: of the view's own unknowns, and of the lens by all candidates
 * about the best. */
static double variance_of_row(const double row[LENS_ALL], const struct own *own,
                              const struct choice *choice)
{
    double by_lens[LENS_COMMON], variance = 0, sum = 0, weights = 0;
    for (int i = 0; i < LENS_OWN; i++) {
        for (int j = 0; j < LENS_OWN; j++) {
            variance += choice->inflation * row[i] * own->inverse[i][j] * row[j];
        }
    }
    for (int k = 0; k < LENS_COMMON; k++) {
        by_lens[k] = row[LENS_OWN + k];
        for (int j = 0; j < LENS_OWN; j++) {
            by_lens[k] -= row[j] * own->by[j][k];
        }
    }
    for (int c = 0; c < choice->count; c++) {
        const struct candidate *candidate = &choice->candidate[c], *best = choice->best;
        double weight = exp((best->criterion - candidate->criterion) / 2), off = 0, own_error = 0;
        for (int k = 0; k < LENS_COMMON; k++) {
            off += by_lens[k] * (candidate->value[k] - best->value[k]);
            for (int m = 0; m < LENS_COMMON; m++) {
                own_error += by_lens[k] * candidate->covariance[k][m] * by_lens[m];
            }
        }
        sum += weight * (own_error + off * off);
        weights += weight;
    }
    return variance + sum / weights;
}

static void doubt(struct lens_place *place, const struct fitting *f, const struct choice *choice,
                  const struct lens_profile *known)
{
    const struct lens_sighting at = {
        .x = place->x, .y = place->y, .v = {place->v[0], place->v[1], place->v[2]}};
    struct lens_rows rows;
    double away = hypot(place->x, place->y), square = 0;
    place->error_px = NAN;
    if (!lens_rows(&rows, &f->view[0], &f->profile, f->half_px, &at)) {
        return;
    }
    for (int i = 0; i < 2; i++) {
        double variance = variance_of_row(rows.row[i], &f->own[0], choice);
        square += (variance + rows.miss[i] * rows.miss[i]) / 2;
    }
    double of_lens = known ? known->error * away * pow(away / f->half_px, 2) : 0;
    place->error_px = sqrt(square + of_lens * of_lens / 2);
}

/* Half of the difference of two rows over the distance of their places: adds it to a row. */
static void add_slope(double row[LENS_ALL], double *miss, const struct lens_rows *to,
                      const struct lens_rows *from, int coordinate, double distance)
{
    for (int k = 0; k < LENS_ALL; k++) {
        row[k] += (to->row[coordinate][k] - from->row[coordinate][k]) / (2 * distance);
    }
    *miss += (to->miss[coordinate] - from->miss[coordinate]) / (2 * distance);
}

static void doubt_cross(struct lens_cross *cross, const struct fitting *f,
                        const struct choice *choice)
{
    struct lens_rows rows[4];
    double grow[LENS_ALL] = {0}, turn[LENS_ALL] = {0}, grows = 0, turns = 0;
    const struct lens_place *arm = cross->arm;
    for (int i = 0; i < 4; i++) {
        const struct lens_sighting at = {
            .x = arm[i].x, .y = arm[i].y, .v = {arm[i].v[0], arm[i].v[1], arm[i].v[2]}};
        if (!lens_rows(&rows[i], &f->view[0], &f->profile, f->half_px, &at)) {
            return;
        }
    }
    double across = arm[0].x - arm[1].x, along = arm[2].y - arm[3].y;
    add_slope(grow, &grows, &rows[0], &rows[1], 0, across);
    add_slope(grow, &grows, &rows[2], &rows[3], 1, along);
    add_slope(turn, &turns, &rows[0], &rows[1], 1, across);
    add_slope(turn, &turns, &rows[2], &rows[3], 0, -along);
    cross->scale_error = sqrt(variance_of_row(grow, &f->own[0], choice) + grows * grows);
    cross->turn_error = sqrt(variance_of_row(turn, &f->own[0], choice) + turns * turns);
}

int lens_fit_doubt(struct lens_place *place, int places, struct lens_cross *cross,
                   struct lens_view *view, const struct lens_profile *known, double half_px,
                   struct error *err)
{
    struct fitting f;
    struct choice choice = {.inflation = 1};
    int code = start(&f, view, 1, half_px, err);
    if (!code && known) {
        code = hold(&choice, &f, known);
    } else if (!code) {
        code = weigh(&choice, &f, err);
        code = code || settle(&f, choice.best) ? code : ERROR_NO;
    }
    for (int i = 0; !code && i < places; i++) {
        doubt(&place[i], &f, &choice, known);
    }
    if (cross) {
        cross->scale_error = cross->turn_error = NAN;
    }
    if (cross && !code) {
        doubt_cross(cross, &f, &choice);
    }
    finish(&f);
    return code;
}
