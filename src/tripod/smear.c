#include "tripod/smear.h"

#include "base/least_squares.h"
#include "sky/vector.h"
#include "tripod/ground.h"

#include <math.h>

/* Cells of the picture; their middles are fitted, its rim is only looked at. */
enum { ACROSS = 24, ALONG = 16, MOST_STARS = (2 * ACROSS + 1) * (2 * ALONG + 1) };
enum { LEAST_STARS = 40, MOST_TERMS = 8 };

/* The same stars in two frames: from the middle of the picture, in halves of its diagonal. */
struct twins {
    double from[MOST_STARS][2], to[MOST_STARS][2];
    double weight[MOST_STARS]; /* in the fit: 0 or 1 */
    int stars;
    double fitted; /* the sum of weights */
    double unit_px;
};

const char *smear_fit_word(enum smear_fit fit)
{
    static const char *const words[] = {"shift + rotation", "affine", "homography"};
    return words[fit];
}

static void add_star(struct twins *twins, const struct wcs *wcs, const struct ground *ground,
                     double later_s, double right, double down, double weight)
{
    double x = -0.5 + right * wcs->width, y = -0.5 + down * wcs->height, x2, y2, v[3];
    wcs_direction(v, wcs, x, y);
    ground_from_sky(v, ground, v, later_s);
    if (!wcs_pixel(&x2, &y2, wcs, v) || !wcs_inside(wcs, x2, y2)) {
        return;
    }
    double *from = twins->from[twins->stars], *to = twins->to[twins->stars];
    from[0] = (x - wcs->width / 2.0) / twins->unit_px;
    from[1] = (y - wcs->height / 2.0) / twins->unit_px;
    to[0] = (x2 - wcs->width / 2.0) / twins->unit_px;
    to[1] = (y2 - wcs->height / 2.0) / twins->unit_px;
    twins->weight[twins->stars++] = weight;
    twins->fitted += weight;
}

static void find_twins(struct twins *twins, const struct wcs *wcs, const struct ground *ground,
                       double later_s)
{
    twins->stars = 0;
    twins->fitted = 0;
    twins->unit_px = hypot(wcs->width, wcs->height) / 2;
    for (int i = 0; i <= 2 * ACROSS; i++) {
        for (int k = 0; k <= 2 * ALONG; k++) {
            bool middle = i % 2 && k % 2;
            bool rim = i == 0 || k == 0 || i == 2 * ACROSS || k == 2 * ALONG;
            if (middle || rim) {
                add_star(twins, wcs, ground, later_s, (double)i / (2 * ACROSS),
                         (double)k / (2 * ALONG), middle);
            }
        }
    }
}

/* Best shift and rotation: about the means, by the angle whose tangent is the sum of the cross over
 * that of the dot products. */
static double worst_turn(const struct twins *twins)
{
    double mean[4] = {0}, dot = 0, cross = 0, worst = 0;
    for (int i = 0; i < twins->stars; i++) {
        for (int k = 0; k < 2; k++) {
            mean[k] += twins->weight[i] * twins->from[i][k] / twins->fitted;
            mean[2 + k] += twins->weight[i] * twins->to[i][k] / twins->fitted;
        }
    }
    for (int round = 0; round < 2; round++) {
        double angle = atan2(cross, dot), c = cos(angle), s = sin(angle);
        for (int i = 0; i < twins->stars; i++) {
            double x = twins->from[i][0] - mean[0], y = twins->from[i][1] - mean[1];
            double x2 = twins->to[i][0] - mean[2], y2 = twins->to[i][1] - mean[3];
            if (round == 0) {
                dot += twins->weight[i] * (x * x2 + y * y2);
                cross += twins->weight[i] * (x * y2 - y * x2);
            } else {
                worst = fmax(worst, hypot(x2 - (c * x - s * y), y2 - (s * x + c * y)));
            }
        }
    }
    return worst * twins->unit_px;
}

