#include "sky/wcs.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>

/* The tangent point and the unit vectors to its east and north. */
struct axes {
    double out[3], east[3], north[3];
};

static void axes_at(struct axes *axes, double ra_deg, double dec_deg)
{
    double ra = ra_deg * RAD_PER_DEG, dec = dec_deg * RAD_PER_DEG;
    double cos_ra = cos(ra), sin_ra = sin(ra), cos_dec = cos(dec), sin_dec = sin(dec);
    axes->out[0] = cos_dec * cos_ra;
    axes->out[1] = cos_dec * sin_ra;
    axes->out[2] = sin_dec;
    axes->east[0] = -sin_ra;
    axes->east[1] = cos_ra;
    axes->east[2] = 0;
    axes->north[0] = -sin_dec * cos_ra;
    axes->north[1] = -sin_dec * sin_ra;
    axes->north[2] = cos_dec;
}

static void powers(double power[WCS_MAX_ORDER + 1], double x, int order)
{
    power[0] = 1;
    for (int i = 1; i <= order; i++) {
        power[i] = power[i - 1] * x;
    }
}

/* What the polynomials add to (u, v). */
static void distortion(double *du, double *dv, const struct wcs *wcs, double u, double v)
{
    double up[WCS_MAX_ORDER + 1], vp[WCS_MAX_ORDER + 1];
    powers(up, u, wcs->order);
    powers(vp, v, wcs->order);
    *du = *dv = 0;
    for (int p = 0; p <= wcs->order; p++) {
        for (int q = p < 2 ? 2 - p : 0; p + q <= wcs->order; q++) {
            double term = up[p] * vp[q];
            *du += wcs->a[p][q] * term;
            *dv += wcs->b[p][q] * term;
        }
    }
}

/* The Jacobian of (u', v') by (u, v). */
static void distortion_slope(double j[2][2], const struct wcs *wcs, double u, double v)
{
    double up[WCS_MAX_ORDER + 1], vp[WCS_MAX_ORDER + 1];
    powers(up, u, wcs->order);
    powers(vp, v, wcs->order);
    j[0][0] = j[1][1] = 1;
    j[0][1] = j[1][0] = 0;
    for (int p = 0; p <= wcs->order; p++) {
        for (int q = p < 2 ? 2 - p : 0; p + q <= wcs->order; q++) {
            double by_u = p ? p * up[p - 1] * vp[q] : 0;
            double by_v = q ? q * up[p] * vp[q - 1] : 0;
            j[0][0] += wcs->a[p][q] * by_u;
            j[0][1] += wcs->a[p][q] * by_v;
            j[1][0] += wcs->b[p][q] * by_u;
            j[1][1] += wcs->b[p][q] * by_v;
        }
    }
}

/* Newton's method: near the edge of the invertible region a fixed point would crawl. */
static bool undistort(double *u, double *v, const struct wcs *wcs, double target_u, double target_v)
{
    double x = target_u, y = target_v, error = INFINITY, det = 0;
    for (int step = 0; step < 30; step++) {
        double dx, dy, j[2][2];
        distortion(&dx, &dy, wcs, x, y);
        double miss_x = x + dx - target_u, miss_y = y + dy - target_v;
        error = hypot(miss_x, miss_y);
        distortion_slope(j, wcs, x, y);
        det = j[0][0] * j[1][1] - j[0][1] * j[1][0];
        if (!isfinite(error) || !isfinite(det) || fabs(det) < 1e-9) {
            return false;
        }
        double step_x = (j[1][1] * miss_x - j[0][1] * miss_y) / det;
        double step_y = (j[0][0] * miss_y - j[1][0] * miss_x) / det;
        x -= step_x;
        y -= step_y;
        if (fabs(step_x) + fabs(step_y) < 1e-9) {
            break;
        }
    }
    /* Beyond a fold the polynomial comes back: such a root is not where the lens puts the star. */
    double moved = hypot(x - target_u, y - target_v);
    if (!(error < 1e-6) || det <= 0 || moved > 0.5 * hypot(target_u, target_v) + 1.0) {
        return false;
    }
    *u = x;
    *v = y;
    return true;
}

/* The axes of the plane: a cylinder's are turned. */
static void plane_axes(struct axes *axes, const struct wcs *wcs)
{
    axes_at(axes, wcs->ra_deg, wcs->dec_deg);
    double c = cos(wcs->turn_deg * RAD_PER_DEG), s = sin(wcs->turn_deg * RAD_PER_DEG);
    for (int i = 0; i < 3; i++) {
        double east = axes->east[i], north = axes->north[i];
        axes->east[i] = c * east - s * north;
        axes->north[i] = s * east + c * north;
    }
}

static void curved_direction(double direction[3], const struct wcs *wcs, double xi, double eta)
{
    double v[3];
    const double plane[2] = {xi, eta};
    struct axes axes;
    plane_axes(&axes, wcs);
    projection_vector(v, wcs->projection, plane);
    for (int i = 0; i < 3; i++) {
        direction[i] = v[0] * axes.east[i] + v[1] * axes.north[i] + v[2] * axes.out[i];
    }
}

