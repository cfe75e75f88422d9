#include "tripod/smear.h"

#include "base/least_squares.h"
#include "sky/vector.h"
#include "tripod/ground.h"

#include <math.h>

/* Cells of the picture; their middles are fitted. The rims of both frames are only looked at, in so
 * many steps a side. */
enum { ACROSS = 24, ALONG = 16, RIM = 128, MOST_STARS = ACROSS * ALONG + 8 * RIM };
enum { LEAST_STARS = 40, MOST_TERMS = 8 };

/* The same stars in two frames: from the middle of the picture, in halves of its diagonal. */
struct twins {
    double from[MOST_STARS][2], to[MOST_STARS][2];
    double weight[MOST_STARS]; /* in the fit: 0 to 1 */
    int stars;
    double fitted; /* the sum of weights */
    int common;    /* middles of cells that both frames show */
    double unit_px;
};

const char *smear_fit_word(enum smear_fit fit)
{
    static const char *const words[] = {"shift + rotation", "affine", "homography"};
    return words[fit];
}

/* A cell that is about to leave the second frame counts less and less, so that nothing jumps when
 * it has left. */
static double share_within(const struct wcs *wcs, double x, double y)
{
    double right = 0.5 + fmin(x + 0.5, wcs->width - 0.5 - x) * ACROSS / wcs->width;
    double down = 0.5 + fmin(y + 0.5, wcs->height - 0.5 - y) * ALONG / wcs->height;
    return fmin(1, fmax(0, right)) * fmin(1, fmax(0, down));
}

/* A star at (x, y) of the frame now, or of that later_s from now if that is below 0, the other
 * being the one that it is looked for in. */
static void add_star(struct twins *twins, const struct wcs *wcs, const struct ground *ground,
                     double later_s, double right, double down, bool fitted)
{
    double at[2] = {-0.5 + right * wcs->width, -0.5 + down * wcs->height}, there[2], v[3];
    wcs_direction(v, wcs, at[0], at[1]);
    ground_from_sky(v, ground, v, later_s);
    bool seen = wcs_pixel(&there[0], &there[1], wcs, v);
    double share = fitted ? share_within(wcs, there[0], there[1]) : 0;
    if (!seen || (share <= 0 && !wcs_inside(wcs, there[0], there[1]))) {
        return;
    }
    double *from = twins->from[twins->stars], *to = twins->to[twins->stars];
    const double middle[2] = {wcs->width / 2.0, wcs->height / 2.0};
    for (int i = 0; i < 2; i++) {
        from[i] = ((later_s < 0 ? there : at)[i] - middle[i]) / twins->unit_px;
        to[i] = ((later_s < 0 ? at : there)[i] - middle[i]) / twins->unit_px;
    }
    twins->weight[twins->stars++] = share;
    twins->fitted += share;
    twins->common += fitted && wcs_inside(wcs, there[0], there[1]);
}

static void find_twins(struct twins *twins, const struct wcs *wcs, const struct ground *ground,
                       double later_s)
{
    twins->stars = 0;
    twins->fitted = 0;
    twins->common = 0;
    twins->unit_px = hypot(wcs->width, wcs->height) / 2;
    for (int i = 0; i < ACROSS; i++) {
        for (int k = 0; k < ALONG; k++) {
            add_star(twins, wcs, ground, later_s, (i + 0.5) / ACROSS, (k + 0.5) / ALONG, true);
        }
    }
    for (int i = 0; i < 4 * RIM; i++) {
        double along = (i % RIM) / (double)RIM, side = i / RIM % 2;
        double right = i < 2 * RIM ? along : side, down = i < 2 * RIM ? side : 1 - along;
        add_star(twins, wcs, ground, later_s, right, down, false);
        add_star(twins, wcs, ground, -later_s, right, down, false);
    }
}

/* What is looked at for the largest miss: not the middles of cells that have half left. */
static bool is_looked_at(const struct twins *twins, int star)
{
    return twins->weight[star] == 0 || twins->weight[star] >= 0.5;
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
            } else if (is_looked_at(twins, i)) {
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
        if (!is_looked_at(twins, i)) {
            continue;
        }
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
    if (twins.common < LEAST_STARS || !wcs_pixel(&x, &y, wcs, v)) {
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
    return twins.common < LEAST_STARS || worst_of(&twins, fit) > limit_px;
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
