#include "tripod/drift.h"

#include "objects/cover.h"
#include "sky/vector.h"

#include <math.h>

static const double second = 1;

const char *frame_edge_word(enum frame_edge edge)
{
    static const char *const words[] = {"left", "right", "top", "bottom"};
    return words[edge];
}

/* The target as it will be, put where this picture shows that place of the ground. */
static void target_later(struct sky_ellipse *later, const struct stand *stand, double turn[3][3],
                         const struct sky_ellipse *target, double later_s)
{
    double centre[3], tip[3], ra, dec;
    ellipse_direction(centre, target, 0, 0);
    radec_offset(&ra, &dec, target->ra_deg, target->dec_deg, target->turn_deg, 0.1);
    vector_from_radec(tip, ra, dec);
    stand_back(centre, stand, turn, centre, later_s);
    stand_back(tip, stand, turn, tip, later_s);
    *later = *target;
    vector_to_radec(&later->ra_deg, &later->dec_deg, centre);
    vector_to_radec(&ra, &dec, tip);
    later->turn_deg = radec_position_angle_deg(later->ra_deg, later->dec_deg, ra, dec);
}

bool drift_is_inside(const struct stand *stand, double turn[3][3], const struct sky_ellipse *target,
                     double margin_px, double later_s)
{
    struct sky_ellipse later;
    target_later(&later, stand, turn, target, later_s);
    return cover_is_whole(&stand->wcs, &later, margin_px);
}

static bool find_speed(struct drift *drift, const struct stand *stand, double turn[3][3],
                       const struct sky_ellipse *target, double from_s)
{
    double v[3], x[2], y[2];
    ellipse_direction(v, target, 0, 0);
    for (int i = 0; i < 2; i++) {
        if (!stand_pixel(&x[i], &y[i], stand, turn, v, from_s + i * second)) {
            return false;
        }
    }
    drift->right_px_s = (x[1] - x[0]) / second;
    drift->up_px_s = (y[0] - y[1]) / second;
    return true;
}

/* The edge that the target's rim overshoots most, just outside. */
static enum frame_edge find_edge(const struct stand *stand, double turn[3][3],
                                 const struct sky_ellipse *target, double later_s)
{
    double beyond[4] = {-INFINITY, -INFINITY, -INFINITY, -INFINITY};
    struct sky_ellipse later;
    double rim[ELLIPSE_RIM_MOST][3];
    int most = 0;
    target_later(&later, stand, turn, target, later_s);
    int points = ellipse_rim(rim, &later);
    for (int i = 0; i < points; i++) {
        double x, y;
        if (wcs_pixel(&x, &y, &stand->wcs, rim[i])) {
            beyond[EDGE_LEFT] = fmax(beyond[EDGE_LEFT], -x);
            beyond[EDGE_RIGHT] = fmax(beyond[EDGE_RIGHT], x - (stand->wcs.width - 1));
            beyond[EDGE_TOP] = fmax(beyond[EDGE_TOP], -y);
            beyond[EDGE_BOTTOM] = fmax(beyond[EDGE_BOTTOM], y - (stand->wcs.height - 1));
        }
    }
    for (int i = 1; i < 4; i++) {
        most = beyond[i] > beyond[most] ? i : most;
    }
    return (enum frame_edge)most;
}

/* A time in which the sky moves by a small part of the picture; but however small that is, the
 * search ends after so many steps. */
static double search_step(const struct drift *drift, const struct wcs *wcs, double most_s)
{
    const double part = 0.03, longest_s = 300, most_steps = 4000;
    double shorter = wcs->width < wcs->height ? wcs->width : wcs->height;
    double step = part * shorter / hypot(drift->right_px_s, drift->up_px_s);
    return fmin(longest_s, fmax(step, most_s / most_steps));
}

bool drift_measure(struct drift *drift, const struct stand *stand, double turn[3][3],
                   const struct sky_ellipse *target, double margin_px, double from_s, double most_s)
{
    *drift = (struct drift){0};
    if (!find_speed(drift, stand, turn, target, from_s)) {
        return false;
    }
    drift->inside = drift_is_inside(stand, turn, target, margin_px, from_s);
    double step = search_step(drift, &stand->wcs, most_s), before = 0, after = 0;
    while (!drift->changes && after < most_s) {
        before = after;
        after = fmin(after + step, most_s);
        drift->changes =
            drift_is_inside(stand, turn, target, margin_px, from_s + after) != drift->inside;
    }
    while (drift->changes && after - before > second / 10) {
        double middle = (before + after) / 2;
        bool changed =
            drift_is_inside(stand, turn, target, margin_px, from_s + middle) != drift->inside;
        *(changed ? &after : &before) = middle;
    }
    drift->change_s = from_s + after;
    drift->edge = find_edge(stand, turn, target, from_s + (drift->inside ? after : before));
    return true;
}