/* The map x' = (a x + b y + c) / (g x + h y + 1), y' likewise with d, e, f; g = h = 0: affine. */
static void map_star(double out[2], const double *m, const double from[2])
{
    double below = m[6] * from[0] + m[7] * from[1] + 1;
    out[0] = (m[0] * from[0] + m[1] * from[1] + m[2]) / below;
    out[1] = (m[3] * from[0] + m[4] * from[1] + m[5]) / below;
}

/* One step of Gauss and Newton. */
static bool improve(double *m, const struct twins *twins, int terms)
{
    struct least_squares ls = {.n = terms};
    double step[MOST_TERMS];
    for (int i = 0; i < twins->stars; i++) {
        double x = twins->from[i][0], y = twins->from[i][1], at[2];
        if (!(twins->weight[i] > 0)) {
            continue;
        }
        double below = m[6] * x + m[7] * y + 1;
        map_star(at, m, twins->from[i]);
        double right[MOST_TERMS] = {x / below, y / below, 1 / below,          0,
                                    0,         0,         -at[0] * x / below, -at[0] * y / below};
        double down[MOST_TERMS] = {
            0, 0, 0, x / below, y / below, 1 / below, -at[1] * x / below, -at[1] * y / below};
        least_squares_add(&ls, right, twins->to[i][0] - at[0], twins->weight[i]);
        least_squares_add(&ls, down, twins->to[i][1] - at[1], twins->weight[i]);
    }
    if (!least_squares_solve(step, NULL, &ls)) {
        return false;
    }
    for (int i = 0; i < terms; i++) {
        m[i] += step[i];
    }
    return true;
}

static double worst_map(const struct twins *twins, int terms)
{
    double m[MOST_TERMS] = {1, 0, 0, 0, 1, 0, 0, 0}, worst = 0;
    enum { STEPS = 4 };
    for (int i = 0; i < STEPS; i++) {
        if (!improve(m, twins, terms)) {
            return INFINITY;
        }
    }
    for (int i = 0; i < twins->stars; i++) {
        double at[2];
        map_star(at, m, twins->from[i]);
        worst = fmax(worst, hypot(twins->to[i][0] - at[0], twins->to[i][1] - at[1]));
    }
    return worst * twins->unit_px;
}

static double worst_of(const struct twins *twins, enum smear_fit fit)
{
    return fit == SMEAR_TURN ? worst_turn(twins) : worst_map(twins, fit == SMEAR_AFFINE ? 6 : 8);
}

bool smear_measure(struct smear *smear, const struct wcs *wcs, struct utc utc, double later_s)
{
    struct ground ground;
    struct twins twins;
    double v[3], x, y, middle_x = (wcs->width - 1) / 2.0, middle_y = (wcs->height - 1) / 2.0;
    ground_make(&ground, NULL, utc);
    find_twins(&twins, wcs, &ground, later_s);
    wcs_direction(v, wcs, middle_x, middle_y);
    ground_from_sky(v, &ground, v, later_s);
    if (twins.fitted < LEAST_STARS || !wcs_pixel(&x, &y, wcs, v)) {
        return false;
    }
    smear->shift_px = hypot(x - middle_x, y - middle_y);
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        smear->worst_px[fit] = worst_of(&twins, (enum smear_fit)fit);
    }
    return true;
}

static bool is_over(const struct wcs *wcs, const struct ground *ground, enum smear_fit fit,
                    double limit_px, double later_s)
{
    struct twins twins;
    find_twins(&twins, wcs, ground, later_s);
    return twins.fitted < LEAST_STARS || worst_of(&twins, fit) > limit_px;
}

double smear_time(const struct wcs *wcs, struct utc utc, enum smear_fit fit, double limit_px,
                  double most_s)
{
    const double exactness = 0.002;
    double good = 0, bad = 4;
    struct ground ground;
    ground_make(&ground, NULL, utc);
    while (bad < most_s && !is_over(wcs, &ground, fit, limit_px, bad)) {
        good = bad;
        bad *= 3;
    }
    if (bad >= most_s && !is_over(wcs, &ground, fit, limit_px, most_s)) {
        return most_s;
    }
    while (bad - good > exactness * bad) {
        double middle = (good + bad) / 2;
        *(is_over(wcs, &ground, fit, limit_px, middle) ? &bad : &good) = middle;
    }
    return good;
}
