#include "match/curved_camera.h"

#include "base/least_squares.h"
#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

enum { FOCAL = 3, AXIS = 4, TERMS = 6, FIT_ROUNDS = 5 };

/* For derivatives by the turns, radians: a place moves by some hundredths of a pixel. */
static const double turn_step = 1e-5;

static void to_camera(double n[3], const struct curved_camera *camera, const double v[3])
{
    for (int i = 0; i < 3; i++) {
        n[i] = vector_dot(v, camera->axis[i]);
    }
}

/* The slope and value of r (1 + terms) at r, both of r in units of unit_px. */
static double bent(double *slope, const double term[CURVED_TERMS], double r)
{
    double s = r * r, a = term[0], b = term[1], c = term[2];
    *slope = 1 + s * (3 * a + s * (5 * b + s * 7 * c));
    return r * (1 + s * (a + s * (b + s * c)));
}

/* Where the terms put what an ideal lens has at this radius, and the slope there; negative where
 * they fold over. */
static double unbend(double *slope, const struct curved_camera *camera, double ideal)
{
    double wanted = ideal / camera->unit_px, r = wanted;
    *slope = 1;
    if (camera->term[0] == 0 && camera->term[1] == 0 && camera->term[2] == 0) {
        return ideal;
    }
    for (int i = 0; i < 12; i++) {
        double step = (bent(slope, camera->term, r) - wanted) / *slope;
        r -= step;
        if (!(*slope > 0.2) || !(r >= 0)) {
            return -1;
        }
        if (fabs(step) < 1e-10) {
            break;
        }
    }
    return r * camera->unit_px;
}

/* A place and what it was made from. */
struct spot {
    double p[2];
    double along[2]; /* unit vector from the axis */
    double r, ideal, slope;
};

/* The place of a direction in camera axes. */
static bool place(struct spot *spot, const struct curved_camera *camera, const double n[3])
{
    double plane[2];
    if (!projection_plane(plane, camera->kind, n)) {
        return false;
    }
    double length = hypot(plane[0], plane[1]);
    spot->ideal = camera->focal_px * length;
    spot->r = unbend(&spot->slope, camera, spot->ideal);
    if (spot->r < 0) {
        return false;
    }
    spot->along[0] = length > 1e-12 ? plane[0] / length : 1;
    spot->along[1] = length > 1e-12 ? plane[1] / length : 0;
    spot->p[0] = camera->x + spot->r * spot->along[0];
    spot->p[1] = camera->y + spot->r * spot->along[1];
    return true;
}

bool curved_project(double p[2], const struct curved_camera *camera, const double v[3])
{
    double n[3];
    struct spot spot;
    to_camera(n, camera, v);
    if (!place(&spot, camera, n)) {
        return false;
    }
    p[0] = spot.p[0];
    p[1] = spot.p[1];
    return true;
}

/* A direction in camera axes after the camera was turned by so much about one of them. */
static void turn_camera(double out[3], const double n[3], int about, double angle)
{
    int next = (about + 1) % 3, last = (about + 2) % 3;
    out[about] = n[about];
    out[next] = n[next] + angle * n[last];
    out[last] = n[last] - angle * n[next];
}

static double *number_of(struct curved_camera *camera, int i)
{
    return i == FOCAL      ? &camera->focal_px
           : i == AXIS     ? &camera->x
           : i == AXIS + 1 ? &camera->y
                           : &camera->term[i - TERMS];
}

/* Derivatives of a place by the nine numbers. */
static bool slopes(double p[2], double jacobian[2][CURVED_SIZE], const struct curved_camera *camera,
                   const double v[3])
{
    double n[3], turned[3];
    struct spot spot, moved;
    to_camera(n, camera, v);
    if (!place(&spot, camera, n)) {
        return false;
    }
    for (int i = 0; i < FOCAL; i++) {
        turn_camera(turned, n, i, turn_step);
        if (!place(&moved, camera, turned)) {
            return false;
        }
        jacobian[0][i] = (moved.p[0] - spot.p[0]) / turn_step;
        jacobian[1][i] = (moved.p[1] - spot.p[1]) / turn_step;
    }
    double share = spot.r / camera->unit_px, power = spot.r;
    for (int k = 0; k < 2; k++) {
        jacobian[k][FOCAL] = spot.along[k] * spot.ideal / spot.slope;
        jacobian[k][AXIS] = k == 0;
        jacobian[k][AXIS + 1] = k == 1;
        p[k] = spot.p[k];
    }
    for (int i = 0; i < CURVED_TERMS; i++) {
        power *= share * share;
        jacobian[0][TERMS + i] = -spot.along[0] * power / spot.slope;
        jacobian[1][TERMS + i] = -spot.along[1] * power / spot.slope;
    }
    return true;
}

