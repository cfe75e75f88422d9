/* health/health_double.c: two images of every star, as a knock to the tripod leaves them.
 *
 * Images that are well apart are two entries of the star list: the same step leads from the
 * brighter to the fainter for star after star, while steps between different stars are all kinds.
 * Images that touch are one entry: its profile along the trail, averaged over many stars, then has
 * a dip in the middle, which neither a trail nor a wide star has. */
#include "health/health_parts.h"

#include "base/median.h"
#include "base/units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FIRST_STARS = 120, MOST_STEPS = 6000, BINS = 41, LEAST_SHAPES = 8, CELLS = 83 };

static const double reach_px = 80;
static const double least_ratio = 0.12; /* fainter over brighter */
static const double near_px = 2;        /* side of a cell; CELLS of them hold the reach and a rim */
static const double least_share = 0.3;  /* of the first stars that take the step */
static const double over_chance = 6;    /* times as many as by chance */
static const double least_dip = 0.12;
static const double dip_errors = 6;   /* of the averaged profile */
static const double swap_ratio = 0.7; /* images more alike than this are equal */

struct step {
    double dx, dy, ratio;
    int from;
};

/* Steps from each of the brightest stars to the fainter ones around it. */
static int gather_steps(struct step *step, const struct star_list *list, int *stars)
{
    int n = 0;
    *stars = list->count < FIRST_STARS ? list->count : FIRST_STARS;
    for (int i = 0; i < *stars; i++) {
        const struct star *s = &list->star[i];
        for (int k = i + 1; k < list->count && n < MOST_STEPS; k++) {
            const struct star *t = &list->star[k];
            double ratio = t->flux / s->flux, dx = t->x - s->x, dy = t->y - s->y;
            if (ratio < least_ratio) {
                break;
            }
            if (fabs(dx) < reach_px && fabs(dy) < reach_px && hypot(dx, dy) < reach_px) {
                step[n++] = (struct step){dx, dy, ratio, i};
            }
        }
    }
    return n;
}

/* Counts steps on a grid. Equal images swap, so that a step backwards is the same step. */
static bool swaps(const struct step *step)
{
    return step->ratio > swap_ratio;
}

static int cell_of(double dx, double dy)
{
    int i = (int)floor((dx + reach_px) / near_px), j = (int)floor((dy + reach_px) / near_px);
    return (j + 1) * CELLS + i + 1;
}

static int count_around(const int *cell, int at)
{
    int count = 0;
    for (int j = -1; j <= 1; j++) {
        for (int i = -1; i <= 1; i++) {
            count += cell[at + j * CELLS + i];
        }
    }
    return count;
}

/* The middle of the 3 x 3 cells that hold most steps. */
static int fullest(const struct step *step, int n, int *cell)
{
    int most = 0, best = 0;
    memset(cell, 0, CELLS * CELLS * sizeof *cell);
    for (int i = 0; i < n; i++) {
        cell[cell_of(step[i].dx, step[i].dy)]++;
        if (swaps(&step[i])) {
            cell[cell_of(-step[i].dx, -step[i].dy)]++;
        }
    }
    for (int i = 0; i < n; i++) {
        int at = cell_of(step[i].dx, step[i].dy), count = count_around(cell, at);
        if (count > most) {
            most = count;
            best = at;
        }
    }
    return best;
}

static bool is_around(double dx, double dy, int best)
{
    int at = cell_of(dx, dy);
    return abs(at % CELLS - best % CELLS) <= 1 && abs(at / CELLS - best / CELLS) <= 1;
}

/* Averages what lies there; returns from how many different stars it comes. */
static int average_steps(struct frame_health *found, const struct step *step, int n, int best,
                         double *scratch)
{
    double dx = 0, dy = 0;
    int m = 0, stars = 0, last = -1;
    for (int i = 0; i < n; i++) {
        bool forth = is_around(step[i].dx, step[i].dy, best);
        if (forth || (swaps(&step[i]) && is_around(-step[i].dx, -step[i].dy, best))) {
            dx += forth ? step[i].dx : -step[i].dx;
            dy += forth ? step[i].dy : -step[i].dy;
            scratch[m++] = step[i].ratio;
            stars += step[i].from != last;
            last = step[i].from;
        }
    }
    found->double_px = hypot(dx, dy) / m;
    found->double_angle_deg = atan2(dy, dx) * DEG_PER_RAD;
    found->double_share = median_of(scratch, m);
    return stars;
}

static void find_pairs(struct frame_health *h, const struct step *step, int n, int stars, int *cell,
                       double *scratch)
{
    struct frame_health found = *h;
    if (n < LEAST_SHAPES) {
        return;
    }
    int best = fullest(step, n, cell);
    int taken = average_steps(&found, step, n, best, scratch);
    /* Of the circle that steps end in, 3 x 3 cells are this share. */
    double chance = n * 9 * near_px * near_px / (PI * reach_px * reach_px);
    if (taken >= LEAST_SHAPES && taken > least_share * stars && taken > over_chance * chance) {
        *h = found;
    }
}

