#include "match/fit.h"

#include "base/units.h"
#include "match/lens_fit.h"
#include "match/pairs.h"
#include "match/pose_fit.h"
#include "match/wcs_fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Enough to choose the order of the polynomials by. */
enum { SAMPLE_PAIRS = 500, MOST_ROUNDS = 8, LEAST_PAIRS = 4 };

/* Steps of match/effort.h: of a pair in the fit of a pose and in that of polynomials of one order,
 * and of turning a pose into polynomials. */
enum { POSE_STEPS = 10, ORDER_STEPS = 40, CAMERA_STEPS = 5000 };

/* Residuals beyond so many robust deviations belong to other stars. */
static const double cut = 4;
/* Centroids are hardly ever better than this, px. */
static const double least_scale = 0.05;
/* As many residuals as what is expected of centroids weighs as much as: pictures differ by about a
 * factor of two from it. */
static const double expected_weight = 2;

static double bounded(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* Residuals larger than this share of the half diagonal mean that strangers were paired. */
static const double most_scale = 0.001;

/* Scatter of the pairs about a fit with so many parameters, px. Few pairs are all but met by it:
 * what is left of them then tells little of how far off other stars may be, and the error expected
 * of the list's centroids counts. (Variance of a normal distribution with a scaled inverse
 * chi-squared prior: Gelman et al. 2013, Bayesian Data Analysis, 3rd edition, section 2.6.) */
static double fit_scale(const struct pair_finder *finder, int parameters, double half_diagonal)
{
    double scale = pairs_scale(finder), expected = detections_position_error(finder->list);
    double values = 2.0 * finder->pairs, freedom = fmax(values - parameters, 0);
    double variance = (expected_weight * expected * expected + values * scale * scale) /
                      (expected_weight + freedom);
    return bounded(sqrt(variance), least_scale, most_scale * half_diagonal);
}

/* As large as a lens may be off from its model, unless the picture is so small and crowded that
 * strangers lie within such a reach of most stars: then what pairs as many as are wanted, or most.
 */
static double first_scale(const struct pose *pose, struct pair_finder *finder, int wanted)
{
    double scale = 2 + 0.0005 * pose->half_diagonal, chosen = scale;
    int most = 0;
    for (; scale > least_scale && most < wanted; scale /= 2) {
        pairs_by_pose(finder, pose, cut * scale + 0.5);
        if (finder->pairs > most) {
            most = finder->pairs;
            chosen = scale;
        }
    }
    return chosen;
}

/* Alternates pairing and fitting while the reach shrinks to what the residuals ask and the region
 * grows to where the pose has become certain: what a few stars near each other cannot tell shows in
 * the pose's uncertainty elsewhere, and no star is paired there yet. */
static bool settle_pose(struct pose *pose, struct pair_finder *finder, int wanted,
                        const struct pose_prior *prior)
{
    double half = pose->half_diagonal, scale = first_scale(pose, finder, wanted);
    int settled = 0, before = 0;
    for (int round = 0; round < 20 && settled < 3; round++) {
        pairs_by_pose(finder, pose, cut * scale + 0.5);
        finder->steps += (long)POSE_STEPS * finder->pairs;
        if (finder->pairs < LEAST_PAIRS || !pose_fit(pose, finder, scale, prior)) {
            return false;
        }
        pairs_by_pose(finder, pose, cut * scale + 0.5);
        scale = fit_scale(finder, POSE_SIZE, half);
        settled = finder->pairs == before ? settled + 1 : 0;
        before = finder->pairs;
    }
    return finder->pairs >= LEAST_PAIRS;
}

/* Sum of squared residuals, those of other stars cut off. Infinite if a pair has no place. */
static double square_sum(const struct wcs *wcs, const struct pair_finder *finder, double scale)
{
    double sum = 0, most = cut * cut * scale * scale;
    for (int i = 0; i < finder->pairs; i++) {
        const struct pair *pair = &finder->pair[i];
        double x, y;
        if (!wcs_pixel(&x, &y, wcs, pair->v)) {
            return INFINITY;
        }
        double square = (pair->x - x) * (pair->x - x) + (pair->y - y) * (pair->y - y);
        sum += fmin(square, 2 * most);
    }
    return sum;
}

static double criterion(const struct wcs *wcs, const struct pair_finder *finder, double scale,
                        int parameters)
{
    double n = 2.0 * finder->pairs;
    double sum = square_sum(wcs, finder, scale) + n * least_scale * least_scale;
    return n * log(sum / n) + parameters * log(n);
}

/* Polynomials of one order on at most so many of the finder's pairs, evenly taken, reweighted a few
 * times (Cauchy). */
static bool fit_order(struct wcs *wcs, const struct pair_finder *finder, double scale, int order,
                      int most_pairs)
{
    struct wcs made = *wcs;
    struct sighting *sighting = malloc((size_t)finder->pairs * sizeof *sighting);
    bool good = sighting != NULL;
    int step = (finder->pairs + most_pairs - 1) / most_pairs;
    for (int round = 0; good && round < 3; round++) {
        int count = 0;
        for (int i = 0; i < finder->pairs; i += step) {
            const struct pair *pair = &finder->pair[i];
            double x = pair->x, y = pair->y;
            if (!wcs_pixel(&x, &y, &made, pair->v)) {
                x = pair->x + 100 * scale;
            }
            double q = hypot(pair->x - x, pair->y - y) / (2 * scale);
            sighting[count] =
                (struct sighting){.x = pair->x, .y = pair->y, .weight = 1 / (1 + q * q)};
            memcpy(sighting[count++].v, pair->v, sizeof pair->v);
        }
        good = wcs_fit(&made, sighting, count, order);
    }
    free(sighting);
    if (good) {
        *wcs = made;
    }
    return good;
}

/* Stars needed before a polynomial of this order is looked at: five for each of its terms, so that
 * it cannot swing where there are none. */
static int stars_wanted(int order)
{
    return 5 * (order + 1) * (order + 2) / 2;
}

/* Tangent point in the middle of the picture, unless the optical axis is clearly elsewhere. */
static void place_tangent(struct wcs *wcs, const struct wcs *camera)
{
    *wcs = *camera;
    double x = 0.5 * (wcs->width - 1), y = 0.5 * (wcs->height - 1);
    if (hypot(camera->x - x, camera->y - y) < 0.1 * hypot(wcs->width, wcs->height)) {
        wcs_radec(&wcs->ra_deg, &wcs->dec_deg, camera, x, y);
        wcs->x = x;
        wcs->y = y;
    }
}

/* A fit and what speaks for it. */
struct fit {
    struct wcs wcs;
    struct pose pose;        /* the camera model that it grew from */
    double scale;            /* robust deviation of its residuals, px */
    double share;            /* see pairs_share */
    bool by_lens;            /* wcs has the lens that was known, */
    enum known_lens_way way; /* pointed that way */
};

/* The camera models: without and with distortion and a free optical axis, and with a lens that is
 * known. */
struct cameras {
    struct wcs plain, bent;
    const struct pose *pose;       /* of bent */
    const struct known_lens *lens; /* NULL: it is not known */
};

/* Twice the logarithm of how much likelier than not a lens is still what it was: 400 (assumed). */
static const double lens_trust = 12;

/* The best of the camera models; returns its criterion. */
static double choose_camera(struct fit *fit, const struct cameras *cameras,
                            struct pair_finder *finder, double scale)
{
    double plain = criterion(&cameras->plain, finder, scale, 4);
    double bent = criterion(&cameras->bent, finder, scale, POSE_SIZE);
    double best = fmin(plain, bent);
    fit->wcs = bent < plain ? cameras->bent : cameras->plain;
    fit->by_lens = false;
    for (int way = 0; cameras->lens && way < KNOWN_LENS_WAYS; way++) {
        struct wcs known;
        finder->steps += (long)POSE_STEPS * finder->pairs;
        if (known_lens_fit(&known, cameras->lens, (enum known_lens_way)way, cameras->pose, finder,
                           scale)) {
            int numbers = known_lens_parameters((enum known_lens_way)way);
            double value = criterion(&known, finder, scale, numbers) - lens_trust;
            fit->by_lens = fit->by_lens || value < best;
            fit->way = value < best ? (enum known_lens_way)way : fit->way;
            fit->wcs = value < best ? known : fit->wcs;
            best = fmin(best, value);
        }
    }
    return best;
}

/* Chooses among the camera models and the polynomials up to the highest order; returns the order, 0
 * for a camera model. */
static int choose_model(struct fit *fit, const struct cameras *cameras, struct pair_finder *finder,
                        double scale)
{
    int chosen = 0;
    double best = choose_camera(fit, cameras, finder, scale);
    for (int order = 1; order <= WCS_FIT_MAX_ORDER && finder->pairs >= stars_wanted(order);
         order++) {
        struct wcs made;
        place_tangent(&made, &cameras->bent);
        finder->steps +=
            (long)ORDER_STEPS * (finder->pairs < SAMPLE_PAIRS ? finder->pairs : SAMPLE_PAIRS);
        if (!fit_order(&made, finder, scale, order, SAMPLE_PAIRS)) {
            continue;
        }
        double value = criterion(&made, finder, scale, (order + 1) * (order + 2));
        if (value < best) {
            best = value;
            chosen = order;
            fit->wcs = made;
            fit->by_lens = false;
        }
    }
    return chosen;
}

/* A better model finds stars that the one before missed, and these may justify a better one still:
 * a camera model fits a part of a piece from the edge of a wide picture only, and polynomials grow
 * from there. */
static void settle_wcs(struct fit *fit, struct pair_finder *finder, const struct cameras *cameras)
{
    struct wcs *wcs = &fit->wcs;
    double half = 0.5 * hypot(cameras->bent.width, cameras->bent.height);
    double scale = fit_scale(finder, POSE_SIZE, half), before = INFINITY;
    for (int round = 0; round < MOST_ROUNDS && scale < 0.95 * before; round++) {
        int order = choose_model(fit, cameras, finder, scale);
        int parameters = order > 0 ? (order + 1) * (order + 2) : POSE_SIZE;
        before = scale;
        for (int pass = 0; pass < 2; pass++) {
            if (pass > 0 && order == 0 && scale == before) {
                break; /* the same again */
            }
            pairs_by_wcs(finder, wcs, cut * scale + 0.5);
            scale = fit_scale(finder, parameters, half);
            if (order > 0 && pass == 0) {
                finder->steps += (long)ORDER_STEPS * finder->pairs;
                fit_order(wcs, finder, scale, order, finder->pairs);
            }
        }
    }
    fit->scale = scale;
    fit->share = pairs_share(finder, wcs, cut * scale + 0.5);
}

/* The camera models that fit the finder's pairs, from the pose that found them. */
static bool make_cameras(struct cameras *cameras, const struct pose *pose,
                         struct pair_finder *finder)
{
    finder->steps += CAMERA_STEPS;
    struct pose plain = *pose;
    const struct pose_prior none = {1e-7, 1e-4};
    double scale = fit_scale(finder, POSE_SIZE, pose->half_diagonal);
    plain.distortion = plain.x = plain.y = 0;
    if (!pose_fit(&plain, finder, scale, &none)) {
        plain = *pose;
    }
    return wcs_from_pose(&cameras->bent, pose, finder) &&
           wcs_from_pose(&cameras->plain, &plain, finder);
}

int fit_report_pairs(struct solution *solution, const struct pair_finder *finder)
{
    free(solution->pair);
    solution->pair = malloc((size_t)finder->pairs * sizeof *solution->pair);
    if (!solution->pair) {
        return ERROR_MEMORY;
    }
    double sum = 0;
    for (int i = 0; i < finder->pairs; i++) {
        const struct pair *pair = &finder->pair[i];
        solution->pair[i] =
            (struct match_pair){pair->star, (int)pair->catalogue, pair->dx, pair->dy};
        sum += pair->dx * pair->dx + pair->dy * pair->dy;
    }
    solution->matched = finder->pairs;
    solution->rms_px = sqrt(sum / finder->pairs);
    solution->rms_arcsec = solution->rms_px * wcs_scale_arcsec(&solution->wcs);
    return 0;
}

/* Whether the bright catalogue stars are where the fit says, as exactly as positions are known. The
 * fewer there are (cloud, trees, a shallow picture), the closer they have to be; when nearly all
 * are there, large residuals are the picture's own fault. */
static bool is_convincing(const struct fit *fit, double position_error)
{
    double errors = fit->scale / position_error;
    return fit->share > 0.7 || (fit->share > 0.5 && errors < 2.5) ||
           (fit->share > 0.25 && errors < 1.3);
}

static bool fit_from_pose(struct fit *fit, struct pair_finder *finder,
                          const struct verdict *verdict, const struct known_lens *lens,
                          const struct pose_prior *prior)
{
    struct pose pose = verdict->pose;
    struct cameras cameras = {.pose = &pose, .lens = lens};
    if (!settle_pose(&pose, finder, verdict->pairs / 2, prior) ||
        !make_cameras(&cameras, &pose, finder)) {
        return false;
    }
    double scale = fit_scale(finder, POSE_SIZE, pose.half_diagonal);
    if (pairs_share(finder, &cameras.bent, cut * scale + 0.5) < 0.1) {
        return false;
    }
    settle_wcs(fit, finder, &cameras);
    fit->pose = pose;
    return finder->pairs >= LEAST_PAIRS &&
           is_convincing(fit, detections_position_error(finder->list));
}

/* Where its optical axis may be: within the picture, as in a camera's own; anywhere, as in a piece
 * of a picture that is wide enough for it to matter. */
struct axis_range {
    bool middle, wide;
};

static struct axis_range axis_range(const struct pose *pose)
{
    double half = pose->half_diagonal;
    return (struct axis_range){hypot(pose->x, pose->y) < 0.3 * half,
                               half > FIT_LEAST_WIDE * pose->focal_px};
}

/* As a camera's picture first; as a piece of a wide picture, whose axis may be anywhere, if that
 * does not do or does it badly. */
static bool fit_either(struct fit *fit, struct pair_finder *finder, const struct verdict *verdict,
                       const struct known_lens *lens)
{
    const struct axis_range range = axis_range(&verdict->pose);
    double half = verdict->pose.half_diagonal;
    const struct pose_prior camera = {0.03, 0.03 * half}, piece = {0.003, 3 * half};
    double good = 1.15 * detections_position_error(finder->list);
    bool survives = range.middle && fit_from_pose(fit, finder, verdict, lens, &camera);
    if (!range.wide || (survives && fit->scale < good && fit->share > 0.5)) {
        return survives;
    }
    struct fit other;
    if (fit_from_pose(&other, finder, verdict, lens, &piece) &&
        (!survives || other.share / other.scale > fit->share / fit->scale)) {
        *fit = other;
        return true;
    }
    if (survives) {
        pairs_by_wcs(finder, &fit->wcs, cut * fit->scale + 0.5);
    }
    return survives;
}

bool fit_is_possible(const struct verdict *verdict)
{
    const struct axis_range range = axis_range(&verdict->pose);
    return range.middle || range.wide;
}

/* The corners, the middle, and the middles of the cells. */
enum { MIDDLE = 4, FIRST_CELL, PLACES = FIRST_CELL + SOLUTION_CELLS };

static void find_place(double *x, double *y, const struct wcs *wcs, int place)
{
    if (place < MIDDLE) {
        *x = place % 2 ? wcs->width - 0.5 : -0.5;
        *y = place / 2 ? wcs->height - 0.5 : -0.5;
    } else if (place == MIDDLE) {
        *x = 0.5 * (wcs->width - 1);
        *y = 0.5 * (wcs->height - 1);
    } else {
        int cell = place - FIRST_CELL;
        *x = (cell % SOLUTION_COLUMNS + 0.5) / SOLUTION_COLUMNS * wcs->width - 0.5;
        *y = (cell / SOLUTION_COLUMNS + 0.5) / SOLUTION_ROWS * wcs->height - 0.5;
    }
}

/* Where the WCS says that they point. */
static void find_places(struct lens_place place[PLACES], const struct wcs *wcs,
                        const struct pair_finder *finder)
{
    for (int i = 0; i < PLACES; i++) {
        double x, y, p[2];
        find_place(&x, &y, wcs, i);
        pair_to_pose(p, finder, x, y);
        place[i] = (struct lens_place){.x = p[0], .y = p[1], .error_px = NAN};
        wcs_direction(place[i].v, wcs, x, y);
    }
}

static void find_arms(struct lens_cross *cross, const struct wcs *wcs,
                      const struct pair_finder *finder)
{
    double off[4][2], middle[2], middle_x = 0.5 * (wcs->width - 1),
                                 middle_y = 0.5 * (wcs->height - 1);
    pair_to_pose(middle, finder, middle_x, middle_y);
    solution_cross(off, wcs);
    for (int i = 0; i < 4; i++) {
        const double p[2] = {middle[0] + off[i][0], middle[1] + off[i][1]};
        double x, y;
        cross->arm[i] = (struct lens_place){.x = p[0], .y = p[1]};
        pair_from_pose(&x, &y, finder, p);
        wcs_direction(cross->arm[i].v, wcs, x, y);
    }
}

/* By the pose's own covariance: what is left where there are too few stars to ask about the lens.
 */
static void doubt_by_pose(struct lens_place place[PLACES], struct lens_cross *cross,
                          const struct pose *pose)
{
    for (int i = 0; i <= MIDDLE; i++) {
        double p[2], jacobian[2][POSE_SIZE], spread[3];
        if (pose_project(p, jacobian, pose, place[i].v)) {
            pose_spread(spread, pose, jacobian);
            place[i].error_px = sqrt((spread[0] + spread[2]) / 2);
        }
    }
    cross->turn_error = sqrt(pose->covariance[2][2]);
    cross->scale_error = sqrt(pose->covariance[3][3]);
}

static void keep_errors(struct solution *solution, const struct lens_place place[PLACES],
                        const struct lens_cross *cross)
{
    solution->middle_error_px = place[MIDDLE].error_px;
    solution->corner_error_px = fmax(fmax(place[0].error_px, place[1].error_px),
                                     fmax(place[2].error_px, place[3].error_px));
    for (int i = 0; i < SOLUTION_CELLS; i++) {
        solution->cell_error_px[i] = place[FIRST_CELL + i].error_px;
    }
    solution->scale_error = cross->scale_error;
    solution->turn_error_deg = cross->turn_error * DEG_PER_RAD;
}

/* As seen through the air, where the fit was made so. */
static void see_places(struct lens_place *place, int places, const struct horizon *horizon)
{
    for (int i = 0; i < places; i++) {
        horizon_see(place[i].v, horizon, place[i].v, 0);
    }
}

/* How far off the middle and the corners may be: by the lens that is known, if it was taken, seen
 * as it was seen; else by what the stars leave open of any lens. */
static int find_errors(struct solution *solution, const struct fit *fit,
                       const struct pair_finder *finder, const struct known_lens *lens,
                       struct error *err)
{
    struct lens_place place[PLACES];
    struct lens_cross cross;
    struct lens_view view;
    struct lens_profile known;
    double half_px = 0.5 * hypot(fit->wcs.width, fit->wcs.height);
    const bool seen = fit->by_lens && fit->way == KNOWN_LENS_SEEN && lens->horizon;
    int code = known_lens_view(&view, &fit->pose, finder, err);
    if (code) {
        return code;
    }
    find_places(place, &fit->wcs, finder);
    find_arms(&cross, &fit->wcs, finder);
    view.stretches = !seen;
    if (seen) {
        lens_view_see(&view, lens->horizon);
        see_places(place, PLACES, lens->horizon);
        see_places(cross.arm, 4, lens->horizon);
    }
    if (fit->by_lens) {
        known = lens->profile;
        known.axis_x = finder->mirrored ? -known.axis_x : known.axis_x;
        half_px = known.radius * fit->pose.focal_px;
    }
    code = lens_fit_doubt(place, PLACES, &cross, &view, fit->by_lens ? &known : NULL, half_px, err);
    free(view.sighting);
    if (code == ERROR_NO) {
        doubt_by_pose(place, &cross, &fit->pose);
        code = 0;
    }
    keep_errors(solution, place, &cross);
    return code;
}

int fit_solution(struct solution *solution, const struct verdict *verdict, bool mirrored,
                 const struct star_list *list, const struct index *index,
                 const struct known_lens *lens, long *steps, struct error *err)
{
    struct pair_finder finder = {0};
    struct fit fit;
    int code = pair_finder_make(&finder, list, index, verdict, mirrored, err);
    if (code) {
        return code;
    }
    bool survives = fit_either(&fit, &finder, verdict, lens);
    if (survives) {
        solution->wcs = fit.wcs;
        solution->pose = fit.pose;
        solution->mirrored = mirrored;
        solution->by_lens = fit.by_lens;
        code = fit_report_pairs(solution, &finder)
                   ? error_memory(err)
                   : find_errors(solution, &fit, &finder, lens, err);
    } else {
        code = ERROR_NO;
    }
    if (steps) {
        *steps += finder.steps;
    }
    pair_finder_free(&finder);
    return code;
}