/* The variance of a sum of the nine numbers, each so many times. */
static double variance_of_row(const struct curved_camera *camera, const double row[CURVED_SIZE])
{
    double sum = 0;
    for (int i = 0; i < CURVED_SIZE; i++) {
        for (int j = 0; j < CURVED_SIZE; j++) {
            sum += row[i] * camera->covariance[i][j] * row[j];
        }
    }
    return fmax(0, sum);
}

double curved_variance(const struct curved_camera *camera, const double v[3])
{
    double p[2], jacobian[2][CURVED_SIZE];
    return slopes(p, jacobian, camera, v)
               ? (variance_of_row(camera, jacobian[0]) + variance_of_row(camera, jacobian[1])) / 2
               : INFINITY;
}

void curved_cross_errors(double *scale_error, double *turn_error,
                         const struct curved_camera *camera, double arm[4][3])
{
    double p[4][2], by[4][2][CURVED_SIZE], grow[CURVED_SIZE], turn[CURVED_SIZE];
    *scale_error = *turn_error = NAN;
    for (int i = 0; i < 4; i++) {
        if (!slopes(p[i], by[i], camera, arm[i])) {
            return;
        }
    }
    double across = 2 * hypot(p[0][0] - p[1][0], p[0][1] - p[1][1]);
    double along = 2 * hypot(p[2][0] - p[3][0], p[2][1] - p[3][1]);
    for (int k = 0; k < CURVED_SIZE; k++) {
        grow[k] = (by[0][0][k] - by[1][0][k]) / across + (by[2][1][k] - by[3][1][k]) / along;
        turn[k] = (by[0][1][k] - by[1][1][k]) / across - (by[2][0][k] - by[3][0][k]) / along;
    }
    *scale_error = sqrt(variance_of_row(camera, grow));
    *turn_error = sqrt(variance_of_row(camera, turn));
}

/* Three unit vectors at right angles, the first along a, the third across a and b. */
static bool triad(double t[3][3], const double a[3], const double b[3])
{
    vector_cross(t[2], a, b);
    if (!(vector_dot(t[2], t[2]) > 1e-12)) {
        return false;
    }
    vector_normalise(t[2]);
    memcpy(t[0], a, sizeof t[0]);
    vector_cross(t[1], t[2], t[0]);
    return true;
}

/* The direction of a place, in camera axes. */
static void look_along(double n[3], const struct curved_camera *camera, const double p[2])
{
    double u = p[0] - camera->x, v = p[1] - camera->y, slope;
    double r = hypot(u, v) / camera->unit_px;
    double stretch =
        r > 0 ? bent(&slope, camera->term, r) / r / camera->focal_px : 1 / camera->focal_px;
    const double plane[2] = {u * stretch, v * stretch};
    projection_vector(n, camera->kind, plane);
}

bool curved_point(struct curved_camera *camera, const struct curved_sighting pair[2])
{
    double n[2][3], inside[3][3], outside[3][3];
    for (int i = 0; i < 2; i++) {
        look_along(n[i], camera, pair[i].p);
    }
    if (!triad(inside, n[0], n[1]) || !triad(outside, pair[0].v, pair[1].v)) {
        return false;
    }
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 3; k++) {
            camera->axis[i][k] = 0;
            for (int m = 0; m < 3; m++) {
                camera->axis[i][k] += inside[m][i] * outside[m][k];
            }
        }
    }
    return true;
}

static void move(struct curved_camera *camera, const double step[CURVED_SIZE])
{
    double about[3];
    for (int k = 0; k < 3; k++) {
        about[k] = 0;
        for (int i = 0; i < 3; i++) {
            about[k] += step[i] * camera->axis[i][k];
        }
    }
    double angle = sqrt(vector_dot(about, about));
    if (angle > 0) {
        vector_normalise(about);
        for (int i = 0; i < 3; i++) {
            vector_turn(camera->axis[i], about, angle * DEG_PER_RAD);
        }
    }
    camera->focal_px *= exp(step[FOCAL]);
    for (int i = AXIS; i < CURVED_SIZE; i++) {
        *number_of(camera, i) += step[i];
    }
}

