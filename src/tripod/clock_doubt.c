#include "tripod/clock_doubt.h"

#include "base/text.h"
#include "base/units.h"
#include "sky/sun_moon.h"
#include "sky/vector.h"
#include "tripod/sun_guard.h"

#include <math.h>
#include <stdio.h>

static const double future_s = 300, ground_deg = -3;
static const double level_deviations = 1.5, lean_deviations = 6;
static const double hour_s = 3600;

static const double slow_s = 900, beside_plan_s = 7200, day_s = 86400;
static const double most_days = 3; /* else frames are of another night, and come as if taken */

/* A clock that is set by hand is off its whole hours or days by no more than this. */
static const double whole_s = 100;

const char *clock_doubt_key(enum clock_doubt_by by)
{
    static const char *const keys[CLOCK_DOUBTS] = {"none",  "future", "sun", "ground",
                                                   "level", "comes",  "plan"};
    return by < CLOCK_DOUBTS ? keys[by] : keys[0];
}

/* How the camera would have stood if the picture had been taken later_s seconds later. */
static void view_later(struct view *view, const struct stand *stand, double later_s)
{
    const double step_px = 10;
    double x = (stand->wcs.width - 1) / 2.0, y = (stand->wcs.height - 1) / 2.0, above[3];
    wcs_direction(view->out, &stand->wcs, x, y);
    wcs_direction(above, &stand->wcs, x, y - step_px);
    ground_from_sky(view->out, &stand->ground, view->out, later_s);
    ground_from_sky(above, &stand->ground, above, later_s);
    vector_cross(view->right, view->out, above);
    vector_normalise(view->right);
    vector_cross(view->up, view->right, view->out);
}

static double altitude_of(const double v[3])
{
    return asin(fmax(-1, fmin(1, v[2]))) * DEG_PER_RAD;
}

/* How far the side or the upper edge, whichever is nearer to it, is off level: both cameras that
 * lie and those that stand are levelled. */
static double lean_of(const struct view *view)
{
    return fmin(fabs(altitude_of(view->right)), fabs(altitude_of(view->up)));
}

/* How far the camera is turned about the line of sight from the nearer of the two. */
static double turn_of(const struct view *view)
{
    double azimuth_deg, altitude_deg, roll_deg;
    view_angles(&azimuth_deg, &altitude_deg, &roll_deg, view);
    return fabs(remainder(roll_deg, 90));
}

static bool sun_then(double *altitude_deg, const struct stand *stand, double later_s)
{
    struct sun_moon_position sun;
    bool known = sun_moon_from_place(&sun, THE_SUN, &stand->ground.place,
                                     time_add(stand->ground.utc, later_s));
    *altitude_deg = known ? sun.altitude_deg : -90;
    return known && sun_guard_is_day(sun.altitude_deg);
}

/* Whether stars could show in this picture then, and the camera had a sky to look at. */
static bool is_possible(const struct view *view, const struct stand *stand, double later_s)
{
    double sun_deg;
    return altitude_of(view->out) > ground_deg && !sun_then(&sun_deg, stand, later_s);
}

/* The clock, whole hours off, by which the camera was most nearly level. False if none of them
 * makes it so. */
static bool find_level_hours(double *fast_s, const struct stand *stand, double held_deg,
                             int most_hours)
{
    double best = level_deviations * held_deg;
    bool found = false;
    for (int hours = -most_hours; hours <= most_hours; hours++) {
        struct view view;
        double later_s = hours * hour_s;
        view_later(&view, stand, later_s);
        if (hours && turn_of(&view) <= best && is_possible(&view, stand, later_s)) {
            best = turn_of(&view);
            *fast_s = -later_s;
            found = true;
        }
    }
    return found;
}

/* Where one sign says that the clock is wrong: the hour that would do, if level says so too. */
static void settle(struct clock_doubt *doubt, enum clock_doubt_by by, double shown_deg,
                   const struct stand *stand, double held_deg)
{
    *doubt = (struct clock_doubt){by, (double)NAN, shown_deg};
    find_level_hours(&doubt->fast_s, stand, held_deg, 2);
}

static void doubt_horizon(struct clock_doubt *doubt, const struct stand *stand, double held_deg)
{
    double sun_deg, altitude_deg = altitude_of(stand->view.out);
    double lean_deg = lean_of(&stand->view);
    if (sun_then(&sun_deg, stand, 0)) {
        settle(doubt, CLOCK_DOUBT_SUN, sun_deg, stand, held_deg);
    } else if (altitude_deg < ground_deg) {
        settle(doubt, CLOCK_DOUBT_GROUND, altitude_deg, stand, held_deg);
    } else if (lean_deg > lean_deviations * held_deg &&
               find_level_hours(&doubt->fast_s, stand, held_deg, 1)) {
        doubt->by = CLOCK_DOUBT_LEVEL;
        doubt->shown_deg = lean_deg;
    }
}

