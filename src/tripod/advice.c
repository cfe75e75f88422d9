#include "tripod/advice.h"

#include "sky/vector.h"
#include "tripod/clock.h"

#include <math.h>

static const double minute_s = 60, smear_most_s = 7200;
enum { MOST_FRAMES = 5000 };

static void find_angles(struct advice *advice, const struct stand *stand, const double sky[3])
{
    double seen[3];
    ground_from_sky(seen, &stand->ground, sky, 0);
    view_angles(&advice->azimuth_deg, &advice->altitude_deg, &advice->roll_deg, &stand->view);
    horizon_angles(&advice->target_azimuth_deg, &advice->target_altitude_deg, seen);
}

static void find_move(struct advice *advice, struct head_axes *axes, const struct stand *stand,
                      const struct head *head, const double sky[3])
{
    struct head_axes own;
    double seen[3];
    ground_from_sky(seen, &stand->ground, sky, 0);
    head_axes_of_camera(&own, &stand->view);
    head_reach(&advice->camera, &own, &stand->view, seen);
    *axes = own;
    advice->move = advice->camera;
    if (advice->has_horizon) {
        head_axes(axes, head, &stand->view);
        head_reach(&advice->move, axes, &stand->view, seen);
        advice->minute_deg = clock_cost_deg(stand, head, sky, minute_s);
        advice->has_sun = sun_guard_measure(&advice->sun, stand, axes, &advice->move, sky);
    }
}

/* Where the air lifts the target otherwise than the picture, a camera is turned by what is seen. */
static void turn_by_sight(struct aim *aim, const struct head_move *camera)
{
    aim->right_deg = aim->mirrored ? -camera->pan_deg : camera->pan_deg;
    aim->up_deg = camera->tilt_deg;
    aim->right_fields = aim->right_deg / aim->field_width_deg;
    aim->up_fields = aim->up_deg / aim->field_height_deg;
}

static void find_drift(struct advice *advice, const struct stand *stand,
                       const struct sky_ellipse *shape, double margin_px)
{
    advice->has_drift = drift_measure(&advice->after, stand, advice->move.turn, shape, margin_px, 0,
                                      ADVICE_FARTHEST);
    if (!drift_measure(&advice->now, stand, NULL, shape, margin_px, 0, ADVICE_FARTHEST)) {
        advice->now = (struct drift){0}; /* far from the picture */
    }
}

static void find_lead(struct advice *advice, const struct stand *stand,
                      const struct head_axes *axes, const struct sky_ellipse *shape,
                      const struct advice_wish *wish)
{
    if (wish->cadence_s > 0 && wish->batch > 0) {
        double length_s = wish->cadence_s * (wish->batch - 1);
        advice->batch = (struct batch){wish->settle_s, wish->settle_s + length_s};
        advice->has_lead = lead_find(&advice->lead, stand, axes, shape, &advice->batch);
    }
}

static void find_longest(struct advice *advice, const struct stand *stand,
                         const struct head_axes *axes, const struct sky_ellipse *shape,
                         double margin_px, const struct advice_wish *wish)
{
    if (!(wish->cadence_s > 0)) {
        return;
    }
    advice->longest = lead_longest(&advice->longest_lead, stand, axes, shape, margin_px,
                                   wish->settle_s, wish->cadence_s, MOST_FRAMES);
    advice->longest_batch = (struct batch){
        wish->settle_s, wish->settle_s + wish->cadence_s * fmax(0, advice->longest - 1)};
}

/* How much of the picture's edges is to be kept free, px. */
static double margin_of(const struct stand *stand, const struct advice_wish *wish)
{
    return wish->margin * fmin(stand->wcs.width, stand->wcs.height);
}

/* And the axes of the move. */
static void find_acts(struct advice *advice, struct head_axes *axes, const struct stand *stand,
                      const struct head *head, const struct aim_target *target,
                      const struct advice_wish *wish)
{
    static const struct head level = {0};
    double sky[3];
    *advice = (struct advice){.has_horizon = stand->ground.has_place, .smear_most_s = smear_most_s};
    ellipse_direction(sky, &target->shape, 0, 0);
    find_move(advice, axes, stand, head ? head : &level, sky);
    find_drift(advice, stand, &target->shape, margin_of(stand, wish));
    find_lead(advice, stand, axes, &target->shape, wish);
    for (int fit = 0; wish->smear_px > 0 && fit < SMEAR_FITS; fit++) {
        advice->smear_s[fit] = smear_time(&stand->wcs, stand->ground.utc, (enum smear_fit)fit,
                                          wish->smear_px, smear_most_s);
    }
}

void advice_find_acts(struct advice *advice, const struct stand *stand, const struct head *head,
                      const struct aim_target *target, const struct advice_wish *wish)
{
    struct head_axes axes;
    find_acts(advice, &axes, stand, head, target, wish);
}

void advice_find(struct advice *advice, const struct stand *stand, const struct head *head,
                 const struct aim_target *target, const struct advice_wish *wish)
{
    struct head_axes axes;
    double sky[3];
    find_acts(advice, &axes, stand, head, target, wish);
    aim_measure(&advice->aim, target, &stand->wcs, wish->margin);
    ellipse_direction(sky, &target->shape, 0, 0);
    if (advice->has_horizon) {
        find_angles(advice, stand, sky);
        turn_by_sight(&advice->aim, &advice->camera);
    }
    find_longest(advice, stand, &axes, &target->shape, margin_of(stand, wish), wish);
}

const struct head_move *advice_move(const struct advice *advice)
{
    return advice->has_lead ? &advice->lead.move : &advice->move;
}

int advice_path(struct advice_step step[ADVICE_STEPS], const struct stand *stand,
                const struct aim_target *target, double cadence_s)
{
    static const int frames[ADVICE_STEPS] = {0, 10, 25, 50, 100, 200, 300};
    double sky[3];
    int steps = 0;
    ellipse_direction(sky, &target->shape, 0, 0);
    for (int i = 0; i < ADVICE_STEPS; i++) {
        struct advice_step next = {.frames = frames[i]};
        if (stand_pixel(&next.x, &next.y, stand, NULL, sky, frames[i] * cadence_s)) {
            step[steps++] = next;
        }
    }
    return steps;
}
