#include "match/wcs_fit.h"

#include "base/least_squares.h"
#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

enum { MAX_TERMS = (WCS_MAX_ORDER + 1) * (WCS_MAX_ORDER + 2) / 2, POSE_GRID = 17 };

static int fill_terms(double term[MAX_TERMS], double u, double v, int order)
{
    int n = 0;
    double up[WCS_MAX_ORDER + 1] = {1}, vp[WCS_MAX_ORDER + 1] = {1};
    for (int i = 1; i <= order; i++) {
        up[i] = up[i - 1] * u;
        vp[i] = vp[i - 1] * v;
    }
    for (int degree = 0; degree <= order; degree++) {
        for (int q = 0; q <= degree; q++) {
            term[n++] = up[degree - q] * vp[q];
        }
    }
    return n;
}

/* Tangent plane coordinates in degrees; false beyond 85 degrees from the tangent point. */
static bool to_plane(double plane[2], const struct wcs *wcs, const double v[3])
{
    double out[3], east[3], north[3];
    const double ra = wcs->ra_deg * RAD_PER_DEG;
    vector_from_radec(out, wcs->ra_deg, wcs->dec_deg);
    east[0] = -sin(ra);
    east[1] = cos(ra);
    east[2] = 0;
    vector_cross(north, out, east);
    double z = vector_dot(v, out);
    if (z < 0.087) {
        return false;
    }
    plane[0] = vector_dot(v, east) / z * DEG_PER_RAD;
    plane[1] = vector_dot(v, north) / z * DEG_PER_RAD;
    return true;
}

/* Moves the tangent point on the sky to where the plane has these coordinates. */
static void move_tangent(struct wcs *wcs, double xi_deg, double eta_deg)
{
    double distance = atan(hypot(xi_deg, eta_deg) * RAD_PER_DEG) * DEG_PER_RAD;
    double angle = atan2(xi_deg, eta_deg) * DEG_PER_RAD;
    radec_offset(&wcs->ra_deg, &wcs->dec_deg, wcs->ra_deg, wcs->dec_deg, angle, distance);
}

/* Splits fitted polynomials of scaled pixels into CD matrix and SIP terms. */
static bool set_terms(struct wcs *wcs, double solved[2][MAX_TERMS], int order, double scale)
{
    for (int axis = 0; axis < 2; axis++) {
        wcs->cd[axis][0] = solved[axis][1] / scale;
        wcs->cd[axis][1] = solved[axis][2] / scale;
    }
    double det = wcs->cd[0][0] * wcs->cd[1][1] - wcs->cd[0][1] * wcs->cd[1][0];
    if (!(fabs(det) > 0) || !isfinite(det)) {
        return false;
    }
    wcs->order = order > 1 ? order : 0;
    memset(wcs->a, 0, sizeof wcs->a);
    memset(wcs->b, 0, sizeof wcs->b);
    int n = 3;
    double unit = scale;
    for (int degree = 2; degree <= order; degree++) {
        unit *= scale;
        for (int q = 0; q <= degree; q++, n++) {
            double xi = solved[0][n] / unit, eta = solved[1][n] / unit;
            wcs->a[degree - q][q] = (wcs->cd[1][1] * xi - wcs->cd[0][1] * eta) / det;
            wcs->b[degree - q][q] = (wcs->cd[0][0] * eta - wcs->cd[1][0] * xi) / det;
        }
    }
    return true;
}

static bool fit_plane(double solved[2][MAX_TERMS], const struct wcs *wcs,
                      const struct sighting *sighting, int count, int order, double scale)
{
    struct least_squares ls[2] = {{.n = (order + 1) * (order + 2) / 2}};
    ls[1].n = ls[0].n;
    for (int i = 0; i < count; i++) {
        double term[MAX_TERMS], plane[2];
        if (!to_plane(plane, wcs, sighting[i].v)) {
            continue;
        }
        fill_terms(term, (sighting[i].x - wcs->x) / scale, (sighting[i].y - wcs->y) / scale, order);
        for (int axis = 0; axis < 2; axis++) {
            least_squares_add(&ls[axis], term, plane[axis], sighting[i].weight);
        }
    }
    return least_squares_solve(solved[0], NULL, &ls[0]) &&
           least_squares_solve(solved[1], NULL, &ls[1]);
}

bool wcs_fit(struct wcs *wcs, const struct sighting *sighting, int count, int order)
{
    struct wcs made = *wcs;
    double solved[2][MAX_TERMS], scale = 0.5 * hypot(made.width, made.height);
    for (int round = 0; round < 2; round++) {
        if (!fit_plane(solved, &made, sighting, count, order, scale)) {
            return false;
        }
        move_tangent(&made, solved[0][0], solved[1][0]);
    }
    if (!fit_plane(solved, &made, sighting, count, order, scale) ||
        !set_terms(&made, solved, order, scale)) {
        return false;
    }
    *wcs = made;
    return true;
}

bool wcs_from_pose(struct wcs *wcs, const struct pose *pose, const struct pair_finder *finder)
{
    struct sighting grid[POSE_GRID * POSE_GRID];
    const double axis[2] = {pose->x, pose->y};
    double width = finder->list->width, height = finder->list->height;
    struct wcs made = {.width = (int)width, .height = (int)height};
    pair_from_pose(&made.x, &made.y, finder, axis);
    vector_to_radec(&made.ra_deg, &made.dec_deg, pose->axis[2]);
    for (int i = 0; i < POSE_GRID * POSE_GRID; i++) {
        struct sighting *s = &grid[i];
        double p[2];
        s->x = (i % POSE_GRID) * (width - 1) / (POSE_GRID - 1);
        s->y = (i / POSE_GRID) * (height - 1) / (POSE_GRID - 1);
        s->weight = 1;
        pair_to_pose(p, finder, s->x, s->y);
        pose_direction(s->v, pose, p);
    }
    int order = fabs(pose->distortion) < 1e-5 ? 1 : WCS_FIT_MAX_ORDER;
    if (!wcs_fit(&made, grid, POSE_GRID * POSE_GRID, order)) {
        return false;
    }
    *wcs = made;
    return true;
}
