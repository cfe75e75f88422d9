#include "health/health.h"

#include "base/median.h"
#include "health/health_parts.h"
#include "stars/shape.h"

#include <math.h>
#include <string.h>

static const struct health_limits usual_limits = {
    .elongation = 1.25,
    .trail_px = 3,
    .motion_px = 3,
    .motion_share = 0.35,
    .double_px = 3,
    .fwhm_px = 5,
    .tilt = 1.7,
    .tilt_px = 1.5,
    .hidden_share = 0.2,
    .uneven_mag = 0.7,
    .sky_share = 0.6,
    .saturated_share = 0.2,
};

/* A trail is as long as the drift if it is off by less than this, or than the usual share. */
static const double as_drift_px = 1;

struct health_limits health_usual(void)
{
    return usual_limits;
}

int health_part(const struct star_list *list, double x, double y)
{
    int column = (int)fmin(fmax(HEALTH_COLUMNS * x / list->width, 0), HEALTH_COLUMNS - 1);
    int row = (int)fmin(fmax(HEALTH_ROWS * y / list->height, 0), HEALTH_ROWS - 1);
    return row * HEALTH_COLUMNS + column;
}

double health_median_error(double *value, int n, double median)
{
    for (int i = 0; i < n; i++) {
        value[i] = fabs(value[i] - median);
    }
    return 1.2533 * median_of(value, n) / 0.6745 / sqrt(n);
}

static void start(struct frame_health *h, const struct health_limits *limits)
{
    const double unknown = (double)NAN;
    *h = (struct frame_health){
        .fwhm_px = unknown,
        .fwhm_arcsec = unknown,
        .fwhm_error_px = (float)NAN,
        .fwhm_middle_px = unknown,
        .fwhm_corner_px = {unknown, unknown, unknown, unknown},
        .elongation = unknown,
        .trail_px = unknown,
        .trail_error_px = (float)NAN,
        .trail_angle_deg = unknown,
        .exposure_s = unknown,
        .drift_px = unknown,
        .drift_angle_deg = unknown,
        .motion_px = unknown,
        .motion_angle_deg = unknown,
        .limit_exposure_s = unknown,
        .double_angle_deg = unknown,
        .double_share = unknown,
        .sky_level = unknown,
        .sky_share = unknown,
        .sky_mag = unknown,
        .sky_mag_error = (float)NAN,
        .saturated_share = unknown,
        .zero_mag = unknown,
        .zero_error = unknown,
        .colour_term = unknown,
        .vignetting = unknown,
        .uneven_mag = unknown,
        .limit_mag = unknown,
        .limit_error = (float)NAN,
        .missing_share = unknown,
        .hidden_share = unknown,
    };
    const struct health_limits none = {0};
    bool given = limits && memcmp(limits, &none, sizeof none) != 0;
    h->limits = given ? *limits : health_usual();
}

/* The corners' extremes; false if fewer than two are known. */
static bool corner_range(double *low, double *high, const struct frame_health *h)
{
    int known = 0;
    *low = (double)INFINITY;
    *high = 0;
    for (int i = 0; i < 4; i++) {
        if (isfinite(h->fwhm_corner_px[i])) {
            *low = fmin(*low, h->fwhm_corner_px[i]);
            *high = fmax(*high, h->fwhm_corner_px[i]);
            known++;
        }
    }
    return known > 1;
}

/* Whether a trail so long makes the frame's stars visibly longer than wide. */
static bool shows(const struct frame_health *h, double trail_px)
{
    double sigma = h->fwhm_px / shape_fwhm(1);
    return shape_elongation(sigma * sigma, trail_px * trail_px / 12, 0) > h->limits.elongation;
}

static bool has_motion(const struct frame_health *h)
{
    double drift = isfinite(h->drift_px) && !h->follows ? h->drift_px : 0;
    double most = hypot(h->limits.motion_px, h->limits.motion_share * drift);
    return h->steady && h->motion_px > most && shows(h, h->motion_px);
}

/* An exposure is no other one before it is half a third of a stop longer. */
static const double exposure_slack = 1.12;

