/* tests/bench/bench_view.h: pictures of a starry sky through lenses of any kind, for the programs
 * that measure. The projections are written out here, apart from the library's. */
#ifndef ALIDADE_TESTS_BENCH_VIEW_H
#define ALIDADE_TESTS_BENCH_VIEW_H

#include "demo/starfield.h"
#include "image/frame.h"
#include "tests/bench/bench_common.h"

#include <stddef.h>

enum projection {
    GNOMONIC,
    CYLINDRICAL,
    EQUIRECTANGULAR,
    EQUIDISTANT,
    EQUISOLID,
    STEREOGRAPHIC,
    ORTHOGRAPHIC
};

/* A lens of any kind, pointed; nothing if focal_px is 0. */
struct view {
    enum projection projection;
    double axis[3][3]; /* unit vectors right, down, out */
    double focal_px;
    double left, right; /* the columns that it fills, px */
    double middle_x, middle_y;
    double trail;        /* that the sky turns by meanwhile, radians */
    double farthest_deg; /* from the axis of a fisheye, where its picture ends; 0: 105 */
    double bend,
        bend_px; /* drawn too far out by this share of the radius at bend_px from the axis */
};

static inline void point_view(struct view *view, struct random *r)
{
    double helper[3];
    random_direction(r, view->axis[2]);
    random_direction(r, helper);
    vector_cross(view->axis[0], helper, view->axis[2]);
    vector_normalise(view->axis[0]);
    vector_cross(view->axis[1], view->axis[2], view->axis[0]);
}

static inline bool project(double *x, double *y, const struct view *view, const double v[3])
{
    double X = vector_dot(v, view->axis[0]), Y = vector_dot(v, view->axis[1]);
    double Z = vector_dot(v, view->axis[2]), across = hypot(X, Y), angle = atan2(across, Z);
    double f = view->focal_px, radius = 0;
    switch (view->projection) {
    case CYLINDRICAL:
    case EQUIRECTANGULAR: {
        double level = hypot(X, Z),
               rise = view->projection == CYLINDRICAL ? Y / fmax(level, 0.05) : atan2(Y, level);
        *x = view->middle_x + f * atan2(X, Z);
        *y = view->middle_y + f * rise;
        return *x >= view->left && *x < view->right;
    }
    case GNOMONIC:
        radius = Z > 0.1 ? f * across / Z : 1e9;
        break;
    case EQUIDISTANT:
        radius = f * angle;
        break;
    case EQUISOLID:
        radius = 2 * f * sin(angle / 2);
        break;
    case STEREOGRAPHIC:
        radius = 2 * f * tan(fmin(angle, 3) / 2);
        break;
    case ORTHOGRAPHIC:
        radius = Z > 0 ? f * across : 1e9;
        break;
    }
    if (view->bend != 0) {
        radius *= 1 + view->bend * radius * radius / (view->bend_px * view->bend_px);
    }
    *x = view->middle_x + (across > 0 ? X / across * radius : 0);
    *y = view->middle_y + (across > 0 ? Y / across * radius : 0);
    double farthest = view->farthest_deg > 0 ? view->farthest_deg : 105;
    return angle < farthest * RAD_PER_DEG && *x >= view->left && *x < view->right;
}

static inline void add_light(struct plane *plane, double x, double y, double flux, double sigma)
{
    int reach = (int)ceil(4 * sigma), cx = (int)lrint(x), cy = (int)lrint(y);
    for (int j = cy - reach; j <= cy + reach; j++) {
        for (int i = cx - reach; i <= cx + reach; i++) {
            if (i >= 0 && j >= 0 && i < plane->width && j < plane->height) {
                double square = (i - x) * (i - x) + (j - y) * (j - y);
                plane->value[(size_t)j * (size_t)plane->width + (size_t)i] +=
                    (float)(flux * exp(-0.5 * square / (sigma * sigma)) / (2 * PI * sigma * sigma));
            }
        }
    }
}

/* v turned about the celestial pole. */
static inline void turn(double out[3], const double v[3], double angle)
{
    out[0] = cos(angle) * v[0] - sin(angle) * v[1];
    out[1] = sin(angle) * v[0] + cos(angle) * v[1];
    out[2] = v[2];
}

/* A sky as one view shows it, the faintest star a few times the noise; trail in radians. */
static inline void add_sky(struct plane *plane, const struct starfield *field,
                           const struct view *view, double limit, double sigma)
{
    double trail = view->trail;
    struct sky_view look = {0};
    struct error err = {0};
    bench_require(starfield_look(&look, field, view->axis[2], 180, limit, &err), &err);
    int steps = trail > 0 ? 1 + (int)(1.5 * trail * view->focal_px) : 1;
    for (int i = 0; i < look.count; i++) {
        double flux = 150 * pow(10, 0.4 * (limit - (double)look.star[i].mag));
        for (int k = 0; k < steps; k++) {
            double v[3], x, y;
            turn(v, look.star[i].v, trail * (k + 0.5) / steps);
            if (project(&x, &y, view, v)) {
                add_light(plane, x, y, trail > 0 ? flux / 12 : flux, sigma);
            }
        }
    }
    sky_view_free(&look);
}

static inline void start_frame(struct frame *frame, int width, int height, double noise,
                               double blur, struct random *r)
{
    *frame = (struct frame){.width = width, .height = height, .format = "FITS"};
    size_t count = (size_t)width * (size_t)height;
    frame->luminance = (struct plane){.width = width, .height = height, .bin = 1, .full = 65535};
    float *value = bench_calloc(count, sizeof *value), before = 0;
    for (size_t i = 0; i < count; i++) {
        float now = (float)random_normal(r);
        float up = i >= (size_t)width ? value[i - (size_t)width] : 0;
        value[i] = now + (float)blur * (before + up);
        before = now;
    }
    for (size_t i = 0; i < count; i++) {
        value[i] = 1000 + (float)noise * value[i];
    }
    frame->luminance.value = value;
}

#endif