/* Brightness of the plane at a place of the picture, linear between pixels; NaN outside. */
static double sample(const struct plane *plane, double x, double y)
{
    double u = (x - (plane->bin - 1) / 2.0) / plane->bin;
    double v = (y - (plane->bin - 1) / 2.0) / plane->bin;
    int i = (int)floor(u), j = (int)floor(v);
    if (i < 0 || j < 0 || i + 1 >= plane->width || j + 1 >= plane->height) {
        return (double)NAN;
    }
    const float *at = plane->value + (size_t)j * (size_t)plane->width + i;
    double s = u - i, t = v - j;
    double upper = (double)at[0] * (1 - s) + (double)at[1] * s;
    at += plane->width;
    return upper * (1 - t) + ((double)at[0] * (1 - s) + (double)at[1] * s) * t;
}

/* Along the common direction through the middles of all stars, each divided by its own light;
 * medians over the stars and their typical standard error. Returns how many there are. */
static int stack_profile(double profile[BINS], double *error, double step_px, double angle_deg,
                         const struct star_shape *shape, int shapes, const struct plane *plane)
{
    double value[BINS][SHAPES_MOST], c = cos(angle_deg * RAD_PER_DEG);
    double s = sin(angle_deg * RAD_PER_DEG);
    int n = 0;
    for (int i = 0; i < shapes; i++) {
        double sum = 0, base = (double)INFINITY, line[BINS];
        for (int k = 0; k < BINS; k++) {
            double t = (k - BINS / 2) * step_px;
            line[k] = sample(plane, shape[i].x + t * c, shape[i].y + t * s);
            sum += line[k];
            base = fmin(base, line[k]);
        }
        if (!(sum > BINS * base)) {
            continue;
        }
        for (int k = 0; k < BINS; k++) {
            value[k][n] = (line[k] - base) / (sum - BINS * base);
        }
        n++;
    }
    double spread[BINS];
    for (int k = 0; k < BINS; k++) {
        profile[k] = median_of(value[k], n);
        /* From 16 to 84 % is two deviations. */
        spread[k] =
            n > 0 ? median_rank(value[k], n, n * 84 / 100) - median_rank(value[k], n, n * 16 / 100)
                  : 0;
    }
    *error = n > 0 ? 1.2533 * median_quantile(spread, BINS, 0.75) / 2 / sqrt(n) : 0;
    return n;
}

static int highest(const double *profile, int from, int to)
{
    int best = from;
    for (int k = from; k < to; k++) {
        best = profile[k] > profile[best] ? k : best;
    }
    return best;
}

/* Where the parabola through a bin and its neighbours is highest, bins. */
static double summit(const double *profile, int k)
{
    if (k < 1 || k > BINS - 2) {
        return k;
    }
    double bend = profile[k - 1] - 2 * profile[k] + profile[k + 1];
    return bend < 0 ? k + (profile[k - 1] - profile[k + 1]) / (2 * bend) : k;
}

/* Two humps and a dip. */
static void find_dip(struct frame_health *h, const double profile[BINS], double error,
                     double step_px, double angle_deg)
{
    int top = highest(profile, 0, BINS), second = -1;
    double dip = 0;
    for (int side = -1; side <= 1; side += 2) {
        double low = profile[top];
        for (int k = top + side; k >= 0 && k < BINS; k += side) {
            low = fmin(low, profile[k]);
            double depth = (profile[k] - low) / profile[k];
            if (profile[k] > least_ratio * profile[top] && profile[k] - low > dip_errors * error &&
                depth > dip) {
                dip = depth;
                second = k;
            }
        }
    }
    if (dip > least_dip) {
        h->double_px = fabs(summit(profile, second) - summit(profile, top)) * step_px;
        h->double_angle_deg = second > top ? angle_deg : angle_deg - copysign(180, angle_deg);
        h->double_share = profile[second] / profile[top];
    }
}

static void look_along(struct frame_health *h, const struct star_shape *shape, int shapes,
                       const struct plane *plane)
{
    double profile[BINS], error, longest = h->trail_px + 2 * h->fwhm_px;
    double step_px = fmax(longest / (BINS / 2.0), 0.2);
    if (shapes < LEAST_SHAPES || !isfinite(h->trail_px)) {
        return;
    }
    int n = stack_profile(profile, &error, step_px, h->trail_angle_deg, shape, shapes, plane);
    if (n >= LEAST_SHAPES) {
        find_dip(h, profile, error, step_px, h->trail_angle_deg);
    }
}

int health_add_double(struct frame_health *health, const struct star_shape *shape, int shapes,
                      const struct health_input *input, struct error *err)
{
    struct step *step = malloc(MOST_STEPS * sizeof *step);
    double *scratch = malloc(MOST_STEPS * sizeof *scratch);
    int *cell = malloc(CELLS * CELLS * sizeof *cell), code = 0;
    if (step && scratch && cell) {
        int stars, n = gather_steps(step, input->list, &stars);
        find_pairs(health, step, n, stars, cell, scratch);
        if (!(health->double_px > 0)) {
            look_along(health, shape, shapes, &input->frame->luminance);
        }
    } else {
        code = error_memory(err);
    }
    free(step);
    free(cell);
    free(scratch);
    return code;
}
