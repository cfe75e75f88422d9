#include "stars/trail_fit.h"

#include "base/elementary.h"
#include "base/units.h"

#include <math.h>

#define LEAST_SIGMA 0.316 /* px */
#define LEAST_LENGTH 4.0  /* sigmas */
#define MOST_STEPS 5
#define RUNS_AWAY 0.2 /* of the length, beyond 2 px */

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

/* Height of the trail at a distance along and across from its middle, and its slopes. */
static double height(double *by_along, double *by_across, const struct trail *s, double along,
                     double across)
{
    double a = (along + s->length / 2) / s->sigma, b = (along - s->length / 2) / s->sigma;
    double ridge = elementary_exp(-0.5 * across * across / (s->sigma * s->sigma));
    double line = 0.5 * (elementary_erf(a / sqrt(2)) - elementary_erf(b / sqrt(2)));
    *by_along = (elementary_exp(-0.5 * a * a) - elementary_exp(-0.5 * b * b)) /
                (s->sigma * sqrt(2 * PI)) * ridge;
    *by_across = -across / (s->sigma * s->sigma) * line * ridge;
    return line * ridge;
}

/* Sums over the pixels under the trail; slopes along and across are orthogonal to each other and to
 * the height, but for the picture's rim. */
struct fit {
    double light, height2;
    double along, along2;
    double across, across2;
};

static void add_pixel(struct fit *fit, const struct trail *s, double v, double dx, double dy)
{
    double by_along, by_across;
    double along = dx * s->along_x + dy * s->along_y, across = dy * s->along_x - dx * s->along_y;
    if (fabs(along) > s->length / 2 + 3 * s->sigma || fabs(across) > 3 * s->sigma) {
        return;
    }
    double h = height(&by_along, &by_across, s, along, across);
    fit->light += v * h;
    fit->height2 += h * h;
    fit->along -= v * by_along;
    fit->along2 += by_along * by_along;
    fit->across -= v * by_across;
    fit->across2 += by_across * by_across;
}

static struct fit fit_at(const struct plane *plane, const struct trail *s, double sky, double x,
                         double y)
{
    struct fit fit = {0};
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
                add_pixel(&fit, s, (double)row[i] - sky, i - x, j - y);
            }
        }
    }
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
