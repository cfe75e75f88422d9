#include "health/health_parts.h"

#include "base/median.h"
#include "base/units.h"
#include "sky/rates.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

static const double middle_radius = 0.4; /* of half the diagonal */
static const double corner_radius = 0.7;
static const double steady_radius = 0.65; /* within which lenses leave stars mostly round */
static const double everywhere = 2;
static const double least_drift_px = 2; /* below, following cannot be told from not following */

static const double follows_share =
    0.5;                               /* of the drift: a shorter trail shows that it is followed */
static const double steady_errors = 5; /* the stars agree on a trail so many errors long */
static const double longest_span_s = 600; /* beyond, trails are no lines any more */
static const double corner_snr = 12;      /* below, widths scatter by a fifth */

enum { LEAST_SHAPES = 5, LEAST_CORNER = 5 };

/* From the picture's middle, in halves of its diagonal. */
static double radius_of(const struct star_shape *s, const struct star_list *list)
{
    double half = hypot(list->width, list->height) / 2;
    return hypot(s->x - list->width / 2, s->y - list->height / 2) / half;
}

/* Corner 0..3 as in struct frame_health, 4 for the middle, -1 for what lies between. */
static int region_of(const struct star_shape *s, const struct star_list *list)
{
    double r = radius_of(s, list);
    if (r < middle_radius) {
        return 4;
    }
    int corner = (s->x > list->width / 2 ? 1 : 0) + (s->y > list->height / 2 ? 2 : 0);
    return r > corner_radius ? corner : -1;
}

bool health_drift(double *dx, double *dy, const struct wcs *wcs, double x, double y,
                  double exposure_s)
{
    double v[3], before[3], after[3], x1, y1, x2, y2, half = SIDEREAL_RAD_S * exposure_s / 2;
    wcs_direction(v, wcs, x, y);
    for (int end = -1; end <= 1; end += 2) {
        /* Fixed to the ground the sky turns westwards. */
        double *to = end < 0 ? before : after, c = cos(end * half), s = -sin(end * half);
        to[0] = c * v[0] - s * v[1];
        to[1] = s * v[0] + c * v[1];
        to[2] = v[2];
    }
    if (!wcs_pixel(&x1, &y1, wcs, before) || !wcs_pixel(&x2, &y2, wcs, after)) {
        return false;
    }
    *dx = x2 - x1;
    *dy = y2 - y1;
    return true;
}

/* Trails in the axes of the drift at each star: they turn over wide pictures. */
struct turned {
    double along[SHAPES_MOST], skew[SHAPES_MOST], drift[SHAPES_MOST];
    double cosine[SHAPES_MOST], sine[SHAPES_MOST]; /* of twice the drift's direction */
    int count;
};

static void turn_shapes(struct turned *t, const struct star_shape *shape, int shapes,
                        const struct health_input *input, bool solved, double exposure_s,
                        double reach)
{
    t->count = 0;
    for (int i = 0; i < shapes; i++) {
        const struct star_shape *s = &shape[i];
        double dx = 1, dy = 0;
        if (radius_of(s, input->list) > reach ||
            (solved && !health_drift(&dx, &dy, &input->solution->wcs, s->x, s->y, exposure_s))) {
            continue;
        }
        double twice = 2 * atan2(dy, dx), c = cos(twice), d = sin(twice);
        t->along[t->count] = s->q1 * c + s->q2 * d;
        t->skew[t->count] = s->q2 * c - s->q1 * d;
        t->cosine[t->count] = c;
        t->sine[t->count] = d;
        t->drift[t->count++] = hypot(dx, dy);
    }
}

/* Variance of each star across the trail that all of them have. */
static void find_widths(double *width, const struct star_shape *shape, int shapes,
                        const struct health_input *input, bool solved, double span_s)
{
    struct turned t;
    double along[SHAPES_MOST], skew[SHAPES_MOST];
    turn_shapes(&t, shape, shapes, input, solved, span_s, everywhere);
    memcpy(along, t.along, sizeof along);
    memcpy(skew, t.skew, sizeof skew);
    double a = median_of(along, t.count), b = median_of(skew, t.count), q = hypot(a, b);
    a = q > 0 ? a / q : 1;
    b = q > 0 ? b / q : 0;
    for (int i = 0; i < shapes; i++) {
        double c = t.cosine[i] * a - t.sine[i] * b, d = t.sine[i] * a + t.cosine[i] * b;
        width[i] = shape_variance_across(&shape[i], c, d);
    }
}

static double region_fwhm(const struct star_shape *shape, const double *width, int shapes,
                          const struct star_list *list, int region)
{
    double variance[SHAPES_MOST];
    int n = 0;
    for (int i = 0; i < shapes; i++) {
        if (region_of(&shape[i], list) == region && list->star[shape[i].star].snr > corner_snr) {
            variance[n++] = width[i];
        }
    }
    return n >= LEAST_CORNER ? shape_fwhm(median_of(variance, n)) : (double)NAN;
}

static double span_of(const struct frame_health *health)
{
    bool timed = isfinite(health->exposure_s) && health->exposure_s > 0;
    return timed ? fmin(health->exposure_s, longest_span_s) : 1;
}

