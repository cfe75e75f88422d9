#include "match/pairs.h"

#include "base/median.h"
#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A pose has seven numbers: the brightest stars are enough for it. */
enum { MAX_CANDIDATES = 5000, POSE_CANDIDATES = 600, LEAST_COMPARED = 8, MOST_COMPARED = 60 };

/* A catalogue star this much brighter or fainter than the detected one is another star. */
static const double brightness_slack = 2.8;

/* Among the millions of pixels of a frame noise hardly ever comes so high. */
static const double sure_snr = 5.5;

/* Strangers that a search around one place may find on average. */
static const double strangers_allowed = 0.1;

static double median_zero(const struct index *index, const struct verdict *verdict)
{
    double zero[VERIFY_MAX_PAIRS];
    for (int i = 0; i < verdict->pairs; i++) {
        zero[i] = index->star[verdict->star[i]].mag / 1000.0 -
                  detections_rank_magnitude(verdict->detection[i]);
    }
    return median_of(zero, verdict->pairs);
}

/* Angle from the middle of the picture to its farthest corner, radians. */
static double picture_radius(double middle[3], const struct pose *pose,
                             const struct star_list *list)
{
    double radius = 0;
    const double centre[2] = {0, 0};
    pose_direction(middle, pose, centre);
    for (int i = 0; i < 4; i++) {
        double v[3];
        const double p[2] = {(i % 2 - 0.5) * list->width, (i / 2 - 0.5) * list->height};
        pose_direction(v, pose, p);
        radius = fmax(radius, vector_angle_deg(middle, v) * RAD_PER_DEG);
    }
    return radius;
}

int pair_finder_make(struct pair_finder *finder, const struct star_list *list,
                     const struct index *index, const struct verdict *verdict, bool mirrored,
                     struct error *err)
{
    struct pair_finder f = {.list = list, .index = index, .mirrored = mirrored};
    f.tree = star_tree_make(list);
    f.candidate = malloc(MAX_CANDIDATES * sizeof *f.candidate);
    f.pair = malloc(MAX_CANDIDATES * sizeof *f.pair);
    f.used = malloc((size_t)list->count * sizeof *f.used);
    f.length = malloc(MAX_CANDIDATES * sizeof *f.length);
    if (!f.tree || !f.candidate || !f.pair || !f.used || !f.length) {
        pair_finder_free(&f);
        return error_memory(err);
    }
    f.zero = median_zero(index, verdict);
    double middle[3], radius = picture_radius(middle, &verdict->pose, list);
    pair_finder_widen(&f, middle, fmin(PI, 1.15 * radius));
    *finder = f;
    return 0;
}

void pair_finder_widen(struct pair_finder *finder, const double middle[3], double radius)
{
    double faintest = finder->zero + detections_rank_magnitude(finder->list->count) + 1.5;
    int limit = (int)fmax(-30000, fmin(30000, faintest * 1000));
    finder->candidates =
        index_brightest(finder->candidate, MAX_CANDIDATES, finder->index, middle, radius, limit);
    finder->steps += 5L * (finder->list->count + finder->candidates);
}

void pair_finder_free(struct pair_finder *finder)
{
    star_tree_free(finder->tree);
    free(finder->candidate);
    free(finder->pair);
    free(finder->used);
    free(finder->length);
    *finder = (struct pair_finder){0};
}

void pair_to_pose(double p[2], const struct pair_finder *finder, double x, double y)
{
    double from_middle = x - 0.5 * (finder->list->width - 1);
    p[0] = finder->mirrored ? -from_middle : from_middle;
    p[1] = y - 0.5 * (finder->list->height - 1);
}

void pair_from_pose(double *x, double *y, const struct pair_finder *finder, const double p[2])
{
    *x = (finder->mirrored ? -p[0] : p[0]) + 0.5 * (finder->list->width - 1);
    *y = p[1] + 0.5 * (finder->list->height - 1);
}

void pairs_start(struct pair_finder *finder)
{
    finder->pairs = 0;
    memset(finder->used, 0, (size_t)finder->list->count * sizeof *finder->used);
}

static void pair_candidate(struct pair_finder *finder, uint32_t catalogue, const double v[3],
                           double x, double y, double reach)
{
    int star = star_tree_nearest(finder->tree, x, y, reach);
    if (star < 0 || finder->used[star]) {
        return;
    }
    double magnitude = finder->index->star[catalogue].mag / 1000.0;
    double seen = finder->zero + detections_rank_magnitude(star);
    if (fabs(magnitude - seen) > brightness_slack) {
        return;
    }
    struct pair *pair = &finder->pair[finder->pairs++];
    finder->used[star] = true;
    pair->catalogue = catalogue;
    pair->star = star;
    memcpy(pair->v, v, sizeof pair->v);
    pair->x = finder->list->star[star].x;
    pair->y = finder->list->star[star].y;
    pair->dx = pair->x - x;
    pair->dy = pair->y - y;
}

