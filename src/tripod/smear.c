#include "tripod/smear.h"

#include "base/least_squares.h"
#include "tripod/ground.h"

#include <math.h>

/* Cells of the picture in the middle; their middles are fitted. The rims of all frames are only
 * looked at, in so many steps a side. */
enum { ACROSS = 24, ALONG = 16, RIM = 96, MOST_STARS = ACROSS * ALONG + 12 * RIM };
enum { LEAST_STARS = 40, MOST_TERMS = 8 };

/* The frames of a batch that are looked at. */
enum { FIRST, LAST, MIDDLE, FRAMES, ENDS = MIDDLE };

struct placed {
    double at[FRAMES][2]; /* from the middle of the picture, in halves of its diagonal */
    bool seen[FRAMES];
    double weight[ENDS]; /* in the fit of that frame to the one in the middle: 0 to 1 */
};

/* The same stars in all frames. */
struct placed_stars {
    struct placed star[MOST_STARS];
    int stars;
    double fitted[ENDS]; /* the sums of weights */
    int common;          /* middles of cells that all frames show */
    double unit_px;
    /* Where the fitted first and last frame have a star beside the one in the middle. */
    double miss[MOST_STARS][ENDS][2];
};

const char *smear_fit_word(enum smear_fit fit)
{
    static const char *const words[] = {"shift + rotation", "affine", "homography"};
    return words[fit];
}

/* A cell that is about to leave a frame counts less and less, so that nothing jumps when it has
 * left. */
static double share_within(const struct wcs *wcs, const double at[2])
{
    double x = at[0], y = at[1];
    double right = 0.5 + fmin(x + 0.5, wcs->width - 0.5 - x) * ACROSS / wcs->width;
    double down = 0.5 + fmin(y + 0.5, wcs->height - 0.5 - y) * ALONG / wcs->height;
    return fmin(1, fmax(0, right)) * fmin(1, fmax(0, down));
}

/* When a frame is taken, in seconds after the one in the middle. */
static double frame_s(int frame, double span_s)
{
    return frame == FIRST ? -span_s / 2 : frame == LAST ? span_s / 2 : 0;
}

/* A star at a part of the width and height of one of the frames; it is in all three, or is left
 * out. */
static void add_star(struct placed_stars *all, const struct wcs *wcs, const struct ground *ground,
                     double span_s, int shown, const double part[2], bool fitted)
{
    struct placed *star = &all->star[all->stars];
    const double middle[2] = {wcs->width / 2.0, wcs->height / 2.0};
    double sky[3], v[3], at[FRAMES][2];
    bool placed = true;
    *star = (struct placed){0};
    wcs_direction(sky, wcs, -0.5 + part[0] * wcs->width, -0.5 + part[1] * wcs->height);
    for (int i = 0; i < FRAMES; i++) {
        ground_from_sky(v, ground, sky, frame_s(i, span_s) - frame_s(shown, span_s));
        placed = placed && wcs_pixel(&at[i][0], &at[i][1], wcs, v);
        star->seen[i] = placed && wcs_inside(wcs, at[i][0], at[i][1]);
        for (int k = 0; placed && k < 2; k++) {
            star->at[i][k] = (at[i][k] - middle[k]) / all->unit_px;
        }
    }
    if (!placed) {
        return;
    }
    for (int i = 0; fitted && i < ENDS; i++) {
        star->weight[i] = share_within(wcs, at[i]);
        all->fitted[i] += star->weight[i];
    }
    all->common += fitted && star->seen[FIRST] && star->seen[LAST];
    all->stars++;
}

static void place_stars(struct placed_stars *all, const struct wcs *wcs,
                        const struct ground *ground, double span_s)
{
    /* So far within the picture that no rounding puts a star of its rim outside. */
    const double inset = 1e-5;
    all->stars = all->common = 0;
    all->fitted[FIRST] = all->fitted[LAST] = 0;
    all->unit_px = hypot(wcs->width, wcs->height) / 2;
    for (int i = 0; i < ACROSS; i++) {
        for (int k = 0; k < ALONG; k++) {
            const double part[2] = {(i + 0.5) / ACROSS, (k + 0.5) / ALONG};
            add_star(all, wcs, ground, span_s, MIDDLE, part, true);
        }
    }
    for (int i = 0; i < 4 * RIM; i++) {
        double along = inset + (1 - 2 * inset) * (i % RIM) / (RIM - 1);
        double side = i / RIM % 2 ? 1 - inset : inset;
        const double part[2] = {i < 2 * RIM ? along : side, i < 2 * RIM ? side : along};
        for (int frame = 0; frame < FRAMES; frame++) {
            add_star(all, wcs, ground, span_s, frame, part, false);
        }
    }
}

/* Best shift and rotation: about the means, by the angle whose tangent is the sum of the cross over
 * that of the dot products. */
