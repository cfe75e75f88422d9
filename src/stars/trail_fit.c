#include "stars/trail_fit.h"

#include "base/elementary.h"
#include "base/elementary_lanes.h"
#include "base/units.h"
#include "base/wider.h"

#include <math.h>

#define LEAST_SIGMA 0.316 /* px */
#define LEAST_LENGTH 4.0  /* sigmas */
#define MOST_STEPS 5
#define RUNS_AWAY 0.2 /* of the length, beyond 2 px */

enum { AT_ONCE = LANES_MOST };

bool trail_of_moments(struct trail *trail, const struct profile *moments)
{
    double longer, shorter;
    profile_widths(moments, &longer, &shorter);
    /* An even line of length L has the variance L^2 / 12. */
    trail->length = sqrt(12 * (longer * longer - shorter * shorter));
    trail->sigma = fmax(shorter, LEAST_SIGMA);
    profile_axis(&trail->along_x, &trail->along_y, moments);
    return trail->length > LEAST_LENGTH * trail->sigma;
}

/* Pixels under the trail: how far along and across from its middle, and their light. */
struct some {
    int n;
    double along[AT_ONCE], across[AT_ONCE], v[AT_ONCE];
};

/* Height of the trail there, and its slopes. */
struct heights {
    double h[AT_ONCE], by_along[AT_ONCE], by_across[AT_ONCE];
};

static PLAIN void find_heights_plain(struct heights *restrict out, const struct trail *s,
                                     const struct some *restrict at, int n)
{
    const double half = s->length / 2, sigma = s->sigma, root_2 = sqrt(2);
    const double per_slope = sigma * sqrt(2 * PI);
    double a[AT_ONCE], b[AT_ONCE], first[AT_ONCE], last[AT_ONCE];
    for (int i = 0; i < n; i++) {
        a[i] = (at->along[i] + half) / sigma;
        b[i] = (at->along[i] - half) / sigma;
        first[i] = a[i] / root_2;
        last[i] = b[i] / root_2;
    }
    elementary_erf_lanes(out->h, first, n);
    elementary_erf_lanes(out->by_along, last, n);
    for (int i = 0; i < n; i++) {
        double ridge = elementary_exp_lane(-0.5 * at->across[i] * at->across[i] / (sigma * sigma));
        double line = 0.5 * (out->h[i] - out->by_along[i]);
        double ends =
            elementary_exp_lane(-0.5 * a[i] * a[i]) - elementary_exp_lane(-0.5 * b[i] * b[i]);
        out->by_along[i] = ends / per_slope * ridge;
        out->by_across[i] = -at->across[i] / (sigma * sigma) * line * ridge;
        out->h[i] = line * ridge;
    }
}

WIDER(find_heights,
      (struct heights *restrict out, const struct trail *s, const struct some *restrict at, int n),
      (out, s, at, n))

/* Sums over the pixels under the trail; slopes along and across are orthogonal to each other and to
 * the height, but for the picture's rim. */
struct fit {
    double light, height2;
    double along, along2;
    double across, across2;
};

static void add_some(struct fit *fit, const struct trail *s, struct some *some)
{
    struct heights at;
    find_heights(&at, s, some, some->n);
    for (int i = 0; i < some->n; i++) {
        double v = some->v[i];
        fit->light += v * at.h[i];
        fit->height2 += at.h[i] * at.h[i];
        fit->along -= v * at.by_along[i];
        fit->along2 += at.by_along[i] * at.by_along[i];
        fit->across -= v * at.by_across[i];
        fit->across2 += at.by_across[i] * at.by_across[i];
    }
    some->n = 0;
}

static void add_pixel(struct some *some, const struct trail *s, double v, double dx, double dy)
{
    double along = dx * s->along_x + dy * s->along_y, across = dy * s->along_x - dx * s->along_y;
    if (fabs(along) > s->length / 2 + 3 * s->sigma || fabs(across) > 3 * s->sigma) {
        return;
    }
    some->along[some->n] = along;
    some->across[some->n] = across;
    some->v[some->n++] = v;
}

static struct fit fit_at(const struct plane *plane, const struct trail *s, double sky, double x,
                         double y)
{
    struct fit fit = {0};
    struct some some;
    some.n = 0;
    double full = plane->full > 0 ? 0.985 * (double)plane->full : INFINITY;
    double reach_x = fabs(s->along_x) * s->length / 2 + 3 * s->sigma;
    double reach_y = fabs(s->along_y) * s->length / 2 + 3 * s->sigma;
    int left = (int)fmax(floor(x - reach_x), 0), upper = (int)fmax(floor(y - reach_y), 0);
    int right = (int)fmin(ceil(x + reach_x), plane->width - 1);
    int lower = (int)fmin(ceil(y + reach_y), plane->height - 1);
    for (int j = upper; j <= lower; j++) {
        const float *row = plane->value + (size_t)j * (size_t)plane->width;
        for (int i = left; i <= right; i++) {
            if (isfinite(row[i]) && (double)row[i] < full) {
                add_pixel(&some, s, (double)row[i] - sky, i - x, j - y);
            }
            if (some.n == AT_ONCE) {
                add_some(&fit, s, &some);
            }
        }
    }
    add_some(&fit, s, &some);
    return fit;
}

void trail_fit(double *x, double *y, const struct plane *plane, const struct trail *trail,
               double sky)
{
    double px = *x, py = *y, move = 1;
    for (int step = 0; step < MOST_STEPS && move > 0.01; step++) {
        struct fit fit = fit_at(plane, trail, sky, px, py);
        double brightness = fit.light / fit.height2;
        double along = fit.along / (brightness * fit.along2);
        double across = fit.across / (brightness * fit.across2);
        px += along * trail->along_x - across * trail->along_y;
        py += along * trail->along_y + across * trail->along_x;
        move = elementary_length(along, across);
        if (!(brightness > 0) ||
            !(elementary_length(px - *x, py - *y) < 2 + RUNS_AWAY * trail->length)) {
            return;
        }
    }
    *x = px;
    *y = py;
}
