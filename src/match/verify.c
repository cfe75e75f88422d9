#include "match/verify.h"

#include "base/median.h"
#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

enum { NEAR_STARS = 14, FIELD_STARS = 160 };

/* Steps of match/effort.h. */
enum { QUAD_STEPS = 80, STAR_STEPS = 4, LISTING_STEPS = 60 };

static const double share_found = 0.72; /* of bright catalogue stars that are detected */
static const double share_exact = 0.75; /* of those, at the expected place and brightness; the
                                           rest three times as far off */
static const double magnitude_error = 0.45;
static const double axis_off_px = 0.25;  /* how well a supposed axis off the middle is known,
                                            in half diagonals */
static const double give_up_near = -2.2; /* log ratio lost to the quad's own neighbours */
static const double give_up = -6;        /* log ratio lost since the quad */

struct verify {
    const struct detections *list;
    const struct index *index;
    struct verdict *out;
    double ratio, best;         /* logarithms */
    double zero, zero_variance; /* catalogue magnitude minus rank magnitude, as known so far */
    bool used[DETECTIONS_LIMIT];
    uint32_t near[INDEX_MAX_NEIGHBOURS]; /* the anchor's neighbours */
};

static double gauss1(double d, double variance)
{
    return exp(-0.5 * d * d / variance) / sqrt(2 * PI * variance);
}

/* Density of a two-dimensional normal distribution with covariance s = (xx, xy, yy). */
static double gauss2(const double d[2], const double s[3])
{
    double det = s[0] * s[2] - s[1] * s[1];
    double q = (s[2] * d[0] * d[0] - 2 * s[1] * d[0] * d[1] + s[0] * d[1] * d[1]) / det;
    return exp(-0.5 * q) / (2 * PI * sqrt(det));
}

/* Expected place scatter: the pose's own spread and the detection's, with a wide share for blends,
 * odd star shapes and lens errors that a radial term cannot describe. */
static double place_density(const double d[2], const double spread[3], double sigma)
{
    double s2 = sigma * sigma;
    double core[3] = {spread[0] + s2, spread[1], spread[2] + s2};
    double wide[3] = {4 * spread[0] + 16 * s2, 4 * spread[1], 4 * spread[2] + 16 * s2};
    return share_exact * gauss2(d, core) + (1 - share_exact) * gauss2(d, wide);
}

static double brightness_density(double difference, double variance)
{
    double core = magnitude_error * magnitude_error;
    return share_exact * gauss1(difference, core + variance) +
           (1 - share_exact) * gauss1(difference, 9 * core + variance);
}

/* What lies around a predicted place. */
struct lookup {
    const struct verify *v;
    double place[2], spread[3];
    double magnitude; /* of the catalogue star */
    double sum;       /* of likelihood ratios of all detections there */
    double best_ratio;
    const struct detection *best;
};

static void weigh_detection(const struct detection *d, void *context)
{
    struct lookup *l = context;
    const struct verify *v = l->v;
    if (v->used[d->rank]) {
        return;
    }
    double offset[2] = {d->x - l->place[0], d->y - l->place[1]};
    double by_place = place_density(offset, l->spread, v->list->sigma);
    double by_brightness = brightness_density(
        l->magnitude - detections_rank_magnitude(d->rank) - v->zero, v->zero_variance);
    double area = v->list->width * v->list->height;
    double by_chance = DETECTIONS_COUNTS_SLOPE * (d->rank + 0.5) / area * d->crowd;
    double ratio = by_place * by_brightness / by_chance;
    l->sum += ratio;
    if (ratio > l->best_ratio) {
        l->best_ratio = ratio;
        l->best = d;
    }
}

/* Share of catalogue stars of this magnitude that a right pose would find detected: less towards
 * the faint end of the detections. Negative when they are too faint to be looked for. */
static double expected_share(const struct verify *v, double magnitude)
{
    double rank = detections_magnitude_rank(magnitude - v->zero);
    double depth = rank / v->list->count;
    if (depth > 4) {
        return -1;
    }
    if (depth < 0.3) {
        return share_found;
    }
    return share_found * fmax(0.05, 1 - (depth - 0.3) / 1.2);
}

static void take_pair(struct verify *v, uint32_t star, int detection)
{
    struct verdict *out = v->out;
    v->used[detection] = true;
    if (out->pairs < VERIFY_MAX_PAIRS) {
        out->star[out->pairs] = star;
        out->detection[out->pairs] = detection;
        out->pairs++;
    }
}

static void learn_brightness(struct verify *v, double magnitude, int rank)
{
    double difference = magnitude - detections_rank_magnitude(rank) - v->zero;
    if (fabs(difference) > 2.5) {
        return;
    }
    double gain = v->zero_variance / (v->zero_variance + 0.5);
    v->zero += gain * difference;
    v->zero_variance *= 1 - gain;
}