static void add_priors(struct least_squares *ls, struct curved_camera *camera,
                       const struct curved_prior *prior)
{
    const bool cylinder = projection_is_cylinder(camera->kind);
    for (int i = AXIS; i < CURVED_SIZE; i++) {
        double row[CURVED_SIZE] = {0};
        double deviation = i < TERMS ? prior->axis_px : prior->term[i - TERMS];
        bool fixed = deviation <= 0 || (cylinder && i != AXIS + 1);
        row[i] = 1;
        deviation = fixed ? (i < TERMS ? 1e-3 : 1e-6) : deviation;
        least_squares_add(ls, row, fixed ? 0 : -*number_of(camera, i), 1 / (deviation * deviation));
    }
}

bool curved_fit(struct curved_camera *camera, const struct curved_sighting *sighting, int count,
                double scale, const struct curved_prior *prior)
{
    struct curved_camera c = *camera;
    for (int round = 0; round < FIT_ROUNDS; round++) {
        struct least_squares ls;
        double p[2], jacobian[2][CURVED_SIZE], step[CURVED_SIZE];
        least_squares_start(&ls, CURVED_SIZE);
        for (int i = 0; i < count; i++) {
            if (!slopes(p, jacobian, &c, sighting[i].v)) {
                continue;
            }
            double dx = sighting[i].p[0] - p[0], dy = sighting[i].p[1] - p[1];
            double weight = 1 / (scale * scale + 0.25 * (dx * dx + dy * dy));
            least_squares_add(&ls, jacobian[0], dx, weight);
            least_squares_add(&ls, jacobian[1], dy, weight);
        }
        add_priors(&ls, &c, prior);
        if (!least_squares_solve(step, &c.covariance[0][0], &ls)) {
            return false;
        }
        double turn = sqrt(step[0] * step[0] + step[1] * step[1] + step[2] * step[2]);
        if (!(turn < 1.5) || !(fabs(step[FOCAL]) < 1)) {
            return false;
        }
        move(&c, step);
        if (turn < 1e-6 && fabs(step[FOCAL]) < 1e-6) {
            break;
        }
    }
    if (!(c.focal_px > 0) || !isfinite(c.focal_px)) {
        return false;
    }
    *camera = c;
    return true;
}

/* The terms times (u^2 + v^2)^n times u and v, written out in powers of u and v. */
static void set_terms(struct wcs *wcs, const struct curved_camera *camera)
{
    static const double binomial[CURVED_TERMS][CURVED_TERMS + 1] = {
        {1, 1}, {1, 2, 1}, {1, 3, 3, 1}};
    double unit = 1;
    for (int n = 1; n <= CURVED_TERMS; n++) {
        unit /= camera->unit_px * camera->unit_px;
        for (int k = 0; k <= n && fabs(camera->term[n - 1]) > 1e-9; k++) {
            double share = camera->term[n - 1] * binomial[n - 1][k] * unit;
            wcs->order = 2 * n + 1;
            wcs->a[2 * (n - k) + 1][2 * k] = share;
            wcs->b[2 * (n - k)][2 * k + 1] = share;
        }
    }
}

void curved_wcs(struct wcs *wcs, const struct curved_camera *camera, int width, int height,
                bool mirrored)
{
    const double hand = mirrored ? -1 : 1, step = DEG_PER_RAD / camera->focal_px;
    *wcs = (struct wcs){.width = width, .height = height, .projection = camera->kind};
    wcs->x = 0.5 * (width - 1) + hand * camera->x;
    wcs->y = 0.5 * (height - 1) + camera->y;
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, camera->axis[2]);
    const double ra = wcs->ra_deg * RAD_PER_DEG, east[3] = {-sin(ra), cos(ra), 0};
    double north[3];
    vector_cross(north, camera->axis[2], east);
    if (projection_is_cylinder(camera->kind)) {
        const double *down = camera->axis[1];
        wcs->turn_deg =
            angle_wrap_360(atan2(-vector_dot(down, east), -vector_dot(down, north)) * DEG_PER_RAD);
        wcs->cd[0][0] = -hand * step;
        wcs->cd[1][1] = -step;
        return;
    }
    for (int i = 0; i < 2; i++) {
        wcs->cd[0][i] = (i == 0 ? hand : 1) * step * vector_dot(camera->axis[i], east);
        wcs->cd[1][i] = (i == 0 ? hand : 1) * step * vector_dot(camera->axis[i], north);
    }
    set_terms(wcs, camera);
}