static bool curved_plane(double *xi, double *eta, const struct wcs *wcs, const double direction[3])
{
    double plane[2];
    struct axes axes;
    plane_axes(&axes, wcs);
    const double v[3] = {vector_dot(direction, axes.east), vector_dot(direction, axes.north),
                         vector_dot(direction, axes.out)};
    const double reach = wcs->reach_deg * RAD_PER_DEG;
    bool within =
        projection_is_cylinder(wcs->projection) ? fabs(v[1]) <= sin(reach) : v[2] >= cos(reach);
    if ((reach > 0 && !within) || !projection_plane(plane, wcs->projection, v)) {
        return false;
    }
    *xi = plane[0] * DEG_PER_RAD;
    *eta = plane[1] * DEG_PER_RAD;
    return true;
}

static bool gnomonic_plane(double *xi, double *eta, const struct wcs *wcs,
                           const double direction[3])
{
    struct axes axes;
    axes_at(&axes, wcs->ra_deg, wcs->dec_deg);
    double along = vector_dot(direction, axes.out);
    if (!(along > 1e-9)) {
        return false;
    }
    *xi = vector_dot(direction, axes.east) / along * DEG_PER_RAD;
    *eta = vector_dot(direction, axes.north) / along * DEG_PER_RAD;
    return true;
}

void wcs_direction(double direction[3], const struct wcs *wcs, double px, double py)
{
    double u = px - wcs->x, v = py - wcs->y;
    if (wcs->order > 0) {
        double du, dv;
        distortion(&du, &dv, wcs, u, v);
        u += du;
        v += dv;
    }
    double xi = (wcs->cd[0][0] * u + wcs->cd[0][1] * v) * RAD_PER_DEG;
    double eta = (wcs->cd[1][0] * u + wcs->cd[1][1] * v) * RAD_PER_DEG;
    if (wcs->projection != PROJECTION_TAN) {
        curved_direction(direction, wcs, xi, eta);
        return;
    }
    double length = sqrt(1 + xi * xi + eta * eta);
    struct axes axes;
    axes_at(&axes, wcs->ra_deg, wcs->dec_deg);
    for (int i = 0; i < 3; i++) {
        direction[i] = (axes.out[i] + xi * axes.east[i] + eta * axes.north[i]) / length;
    }
}

void wcs_radec(double *ra_deg, double *dec_deg, const struct wcs *wcs, double px, double py)
{
    double v[3];
    wcs_direction(v, wcs, px, py);
    vector_to_radec(ra_deg, dec_deg, v);
}

bool wcs_pixel(double *px, double *py, const struct wcs *wcs, const double direction[3])
{
    double xi, eta;
    bool placed = wcs->projection == PROJECTION_TAN ? gnomonic_plane(&xi, &eta, wcs, direction)
                                                    : curved_plane(&xi, &eta, wcs, direction);
    if (!placed) {
        return false;
    }
    double det = wcs->cd[0][0] * wcs->cd[1][1] - wcs->cd[0][1] * wcs->cd[1][0];
    double u = (wcs->cd[1][1] * xi - wcs->cd[0][1] * eta) / det;
    double v = (wcs->cd[0][0] * eta - wcs->cd[1][0] * xi) / det;
    if (wcs->order > 0 && !undistort(&u, &v, wcs, u, v)) {
        return false;
    }
    if (!isfinite(u) || !isfinite(v)) {
        return false;
    }
    *px = wcs->x + u;
    *py = wcs->y + v;
    return true;
}

bool wcs_pixel_radec(double *px, double *py, const struct wcs *wcs, double ra_deg, double dec_deg)
{
    double v[3];
    vector_from_radec(v, ra_deg, dec_deg);
    return wcs_pixel(px, py, wcs, v);
}

static double middle_x(const struct wcs *wcs)
{
    return (wcs->width - 1) / 2.0;
}

static double middle_y(const struct wcs *wcs)
{
    return (wcs->height - 1) / 2.0;
}

/* How the direction changes over one pixel to the right and one down, about the middle; seen on
 * the axes east and north of the middle; radians. */
static void middle_steps(double right[2], double down[2], const struct wcs *wcs)
{
    double x = middle_x(wcs), y = middle_y(wcs), ra, dec, from[3], to[3];
    struct axes axes;
    wcs_centre(wcs, &ra, &dec);
    axes_at(&axes, ra, dec);
    for (int axis = 0; axis < 2; axis++) {
        double half_x = axis == 0 ? 0.5 : 0, half_y = axis == 0 ? 0 : 0.5;
        double *step = axis == 0 ? right : down;
        wcs_direction(from, wcs, x - half_x, y - half_y);
        wcs_direction(to, wcs, x + half_x, y + half_y);
        for (int i = 0; i < 3; i++) {
            to[i] -= from[i];
        }
        step[0] = vector_dot(to, axes.east);
        step[1] = vector_dot(to, axes.north);
    }
}