void health_add_shape(struct frame_health *health, const struct star_shape *shape, int shapes,
                      const struct health_input *input)
{
    /* Of rendered frames widths are off by this share, however many stars there are. */
    const double method_error = 0.009;
    double width[SHAPES_MOST], sorted[SHAPES_MOST];
    health->shapes = shapes;
    if (shapes < LEAST_SHAPES) {
        return;
    }
    find_widths(width, shape, shapes, input, health->solved, span_of(health));
    memcpy(sorted, width, sizeof sorted);
    double median = median_of(sorted, shapes);
    health->fwhm_px = shape_fwhm(median);
    health->fwhm_error_px =
        (float)(health->fwhm_px *
                hypot(health_median_error(sorted, shapes, median) / (2 * median), method_error));
    if (health->solved) {
        health->fwhm_arcsec = health->fwhm_px * wcs_scale_arcsec(&input->solution->wcs);
    }
    health->fwhm_middle_px = region_fwhm(shape, width, shapes, input->list, 4);
    for (int i = 0; i < 4; i++) {
        health->fwhm_corner_px[i] = region_fwhm(shape, width, shapes, input->list, i);
    }
}

static double wrap_90(double deg)
{
    return deg - 180 * floor(deg / 180 + 0.5);
}

/* L = sqrt(12 q): where q is lost in its error the length may be anything up to that. */
static double trail_error(double length_px, double error)
{
    double square = length_px * length_px;
    return square > 12 * error ? 6 * error / length_px : sqrt(12 * error) / 2;
}

/* What is left of the trail without the drift's. */
static void compare_drift(struct frame_health *h, double along, double skew)
{
    double drift = isfinite(h->drift_px) ? h->drift_px : 0;
    double trail_along = along > 0 ? sqrt(12 * along) : 0;
    h->follows = drift > least_drift_px && trail_along < follows_share * drift;
    double rest = h->follows || !(drift > 0) ? along : along - drift * drift / 12;
    if (!isfinite(h->drift_px)) {
        /* A trail along the drift is the drift's, however long the exposure was. */
        rest = fmin(along, 0);
    }
    h->motion_px = shape_trail_px(rest, skew);
    h->motion_angle_deg = wrap_90(h->drift_angle_deg + shape_trail_angle_deg(rest, skew));
}

void health_add_motion(struct frame_health *health, const struct star_shape *shape, int shapes,
                       const struct health_input *input)
{
    struct turned t;
    bool timed = isfinite(health->exposure_s) && health->exposure_s > 0;
    double span = span_of(health);
    turn_shapes(&t, shape, shapes, input, health->solved, span, steady_radius);
    if (t.count < 2 * LEAST_SHAPES) {
        turn_shapes(&t, shape, shapes, input, health->solved, span, everywhere);
    }
    if (t.count < LEAST_SHAPES) {
        return;
    }
    double along = median_of(t.along, t.count), skew = median_of(t.skew, t.count);
    double dx = 1, dy = 0;
    double error = hypot(health_median_error(t.along, t.count, along),
                         health_median_error(t.skew, t.count, skew));
    health->steady = hypot(along, skew) > steady_errors * error;
    double across = health->fwhm_px / shape_fwhm(1);
    health->trail_px = shape_trail_px(along, skew);
    health->trail_error_px = (float)trail_error(health->trail_px, error / sqrt(2));
    health->elongation = shape_elongation(across * across, along, skew);
    if (health->solved) {
        const struct wcs *wcs = &input->solution->wcs;
        health_drift(&dx, &dy, wcs, wcs->width / 2.0, wcs->height / 2.0, span);
        health->drift_angle_deg = wrap_90(atan2(dy, dx) * DEG_PER_RAD);
        double drift = median_of(t.drift, t.count);
        health->drift_px = timed ? drift : (double)NAN;
        health->limit_exposure_s = health->limits.exposure_s > 0
                                       ? health->limits.exposure_s
                                       : health->limits.trail_px / drift * span;
        compare_drift(health, along, skew);
    }
    health->trail_angle_deg =
        wrap_90(atan2(dy, dx) * DEG_PER_RAD + shape_trail_angle_deg(along, skew));
}

void health_add_arcs(struct frame_health *health, const struct health_input *input)
{
    const struct wcs *wcs = &input->solution->wcs;
    double dx = 1, dy = 0, shown_s = input->solution->trails_s;
    const double drift_s = 1; /* so short that a trail is straight */
    health->arcs_s = (float)shown_s;
    health->arcs_error_s = (float)input->solution->trails_error_s;
    health->steady = true;
    if (!health_drift(&dx, &dy, wcs, wcs->width / 2.0, wcs->height / 2.0, drift_s)) {
        return;
    }
    double px_per_s = hypot(dx, dy) / drift_s;
    health->trail_px = health->drift_px = px_per_s * shown_s;
    health->trail_angle_deg = health->drift_angle_deg = wrap_90(atan2(dy, dx) * DEG_PER_RAD);
    health->limit_exposure_s = health->limits.exposure_s > 0 ? health->limits.exposure_s
                                                             : health->limits.trail_px / px_per_s;
    health->motion_px = 0;
}