static bool in_picture(const struct verify *v, const double p[2], double margin)
{
    return fabs(p[0]) < 0.5 * v->list->width - margin &&
           fabs(p[1]) < 0.5 * v->list->height - margin;
}

/* Tests one catalogue star. False when stars of this brightness are too faint to go on. */
static bool test_star(struct verify *v, uint32_t star)
{
    struct pose *pose = &v->out->pose;
    double jacobian[2][POSE_SIZE], direction[3];
    struct lookup l = {.v = v, .magnitude = v->index->star[star].mag / 1000.0};
    double share = expected_share(v, l.magnitude);
    if (share < 0) {
        return false;
    }
    v->out->steps += STAR_STEPS;
    index_star_vector(direction, &v->index->star[star]);
    if (!pose_project(l.place, jacobian, pose, direction)) {
        return true;
    }
    pose_spread(l.spread, pose, jacobian);
    double widest = sqrt(l.spread[0] + l.spread[2]);
    if (widest > 0.02 * v->list->half_diagonal ||
        !in_picture(v, l.place, 2 * (widest + v->list->sigma))) {
        return true;
    }
    detections_near(v->list, l.place[0], l.place[1], 4 * widest + 8 * v->list->sigma,
                    weigh_detection, &l);
    v->ratio += log(1 - share + share * l.sum);
    v->best = fmax(v->best, v->ratio);
    v->out->tested++;
    if (l.best && share * l.best_ratio > 4 * (1 - share + share * (l.sum - l.best_ratio))) {
        double residual[2] = {l.best->x - l.place[0], l.best->y - l.place[1]};
        pose_update(pose, jacobian, residual, v->list->sigma * v->list->sigma);
        learn_brightness(v, l.magnitude, l.best->rank);
        take_pair(v, star, l.best->rank);
    }
    return true;
}

static bool is_quad_star(const struct hypothesis *h, uint32_t star)
{
    return star == h->star[0] || star == h->star[1] || star == h->star[2] || star == h->star[3];
}

static bool contains(const uint32_t *list, int count, uint32_t star)
{
    for (int i = 0; i < count; i++) {
        if (list[i] == star) {
            return true;
        }
    }
    return false;
}

/* The anchor's other neighbours: at hand without a search, enough to find out most wrong ones. */
static bool test_neighbours(struct verify *v, const struct hypothesis *h)
{
    double start = v->ratio;
    for (int i = 0; i < v->index->neighbours; i++) {
        v->near[i] = index_neighbour(v->index, h->anchor, i + 1);
        if (v->near[i] != INDEX_NO_STAR && !is_quad_star(h, v->near[i])) {
            test_star(v, v->near[i]);
        }
    }
    return v->ratio > start + give_up_near;
}

/* h may be NULL: no quad led here. */
static bool was_tested(const struct verify *v, const struct hypothesis *h, uint32_t star)
{
    return h != NULL && (is_quad_star(h, star) || contains(v->near, v->index->neighbours, star));
}

/* The brightest stars around the quad: there the pose is known best. */
static void test_surroundings(struct verify *v, const struct hypothesis *h, uint32_t *tested,
                              int *count)
{
    double a[3], b[3], middle[3];
    index_star_vector(a, &v->index->star[h->star[0]]);
    index_star_vector(b, &v->index->star[h->star[1]]);
    for (int i = 0; i < 3; i++) {
        middle[i] = a[i] + b[i];
    }
    vector_normalise(middle);
    double radius = fmin(1, vector_angle_deg(a, b) * RAD_PER_DEG), start = v->ratio;
    v->out->steps += LISTING_STEPS;
    *count = index_brightest(tested, NEAR_STARS, v->index, middle, radius, INT16_MAX);
    for (int i = 0; i < *count && v->ratio > start + give_up; i++) {
        if (!was_tested(v, h, tested[i]) && !test_star(v, tested[i])) {
            break;
        }
    }
}

/* The brightest stars that the pose has in the picture or just beside it, brightest first. */
static int list_field(uint32_t field[FIELD_STARS], const struct verify *v)
{
    double corner[2] = {0.5 * v->list->width, 0.5 * v->list->height}, centre[2] = {0, 0};
    double to_centre[3], to_corner[3];
    pose_direction(to_centre, &v->out->pose, centre);
    pose_direction(to_corner, &v->out->pose, corner);
    v->out->steps += 4L * LISTING_STEPS;
    double radius = 1.05 * vector_angle_deg(to_centre, to_corner) * RAD_PER_DEG;
    return index_brightest(field, FIELD_STARS, v->index, to_centre, radius, INT16_MAX);
}