static bool has_trails(const struct frame_health *h)
{
    double limit_px = h->limits.trail_px * (h->limits.exposure_s > 0 ? exposure_slack : 1);
    /* Where the sky's direction is not known, a trail is a trail. */
    bool as_drift =
        fabs(h->trail_px - h->drift_px) < fmax(as_drift_px, h->limits.motion_share * h->drift_px);
    return (h->steady || as_drift) && !h->follows && h->trail_px > limit_px &&
           (h->arcs_s > 0 || shows(h, h->trail_px));
}

/* Comparisons with NaN are false, so that what is unknown is no fault. */
unsigned health_find_faults(const struct frame_health *h)
{
    double narrow, wide;
    bool corners = corner_range(&narrow, &wide, h);
    bool twice = h->double_px > h->limits.double_px, moved = has_motion(h);
    const bool has[HEALTH_FAULTS] = {
        [HEALTH_NOT_LIGHT] = h->look.kind != KIND_LIGHT && !h->solved,
        [HEALTH_DOUBLE] = twice,
        [HEALTH_MOTION] = moved && !twice, /* else it says the same again */
        [HEALTH_TRAILS] = !moved && has_trails(h),
        [HEALTH_SOFT] = h->fwhm_px > h->limits.fwhm_px,
        [HEALTH_TILT] =
            corners && wide > h->limits.tilt * narrow && wide > h->limits.tilt_px + narrow,
        [HEALTH_HIDDEN] = h->hidden_share > h->limits.hidden_share,
        [HEALTH_UNEVEN] = h->uneven_mag > h->limits.uneven_mag,
        [HEALTH_BRIGHT_SKY] = h->sky_share > h->limits.sky_share,
        [HEALTH_SATURATED] = h->linear && h->saturated_share > h->limits.saturated_share,
    };
    unsigned faults = 0;
    for (int i = 0; i < HEALTH_FAULTS; i++) {
        faults |= has[i] ? 1U << i : 0;
    }
    return (faults & 1U << HEALTH_NOT_LIGHT) ? 1U << HEALTH_NOT_LIGHT : faults;
}

/* A search without success has looked already. */
static int look_at(struct frame_look *look, const struct health_input *input, struct error *err)
{
    if (input->solution && input->solution->looked) {
        *look = input->solution->look;
        return 0;
    }
    return frame_look_at(look, input->frame, input->list, err);
}

int health_measure(struct frame_health *health, const struct health_input *input,
                   const struct health_limits *limits, struct error *err)
{
    struct star_shape shape[SHAPES_MOST];
    start(health, limits);
    health->solved = input->solution && input->solution->solved && input->index;
    if (input->frame->facts.exposure_s.origin != FACT_UNKNOWN) {
        health->exposure_s = input->frame->facts.exposure_s.value;
    }
    int code = look_at(&health->look, input, err);
    if (!code && health->solved && input->solution->trails_s > 0) {
        health_add_arcs(health, input);
    } else if (!code && (health->look.kind == KIND_LIGHT || health->solved)) {
        int shapes = shapes_measure(shape, input->frame, input->list);
        health_add_shape(health, shape, shapes, input);
        health_add_motion(health, shape, shapes, input);
        code = health_add_double(health, shape, shapes, input, err);
    }
    if (!code) {
        code = health_add_light(health, input, err);
    }
    if (!code && health->solved && !(health->arcs_s > 0)) {
        code = health_add_hidden(health, input, err);
    }
    health->faults = health_find_faults(health);
    return code;
}

enum health_fault health_worst(const struct frame_health *health)
{
    int fault = 0;
    while (fault < HEALTH_FAULTS && !(health->faults & 1U << fault)) {
        fault++;
    }
    return (enum health_fault)fault;
}

void health_compare(struct health_change *change, const struct frame_health *before,
                    const struct frame_health *now)
{
    double share = now->exposure_s / before->exposure_s;
    change->dimming_mag = before->zero_mag - now->zero_mag;
    if (!isfinite(change->dimming_mag)) {
        change->dimming_mag = before->limit_mag - now->limit_mag;
    }
    change->sky_ratio = now->sky_level / before->sky_level;
    if (now->black_known && before->black_known && share > 0) {
        change->sky_ratio /= share;
    }
    change->fwhm_ratio = now->fwhm_px / before->fwhm_px;
}