void clock_doubt_find(struct clock_doubt *doubt, const struct stand *stand, const struct utc *now,
                      double held_deg)
{
    double ahead_s = now ? time_between(*now, stand->ground.utc) : 0;
    *doubt = (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
    if (ahead_s > future_s) {
        *doubt = (struct clock_doubt){CLOCK_DOUBT_FUTURE, ahead_s, 0};
    } else if (stand->ground.has_place) {
        doubt_horizon(doubt, stand, held_deg);
    }
}

void clock_doubt_of_lag(struct clock_doubt *doubt, double lag_s)
{
    bool off = lag_s > slow_s || lag_s < -future_s;
    *doubt = off && fabs(lag_s) < most_days * day_s
                 ? (struct clock_doubt){CLOCK_DOUBT_COMES, -lag_s, 0}
                 : (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
}

void clock_doubt_of_plan(struct clock_doubt *doubt, double after_begin_s, double after_end_s)
{
    *doubt = (struct clock_doubt){.by = CLOCK_DOUBT_NONE};
    for (int side = -1; side <= 1; side += 2) {
        if (after_begin_s - side * day_s > -beside_plan_s &&
            after_end_s - side * day_s < beside_plan_s && after_begin_s - after_end_s < day_s / 2) {
            *doubt = (struct clock_doubt){CLOCK_DOUBT_PLAN, side * day_s, 0};
        }
    }
}

/* "an hour", "2 hours", "a day", "37 min" */
static void write_span(char *out, size_t size, double fast_s)
{
    const double near_min = 10;
    double minutes = round(fabs(fast_s) / 60), hours = round(minutes / 60),
           days = round(hours / 24);
    if (days >= 1 && fabs(minutes - days * 1440) <= near_min && days < 2) {
        snprintf(out, size, "a day");
    } else if (days >= 2) {
        snprintf(out, size, "%.0f days", days);
    } else if (hours >= 1 && fabs(minutes - hours * 60) <= near_min && hours < 2) {
        snprintf(out, size, "an hour");
    } else if (hours >= 2) {
        snprintf(out, size, "%.0f hours", hours);
    } else {
        snprintf(out, size, "%.0f min", minutes);
    }
}

void clock_doubt_write_whole(char *out, size_t size, double seconds)
{
    const double day_hours = 24;
    double hours = round(fabs(seconds) / hour_s), days = round(hours / day_hours);
    out[0] = '\0';
    if (hours < 1 || fabs(fabs(seconds) - hours * hour_s) > whole_s) {
        return;
    }
    if (hours == days * day_hours) {
        snprintf(out, size, days == 1 ? " (a day)" : " (%.0f days)", days);
    } else {
        snprintf(out, size, hours == 1 ? " (an hour)" : " (%.0f hours)", hours);
    }
}

void clock_doubt_write(char *out, size_t size, const struct clock_doubt *doubt)
{
    char fault[60] = "wrong, or its zone or the place is", span[40];
    write_span(span, sizeof span, doubt->fast_s);
    if (isfinite(doubt->fast_s)) {
        snprintf(fault, sizeof fault, "%s %s", span, doubt->fast_s > 0 ? "ahead" : "behind");
    }
    out[0] = '\0';
    switch (doubt->by) {
    case CLOCK_DOUBT_FUTURE:
        text_append(out, size,
                    "the camera's clock is %s of this computer's: one of the two, or the camera's "
                    "zone, is wrong",
                    fault);
        return;
    case CLOCK_DOUBT_SUN:
        text_append(out, size, "the camera's clock seems %s: the Sun would have been at %+.0f°",
                    fault, doubt->shown_deg);
        break;
    case CLOCK_DOUBT_GROUND:
        text_append(
            out, size,
            "the camera's clock seems %s: the camera would have looked %.0f° into the ground",
            fault, -doubt->shown_deg);
        break;
    case CLOCK_DOUBT_LEVEL:
        text_append(out, size,
                    "the camera's clock seems %s (summer time?): by it the camera leans %.0f°, "
                    "else it would be level",
                    fault, doubt->shown_deg);
        break;
    case CLOCK_DOUBT_COMES:
        text_append(out, size,
                    "the camera's clock seems %s: frames come as they are taken, but by it %s %s",
                    fault, span, doubt->fast_s > 0 ? "too early" : "too late");
        break;
    case CLOCK_DOUBT_PLAN:
        text_append(out, size,
                    "the camera's clock seems %s: by it this is the night %s the one that was "
                    "planned",
                    fault, doubt->fast_s > 0 ? "after" : "before");
        break;
    case CLOCK_DOUBT_NONE:
    case CLOCK_DOUBTS:
        break;
    }
}