static void fit_turn(struct placed_stars *all, int end)
{
    double mean[4] = {0}, dot = 0, cross = 0;
    for (int i = 0; i < all->stars; i++) {
        const struct placed *star = &all->star[i];
        for (int k = 0; k < 2; k++) {
            mean[k] += star->weight[end] * star->at[end][k] / all->fitted[end];
            mean[2 + k] += star->weight[end] * star->at[MIDDLE][k] / all->fitted[end];
        }
    }
    for (int i = 0; i < all->stars; i++) {
        const struct placed *star = &all->star[i];
        double x = star->at[end][0] - mean[0], y = star->at[end][1] - mean[1];
        double x2 = star->at[MIDDLE][0] - mean[2], y2 = star->at[MIDDLE][1] - mean[3];
        dot += star->weight[end] * (x * x2 + y * y2);
        cross += star->weight[end] * (x * y2 - y * x2);
    }
    double angle = atan2(cross, dot), c = cos(angle), s = sin(angle);
    for (int i = 0; i < all->stars; i++) {
        const struct placed *star = &all->star[i];
        double x = star->at[end][0] - mean[0], y = star->at[end][1] - mean[1];
        all->miss[i][end][0] = mean[2] + c * x - s * y - star->at[MIDDLE][0];
        all->miss[i][end][1] = mean[3] + s * x + c * y - star->at[MIDDLE][1];
    }
}

/* The map x' = (a x + b y + c) / (g x + h y + 1), y' likewise with d, e, f; g = h = 0: affine. */
static void map_star(double out[2], const double *m, const double from[2])
{
    double below = m[6] * from[0] + m[7] * from[1] + 1;
    out[0] = (m[0] * from[0] + m[1] * from[1] + m[2]) / below;
    out[1] = (m[3] * from[0] + m[4] * from[1] + m[5]) / below;
}

/* One step of Gauss and Newton. */
static bool improve(double *m, const struct placed_stars *all, int end, int terms)
{
    struct least_squares ls = {.n = terms};
    double step[MOST_TERMS];
    for (int i = 0; i < all->stars; i++) {
        const struct placed *star = &all->star[i];
        double x = star->at[end][0], y = star->at[end][1], at[2];
        if (!(star->weight[end] > 0)) {
            continue;
        }
        double below = m[6] * x + m[7] * y + 1;
        map_star(at, m, star->at[end]);
        double right[MOST_TERMS] = {x / below, y / below, 1 / below,          0,
                                    0,         0,         -at[0] * x / below, -at[0] * y / below};
        double down[MOST_TERMS] = {
            0, 0, 0, x / below, y / below, 1 / below, -at[1] * x / below, -at[1] * y / below};
        least_squares_add(&ls, right, star->at[MIDDLE][0] - at[0], star->weight[end]);
        least_squares_add(&ls, down, star->at[MIDDLE][1] - at[1], star->weight[end]);
    }
    if (!least_squares_solve(step, NULL, &ls)) {
        return false;
    }
    for (int i = 0; i < terms; i++) {
        m[i] += step[i];
    }
    return true;
}

static bool fit_map(struct placed_stars *all, int end, int terms)
{
    double m[MOST_TERMS] = {1, 0, 0, 0, 1, 0, 0, 0}, at[2];
    enum { STEPS = 4 };
    for (int i = 0; i < STEPS; i++) {
        if (!improve(m, all, end, terms)) {
            return false;
        }
    }
    for (int i = 0; i < all->stars; i++) {
        map_star(at, m, all->star[i].at[end]);
        for (int k = 0; k < 2; k++) {
            all->miss[i][end][k] = at[k] - all->star[i].at[MIDDLE][k];
        }
    }
    return true;
}

/* Of a path from first over 0, halfway, to last, as a parabola: a line of that length has the same
 * variance, which is a twelfth of its square. */
static double length_of_path(const double first[2], const double last[2])
{
    const double bent = 4 / 15.0;
    double line = hypot(last[0] - first[0], last[1] - first[1]);
    double bend = hypot(last[0] + first[0], last[1] + first[1]);
    return sqrt(line * line + bent * bend * bend);
}

/* Of stars that the middle frame shows; of one that has left by an end, the half that is in all
 * frames. */
static double worst_of(struct placed_stars *all, enum smear_fit fit)
{
    double worst = 0;
    for (int end = 0; end < ENDS; end++) {
        if (fit == SMEAR_TURN) {
            fit_turn(all, end);
        } else if (!fit_map(all, end, fit == SMEAR_AFFINE ? 6 : 8)) {
            return INFINITY;
        }
    }
    for (int i = 0; i < all->stars; i++) {
        const struct placed *star = &all->star[i];
        double *first = all->miss[i][FIRST], *last = all->miss[i][LAST];
        if (star->seen[MIDDLE] && star->seen[FIRST] && star->seen[LAST]) {
            worst = fmax(worst, length_of_path(first, last));
        } else if (star->seen[MIDDLE] && (star->seen[FIRST] || star->seen[LAST])) {
            const double *seen = star->seen[FIRST] ? first : last;
            worst = fmax(worst, hypot(seen[0], seen[1]));
        }
    }
    return worst * all->unit_px;
}

bool smear_measure(struct smear *smear, const struct wcs *wcs, struct utc utc, double span_s)
{
    struct ground ground;
    struct placed_stars all;
    ground_make(&ground, NULL, utc);
    place_stars(&all, wcs, &ground, span_s);
    if (all.common < LEAST_STARS) {
        return false;
    }
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        smear->worst_px[fit] = worst_of(&all, (enum smear_fit)fit);
    }
    return true;
}

static bool is_over(const struct wcs *wcs, const struct ground *ground, enum smear_fit fit,
                    double limit_px, double span_s)
{
    struct placed_stars all;
    place_stars(&all, wcs, ground, span_s);
    return all.common < LEAST_STARS || worst_of(&all, fit) > limit_px;
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