/* How many detected stars of comparable brightness (within 1.5 magnitudes) lie within reach of a
 * place where a star of this magnitude is looked for, by chance. */
static double strangers(const struct pair_finder *finder, uint32_t catalogue, double reach)
{
    double magnitude = finder->index->star[catalogue].mag / 1000.0 + 1.5;
    double rank = detections_magnitude_rank(magnitude - finder->zero) + 1;
    rank = fmin(rank, finder->list->count);
    return rank * PI * reach * reach / (finder->list->width * finder->list->height);
}

static bool is_crowded(const struct pair_finder *finder, uint32_t catalogue, double reach)
{
    return strangers(finder, catalogue, reach) > strangers_allowed;
}

/* How many detections are there for sure, within bounds: a list of the sky that holds few stars is
 * filled up with the peaks of the noise. */
static int count_sure(const struct star_list *list)
{
    int sure = 0;
    for (int i = 0; i < list->count && sure < MOST_COMPARED; i++) {
        sure += list->star[i].snr > sure_snr;
    }
    return sure > LEAST_COMPARED ? sure : LEAST_COMPARED;
}

double pairs_share(const struct pair_finder *finder, const struct wcs *wcs, double reach)
{
    int seen = 0, paired = 0;
    int most = count_sure(finder->list);
    double by_chance = 0;
    for (int i = 0; i < finder->candidates && seen < most; i++) {
        double v[3], x, y;
        index_star_vector(v, &finder->index->star[finder->candidate[i]]);
        if (!wcs_pixel(&x, &y, wcs, v) || !wcs_inside(wcs, x, y)) {
            continue;
        }
        seen++;
        by_chance += fmin(1, strangers(finder, finder->candidate[i], reach));
        for (int k = 0; k < finder->pairs; k++) {
            if (finder->pair[k].catalogue == finder->candidate[i]) {
                paired++;
                break;
            }
        }
    }
    return seen > by_chance ? (paired - by_chance) / (seen - by_chance) : 0;
}

void pairs_add(struct pair_finder *finder, uint32_t catalogue, const double v[3], double x,
               double y, double reach)
{
    if (!is_crowded(finder, catalogue, reach)) {
        pair_candidate(finder, catalogue, v, x, y, reach);
    }
}

void pairs_by_pose(struct pair_finder *finder, const struct pose *pose, double reach)
{
    pairs_start(finder);
    int candidates = finder->candidates < POSE_CANDIDATES ? finder->candidates : POSE_CANDIDATES;
    finder->steps += 4L * candidates;
    for (int i = 0; i < candidates; i++) {
        double v[3], p[2], jacobian[2][POSE_SIZE], spread[3], x, y;
        index_star_vector(v, &finder->index->star[finder->candidate[i]]);
        if (!pose_project(p, jacobian, pose, v)) {
            continue;
        }
        pose_spread(spread, pose, jacobian);
        double unknown = sqrt(spread[0] + spread[2]);
        pair_from_pose(&x, &y, finder, p);
        double farthest = reach + 3 * unknown;
        if (unknown < 0.01 * pose->half_diagonal &&
            !is_crowded(finder, finder->candidate[i], farthest)) {
            pair_candidate(finder, finder->candidate[i], v, x, y, farthest);
        }
    }
}

void pairs_by_wcs(struct pair_finder *finder, const struct wcs *wcs, double reach)
{
    pairs_start(finder);
    finder->steps += 6L * finder->candidates;
    for (int i = 0; i < finder->candidates; i++) {
        double v[3], x, y;
        index_star_vector(v, &finder->index->star[finder->candidate[i]]);
        if (!is_crowded(finder, finder->candidate[i], reach) && wcs_pixel(&x, &y, wcs, v)) {
            pair_candidate(finder, finder->candidate[i], v, x, y, reach);
        }
    }
}

double pairs_scale(const struct pair_finder *finder)
{
    if (finder->pairs == 0) {
        return 0;
    }
    for (int i = 0; i < finder->pairs; i++) {
        finder->length[i] = hypot(finder->pair[i].dx, finder->pair[i].dy);
    }
    double median = median_of(finder->length, finder->pairs);
    /* The median of a Rayleigh distribution is sqrt(2 ln 2) of its sigma. */
    return median / 1.1774100225154747;
}
