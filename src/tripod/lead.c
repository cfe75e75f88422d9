#include "tripod/lead.h"

#include "sky/vector.h"
#include "tripod/drift.h"

#include <math.h>

enum { MOMENTS = 11, ROUNDS = 3 };

/* The middle of each of equal parts of the batch. */
static double moment_s(const struct batch *batch, int i)
{
    return batch->first_s + (batch->last_s - batch->first_s) * (i + 0.5) / MOMENTS;
}

static double middle_x(const struct wcs *wcs)
{
    return (wcs->width - 1) / 2.0;
}

static double middle_y(const struct wcs *wcs)
{
    return (wcs->height - 1) / 2.0;
}

/* Mean place from the middle, and the root of the mean squared distance from it. */
static bool find_mean(double *right, double *down, double *spread, const struct stand *stand,
                      double turn[3][3], const double target[3], const struct batch *batch)
{
    double squares = 0;
    *right = *down = 0;
    for (int i = 0; i < MOMENTS; i++) {
        double x, y;
        if (!stand_pixel(&x, &y, stand, turn, target, moment_s(batch, i))) {
            return false;
        }
        x -= middle_x(&stand->wcs);
        y -= middle_y(&stand->wcs);
        *right += x / MOMENTS;
        *down += y / MOMENTS;
        squares += (x * x + y * y) / MOMENTS;
    }
    *spread = sqrt(squares);
    return true;
}

bool lead_of_move(struct lead *lead, const struct stand *stand, const struct head_move *move,
                  const struct sky_ellipse *target, const struct batch *batch)
{
    double v[3], x, y, right, down;
    *lead = (struct lead){.move = *move};
    ellipse_direction(v, target, 0, 0);
    if (!find_mean(&right, &down, &lead->spread_px, stand, lead->move.turn, v, batch) ||
        !stand_pixel(&x, &y, stand, lead->move.turn, v, batch->first_s)) {
        return false;
    }
    lead->mean_px = hypot(right, down);
    lead->right_part = (x - middle_x(&stand->wcs)) / stand->wcs.width;
    lead->up_part = -(y - middle_y(&stand->wcs)) / stand->wcs.height;
    return true;
}

/* The direction on the ground that a pixel of the turned camera looks to. */
static void look_through(double out[3], const struct stand *stand, double turn[3][3], double x,
                         double y)
{
    wcs_direction(out, &stand->wcs, x, y);
    ground_from_sky(out, &stand->ground, out, 0);
    matrix_apply(out, turn, out);
}

bool lead_find(struct lead *lead, const struct stand *stand, const struct head_axes *axes,
               const struct sky_ellipse *target, const struct batch *batch)
{
    struct head_move move;
    double v[3], aim[3], right, down, spread;
    ellipse_direction(v, target, 0, 0);
    ground_from_sky(aim, &stand->ground, v, (batch->first_s + batch->last_s) / 2);
    head_reach(&move, axes, &stand->view, aim);
    /* Trails are a little curved, and the lens bends them. */
    for (int i = 0; i < ROUNDS; i++) {
        if (!find_mean(&right, &down, &spread, stand, move.turn, v, batch)) {
            return false;
        }
        look_through(aim, stand, move.turn, middle_x(&stand->wcs) + right,
                     middle_y(&stand->wcs) + down);
        head_reach(&move, axes, &stand->view, aim);
    }
    return lead_of_move(lead, stand, &move, target, batch);
}

static bool holds(struct lead *lead, const struct stand *stand, const struct head_axes *axes,
                  const struct sky_ellipse *target, double margin_px, const struct batch *batch)
{
    return lead_find(lead, stand, axes, target, batch) &&
           drift_is_inside(stand, lead->move.turn, target, margin_px, batch->first_s) &&
           drift_is_inside(stand, lead->move.turn, target, margin_px, batch->last_s);
}

int lead_longest(struct lead *lead, const struct stand *stand, const struct head_axes *axes,
                 const struct sky_ellipse *target, double margin_px, double first_s,
                 double cadence_s, int most)
{
    int good = 0, bad = most + 1;
    for (int frames = 1; good < most && bad - good > 1;) {
        struct lead tried;
        struct batch batch = {first_s, first_s + cadence_s * (frames - 1)};
        if (holds(&tried, stand, axes, target, margin_px, &batch)) {
            good = frames;
            *lead = tried;
        } else {
            bad = frames;
        }
        bool growing = bad > most;
        frames = growing ? (2 * good < most ? 2 * good : most) : good + (bad - good) / 2;
    }
    return good;
}
