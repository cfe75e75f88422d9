#include "tripod/advice_error.h"

#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* What may be off: the camera's three turns, the scale, and two leans of the pan axis. */
enum { TURN_RIGHT, TURN_UP, TURN_OUT, SCALE, LEAN_EAST, LEAN_NORTH, DOUBTS };

/* Steps so small that all goes in proportion, so large that it is not lost in rounding: so many
 * deviations, but not below. */
static const double least_step_deg = 1e-3, least_step = 1e-5;

static double step_of(const struct advice_doubt *doubt, int which)
{
    const double of[DOUBTS] = {doubt->middle_deg, doubt->middle_deg, doubt->turn_deg,
                               doubt->scale,      doubt->head_deg,   doubt->head_deg};
    return of[which];
}

/* The stand, or the head, one step off. */
static void step_off(struct stand *stand, struct head *head, int which, double step)
{
    const struct stand was = *stand;
    struct wcs wcs = was.wcs;
    double turn[3][3];
    if (which <= TURN_OUT) {
        const double *const axis[] = {was.view.right, was.view.up, was.view.out};
        matrix_turn(turn, axis[which], step);
        stand_turned_wcs(&wcs, &was, turn);
    }
    for (int i = 0; which == SCALE && i < 4; i++) {
        wcs.cd[i / 2][i % 2] *= 1 + step;
    }
    head->lean_east_deg += which == LEAN_EAST ? step : 0;
    head->lean_north_deg += which == LEAN_NORTH ? step : 0;
    stand_make(stand, &wcs, &was.ground);
}

static double square(double a, double b, double weight)
{
    return pow((a - b) * weight, 2);
}

static void add_drift(double *sum, const struct drift *one, const struct drift *other,
                      double weight)
{
    if (one->changes && other->changes && one->inside == other->inside) {
        *sum += square(one->change_s, other->change_s, weight);
    }
}

/* What one step changed, in squares, as much as a deviation would. */
static void add_step(struct advice_error *sum, const struct advice *was, const struct advice *now,
                     double weight)
{
    const struct head_move *a = advice_move(was), *b = advice_move(now);
    sum->pan_deg += pow(angle_wrap_180(a->pan_deg - b->pan_deg) * weight, 2);
    sum->tilt_deg += square(a->tilt_deg, b->tilt_deg, weight);
    add_drift(&sum->now_s, &was->now, &now->now, weight);
    add_drift(&sum->after_s, &was->after, &now->after, weight);
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        sum->smear_s[fit] += square(was->smear_s[fit], now->smear_s[fit], weight);
    }
}

static double root_if(double sum, bool known)
{
    return known ? sqrt(sum) : (double)NAN;
}

bool advice_error_find(struct advice_error *error, const struct advice *advice,
                       const struct stand *stand, const struct head *head,
                       const struct aim_target *target, const struct advice_wish *wish,
                       const struct advice_doubt *doubt)
{
    /* What terms of the lens that the fit does not take up do to the time of a smear. */
    const double lens_share = 0.12;
    struct advice_error sum = {0};
    const bool known = doubt->middle_deg > 0;
    for (int which = 0; known && which < DOUBTS; which++) {
        double deviation = step_of(doubt, which);
        if (!(deviation > 0)) {
            continue;
        }
        struct stand moved = *stand;
        struct head leaning = head ? *head : (struct head){0};
        struct advice off;
        double step = fmax(deviation, which == SCALE ? least_step : least_step_deg);
        step_off(&moved, &leaning, which, step);
        advice_find_acts(&off, &moved, &leaning, target, wish);
        add_step(&sum, advice, &off, deviation / step);
    }
    error->pan_deg = root_if(sum.pan_deg, known);
    error->tilt_deg = root_if(sum.tilt_deg, known);
    error->now_s = root_if(sum.now_s, known && advice->now.changes);
    error->after_s = root_if(sum.after_s, known && advice->has_drift && advice->after.changes);
    for (int fit = 0; fit < SMEAR_FITS; fit++) {
        bool smears = advice->smear_s[fit] > 0 && advice->smear_s[fit] < advice->smear_most_s;
        double lens_s = lens_share * advice->smear_s[fit];
        error->smear_s[fit] = root_if(sum.smear_s[fit] + lens_s * lens_s, known && smears);
    }
    /* A batch is led, so that it has the same time on both sides of its middle. */
    error->longest_frames =
        advice->longest > 0 && wish->cadence_s > 0 ? error->after_s / wish->cadence_s : (double)NAN;
    return known;
}