void wcs_centre(const struct wcs *wcs, double *ra_deg, double *dec_deg)
{
    wcs_radec(ra_deg, dec_deg, wcs, middle_x(wcs), middle_y(wcs));
}

double wcs_scale_arcsec(const struct wcs *wcs)
{
    double right[2], down[2];
    middle_steps(right, down, wcs);
    return sqrt(fabs(right[0] * down[1] - right[1] * down[0])) * DEG_PER_RAD * 3600;
}

double wcs_up_angle_deg(const struct wcs *wcs)
{
    double right[2], down[2];
    middle_steps(right, down, wcs);
    return angle_wrap_360(atan2(-down[0], -down[1]) * DEG_PER_RAD);
}

bool wcs_mirrored(const struct wcs *wcs)
{
    double right[2], down[2];
    middle_steps(right, down, wcs);
    /* An unmirrored picture with north up has east to the left: right = (-, 0), down = (0, -). */
    return right[0] * down[1] - right[1] * down[0] < 0;
}

void wcs_turn(struct wcs *wcs, double angle_deg)
{
    if (projection_is_cylinder(wcs->projection)) {
        wcs->turn_deg = angle_wrap_360(wcs->turn_deg + angle_deg);
        return;
    }
    double angle = angle_deg * RAD_PER_DEG;
    for (int i = 0; i < 2; i++) {
        double east = wcs->cd[0][i], north = wcs->cd[1][i];
        wcs->cd[0][i] = east * cos(angle) + north * sin(angle);
        wcs->cd[1][i] = north * cos(angle) - east * sin(angle);
    }
}

/* Angle from one direction to another, or to where the reach ends on that side, degrees. */
static double reached_angle(const struct wcs *wcs, const double from[3], const double to[3])
{
    double angle = vector_angle_deg(from, to), reference[3];
    if (!(wcs->reach_deg > 0) || projection_is_cylinder(wcs->projection)) {
        return angle;
    }
    vector_from_radec(reference, wcs->ra_deg, wcs->dec_deg);
    return fmin(angle, wcs->reach_deg + vector_angle_deg(from, reference));
}

void wcs_field(const struct wcs *wcs, double *width_deg, double *height_deg)
{
    double x = middle_x(wcs), y = middle_y(wcs);
    double middle[3], left[3], right[3], top[3], bottom[3];
    wcs_direction(middle, wcs, x, y);
    wcs_direction(left, wcs, -0.5, y);
    wcs_direction(right, wcs, wcs->width - 0.5, y);
    wcs_direction(top, wcs, x, -0.5);
    wcs_direction(bottom, wcs, x, wcs->height - 0.5);
    *width_deg = reached_angle(wcs, middle, left) + reached_angle(wcs, middle, right);
    *height_deg = reached_angle(wcs, middle, top) + reached_angle(wcs, middle, bottom);
}

double wcs_radius_deg(const struct wcs *wcs)
{
    double middle[3], corner[3], radius = 0;
    wcs_direction(middle, wcs, middle_x(wcs), middle_y(wcs));
    for (int i = 0; i < 4; i++) {
        wcs_direction(corner, wcs, i & 1 ? wcs->width - 0.5 : -0.5,
                      i & 2 ? wcs->height - 0.5 : -0.5);
        radius = fmax(radius, reached_angle(wcs, middle, corner));
    }
    return projection_is_cylinder(wcs->projection) ? 180 : radius;
}

bool wcs_inside(const struct wcs *wcs, double px, double py)
{
    return px >= -0.5 && py >= -0.5 && px < wcs->width - 0.5 && py < wcs->height - 0.5;
}

bool wcs_reaches(const struct wcs *wcs, double px, double py)
{
    double v[3];
    if (!(wcs->reach_deg > 0)) {
        return true;
    }
    wcs_direction(v, wcs, px, py);
    return wcs_pixel(&px, &py, wcs, v);
}

double wcs_corner_distortion_px(const struct wcs *wcs)
{
    double largest = 0;
    for (int i = 0; i < 4; i++) {
        double x = i & 1 ? wcs->width - 0.5 : -0.5, y = i & 2 ? wcs->height - 0.5 : -0.5;
        double du, dv;
        distortion(&du, &dv, wcs, x - wcs->x, y - wcs->y);
        largest = fmax(largest, hypot(du, dv));
    }
    return largest;
}

double wcs_corner_distortion(const struct wcs *wcs)
{
    double outward = 0, square = 0;
    for (int i = 0; i < 4; i++) {
        double u = (i & 1 ? wcs->width - 0.5 : -0.5) - wcs->x;
        double v = (i & 2 ? wcs->height - 0.5 : -0.5) - wcs->y;
        double du, dv;
        distortion(&du, &dv, wcs, u, v);
        outward -= u * du + v * dv;
        square += u * u + v * v;
    }
    return outward / (square - outward);
}