static void test_picture(struct verify *v, const struct hypothesis *h, const uint32_t *tested,
                         int tested_count)
{
    uint32_t field[FIELD_STARS];
    int count = list_field(field, v);
    double start = v->ratio;
    for (int i = 0; i < count && v->ratio > start + 2 * give_up; i++) {
        if (!was_tested(v, h, field[i]) && !contains(tested, tested_count, field[i]) &&
            !test_star(v, field[i])) {
            break;
        }
    }
}

static void test_sequence(struct verify *v, const struct hypothesis *h)
{
    uint32_t tested[NEAR_STARS];
    int count;
    double start = v->ratio;
    if (!test_neighbours(v, h)) {
        return;
    }
    test_surroundings(v, h, tested, &count);
    if (v->best >= start + 1) {
        test_picture(v, h, tested, count);
    }
}

/* Takes in the quad itself. A and B only set the pose; that C and D lie closer to their places than
 * the tolerance of the shape asked counts as evidence. */
static bool take_quad(struct verify *v, const struct hypothesis *h,
                      const struct verify_options *options)
{
    struct pose *pose = &v->out->pose;
    double direction[4][3], place[4][2], density = 1;
    for (int i = 0; i < 4; i++) {
        index_star_vector(direction[i], &v->index->star[h->star[i]]);
        place[i][0] = v->list->d[h->detection[i]].x;
        place[i][1] = v->list->d[h->detection[i]].y;
    }
    struct pose_prior prior = options->prior;
    if (h->axis.angle > 0) {
        prior.axis_px = axis_off_px * v->list->half_diagonal;
    }
    if (!pose_from_two(pose, direction, place, v->list->half_diagonal, &h->axis, &prior)) {
        return false;
    }
    double scale = ARCSEC_PER_RAD / pose->focal_px;
    if (scale < options->scale_low || scale > options->scale_high) {
        return false;
    }
    double length = hypot(place[0][0] - place[1][0], place[0][1] - place[1][1]);
    for (int i = 0; i < 4; i++) {
        double predicted[2], jacobian[2][POSE_SIZE], spread[3];
        if (!pose_project(predicted, jacobian, pose, direction[i])) {
            return false;
        }
        double residual[2] = {place[i][0] - predicted[0], place[i][1] - predicted[1]};
        if (i >= 2) {
            pose_spread(spread, pose, jacobian);
            density *= place_density(residual, spread, v->list->sigma);
        }
        pose_update(pose, jacobian, residual, v->list->sigma * v->list->sigma);
        take_pair(v, h->star[i], h->detection[i]);
    }
    /* Under chance C and D are anywhere in the four-dimensional ball of the tolerance. */
    double ball = 0.5 * PI * PI * pow(h->tolerance * length, 4);
    v->ratio = v->best = fmin(12, log(density * ball));
    return true;
}

static void start_brightness(struct verify *v, const struct hypothesis *h)
{
    double sum = 0;
    for (int i = 0; i < 4; i++) {
        sum += v->index->star[h->star[i]].mag / 1000.0 - detections_rank_magnitude(h->detection[i]);
    }
    v->zero = sum / 4;
    v->zero_variance = 0.3;
}

bool verify_hypothesis(struct verdict *verdict, const struct hypothesis *hypothesis,
                       const struct detections *list, const struct index *index,
                       const struct verify_options *options)
{
    struct verify v = {.list = list, .index = index, .out = verdict};
    verdict->pairs = verdict->tested = 0;
    verdict->steps = QUAD_STEPS;
    if (!take_quad(&v, hypothesis, options)) {
        return false;
    }
    start_brightness(&v, hypothesis);
    test_sequence(&v, hypothesis);
    verdict->log_ratio = v.best;
    return true;
}

/* Which magnitude the brightest detection has: the brightest of the picture's catalogue stars are
 * taken for the brightest detections, without a look at where those are. */
static void expect_brightness(struct verify *v)
{
    enum { COMPARED = 9 };
    uint32_t field[FIELD_STARS];
    double difference[COMPARED], place[2];
    int found = 0, count = list_field(field, v);
    for (int i = 0; i < count && found < COMPARED; i++) {
        double direction[3];
        index_star_vector(direction, &v->index->star[field[i]]);
        if (pose_project(place, NULL, &v->out->pose, direction) && in_picture(v, place, 0)) {
            difference[found] =
                v->index->star[field[i]].mag / 1000.0 - detections_rank_magnitude(found);
            found++;
        }
    }
    v->zero = found > 0 ? median_of(difference, found) : 0;
    v->zero_variance = 1;
}

void verify_pose(struct verdict *verdict, const struct pose *pose, const struct detections *list,
                 const struct index *index)
{
    struct verify v = {.list = list, .index = index, .out = verdict};
    verdict->pairs = verdict->tested = 0;
    verdict->steps = 0;
    verdict->pose = *pose;
    expect_brightness(&v);
    test_picture(&v, NULL, NULL, 0);
    verdict->log_ratio = v.best;
}
