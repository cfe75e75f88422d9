#include "health/health.h"

#include "base/shutter.h"
#include "base/text.h"
#include "stars/shape.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const keys[HEALTH_FAULTS + 1] = {
    [HEALTH_NOT_LIGHT] = "not-light",
    [HEALTH_DOUBLE] = "double",
    [HEALTH_MOTION] = "motion",
    [HEALTH_TRAILS] = "trails",
    [HEALTH_SOFT] = "soft",
    [HEALTH_TILT] = "tilt",
    [HEALTH_HIDDEN] = "hidden",
    [HEALTH_UNEVEN] = "uneven",
    [HEALTH_BRIGHT_SKY] = "bright-sky",
    [HEALTH_SATURATED] = "saturated",
    [HEALTH_FAULTS] = "good",
};

static const char *const part_name[HEALTH_ROWS * HEALTH_COLUMNS] = {
    "upper left", "top",        "upper right", "left",       "middle",
    "right",      "lower left", "bottom",      "lower right"};

static const char *const corner_name[] = {"upper left", "upper right", "lower left", "lower right"};

const char *health_fault_key(enum health_fault fault)
{
    return keys[fault];
}

const char *health_verdict_key(const struct frame_health *h)
{
    enum health_fault worst = health_worst(h);
    bool judged = h->solved && isfinite(h->fwhm_px);
    return worst == HEALTH_FAULTS && !judged ? "unknown" : keys[worst];
}

/* How long stars trail in the exposure that is advised. */
static double limit_trail_px(const struct frame_health *h)
{
    bool timed = isfinite(h->drift_px) && h->exposure_s > 0;
    return timed ? h->drift_px * h->limit_exposure_s / h->exposure_s : h->limits.trail_px;
}

static void write_trails(char *out, size_t size, const struct frame_health *h)
{
    char seconds[24], limit[24];
    double limit_px = limit_trail_px(h);
    shutter_write(limit, sizeof limit, h->limit_exposure_s);
    if (h->arcs_s > 0) {
        snprintf(out, size, "star trails: arcs of %.0f px in the middle", h->trail_px);
    } else if (isfinite(h->drift_px)) {
        snprintf(out, size,
                 "trails %.1f px along the drift: too long an exposure for this lens, %s would "
                 "trail %.2g px",
                 h->trail_px, limit, limit_px);
    } else if (isfinite(h->drift_angle_deg)) {
        shutter_write(seconds, sizeof seconds, h->limit_exposure_s * h->trail_px / limit_px);
        snprintf(out, size, "trails %.1f px along the drift, as in %s; %s would trail %.2g px",
                 h->trail_px, seconds, limit, limit_px);
    } else {
        snprintf(out, size, "stars are trails of %.1f px, %.0f° from level", h->trail_px,
                 fabs(h->trail_angle_deg));
    }
}

/* A direction within this of another is along it, beyond that across it. */
static const double along_deg = 25, across_deg = 65;

/* Corners that lose less are not spoken of. */
static const double least_vignetting = 0.03;

static void write_motion(char *out, size_t size, const struct frame_health *h)
{
    double turn = fabs(remainder(h->motion_angle_deg - h->drift_angle_deg, 180));
    if (turn < along_deg && isfinite(h->drift_px)) {
        snprintf(out, size,
                 "trails %.1f px along the drift, which explains %.1f px: wind, a touched tripod, "
                 "or an exposure longer than stated",
                 h->trail_px, h->follows ? 0 : h->drift_px);
    } else {
        snprintf(out, size, "trails %.1f px %s the drift: wind or a touched tripod", h->motion_px,
                 turn > across_deg ? "across" : "at a slant to");
    }
}

static void write_tilt(char *out, size_t size, const struct frame_health *h)
{
    int wide = -1, narrow = -1;
    for (int i = 0; i < 4; i++) {
        if (isfinite(h->fwhm_corner_px[i])) {
            wide = wide < 0 || h->fwhm_corner_px[i] > h->fwhm_corner_px[wide] ? i : wide;
            narrow = narrow < 0 || h->fwhm_corner_px[i] < h->fwhm_corner_px[narrow] ? i : narrow;
        }
    }
    snprintf(out, size,
             "soft on one side: stars are %.1f px wide in the %s corner, %.1f px in the %s one: a "
             "tilted lens, or dew",
             h->fwhm_corner_px[wide], corner_name[wide], h->fwhm_corner_px[narrow],
             corner_name[narrow]);
}

static void write_hidden(char *out, size_t size, const struct frame_health *h)
{
    char where[160] = "";
    for (int i = 0; i < HEALTH_ROWS * HEALTH_COLUMNS; i++) {
        if (h->hidden[i]) {
            text_append(where, sizeof where, "%s%s", where[0] ? ", " : "", part_name[i]);
        }
    }
    snprintf(out, size, "stars are missing (%s): cloud, trees or a roof", where);
}

void health_write_fault(char *out, size_t size, const struct frame_health *h,
                        enum health_fault fault)
{
    switch (fault) {
    case HEALTH_NOT_LIGHT:
        frame_look_words(out, size, &h->look);
        return;
    case HEALTH_DOUBLE:
        snprintf(out, size,
                 "every star shows twice, %.1f px apart: the camera was knocked in mid-exposure",
                 h->double_px);
        return;
    case HEALTH_MOTION:
        write_motion(out, size, h);
        return;
    case HEALTH_TRAILS:
        write_trails(out, size, h);
        return;
    case HEALTH_SOFT:
        snprintf(out, size, "soft: stars are %.1f px wide: out of focus, haze or dew", h->fwhm_px);
        return;
    case HEALTH_TILT:
        write_tilt(out, size, h);
        return;
    case HEALTH_HIDDEN:
        write_hidden(out, size, h);
        return;
    case HEALTH_UNEVEN:
        snprintf(out, size, "uneven: stars lose %.1f mag in one part of the picture (%s): cloud",
                 h->uneven_mag, part_name[h->dim_part]);
        return;
    case HEALTH_BRIGHT_SKY:
        snprintf(out, size, "shorten the exposure: the sky fills %.0f %% of the range",
                 100 * h->sky_share);
        return;
    case HEALTH_SATURATED:
        snprintf(out, size, "shorten the exposure: %.0f %% of the stars are saturated",
                 100 * h->saturated_share);
        return;
    case HEALTH_FAULTS:
        break;
    }
    out[0] = '\0';
}

static void write_good(char *out, size_t size, const struct frame_health *h)
{
    if (!isfinite(h->fwhm_px)) {
        snprintf(out, size, "too few single stars to judge");
        return;
    }
    const char *good = h->solved ? "good" : "no fault found";
    if (h->elongation < h->limits.elongation) {
        snprintf(out, size, "%s: round stars", good);
    } else if (h->steady) {
        snprintf(out, size, "%s: trails of %.1f px, within what you accept", good, h->trail_px);
    } else {
        snprintf(out, size, "%s: stars of odd shapes, but no common trail", good);
    }
    if (h->follows) {
        text_append(out, size, ", the camera follows the sky");
    }
}

void health_write_verdict(char *out, size_t size, const struct frame_health *h)
{
    enum health_fault worst = health_worst(h);
    if (worst == HEALTH_FAULTS) {
        write_good(out, size, h);
    } else {
        health_write_fault(out, size, h, worst);
    }
}

static double widest_corner(const struct frame_health *h)
{
    double wide = (double)NAN;
    for (int i = 0; i < 4; i++) {
        wide = fmax(wide, h->fwhm_corner_px[i]); /* which passes over NaN */
    }
    return wide;
}

void health_write_shape(char *out, size_t size, const struct frame_health *h)
{
    double corner = widest_corner(h);
    out[0] = '\0';
    if (!isfinite(h->fwhm_px)) {
        return;
    }
    text_append(out, size, "%.1f px", h->fwhm_px);
    if (isfinite(h->fwhm_arcsec)) {
        text_append(out, size, h->fwhm_arcsec < 9.95 ? " = %.1f\"" : " = %.0f\"", h->fwhm_arcsec);
    }
    text_append(out, size, " wide");
    if (isfinite(h->fwhm_middle_px) && isfinite(corner)) {
        text_append(out, size, " (%.1f in the middle, up to %.1f in the corners)",
                    h->fwhm_middle_px, corner);
    }
    if (isfinite(h->elongation)) {
        text_append(out, size, ", %.1f times as long as wide", h->elongation);
    }
}

void health_write_sky(char *out, size_t size, const struct frame_health *h)
{
    out[0] = '\0';
    if (isfinite(h->sky_share)) {
        text_append(out, size, "%.2g %% of full scale", 100 * h->sky_share);
    } else {
        text_append(out, size, "level %.3g", h->sky_level);
    }
    if (isfinite(h->sky_mag)) {
        text_append(out, size, ", %.1f mag/arcsec²", h->sky_mag);
    } else if (h->linear && isfinite(h->zero_mag)) {
        text_append(out, size, ", black level included");
    }
    if (isfinite(h->vignetting) && h->vignetting > least_vignetting) {
        text_append(out, size, "; corners lose %.0f %% of the light", 100 * h->vignetting);
    }
    if (h->saturated_share > 0) {
        text_append(out, size, "; %.2g %% of the stars saturated", 100 * h->saturated_share);
    }
}

void health_write_depth(char *out, size_t size, const struct frame_health *h)
{
    out[0] = '\0';
    if (isfinite(h->limit_mag)) {
        text_append(out, size, "stars to V %.1f", h->limit_mag);
    }
    if (isfinite(h->zero_mag)) {
        text_append(out, size, "%szero point %.2f ± %.2f", out[0] ? ", " : "", h->zero_mag,
                    h->zero_error);
        if (isfinite(h->colour_term)) {
            text_append(out, size, ", colour term %.2f", h->colour_term);
        }
    } else if (h->solved && (!h->linear || h->look.clipped)) {
        text_append(out, size, "%sno zero point: the picture is %s", out[0] ? ", " : "",
                    h->look.clipped ? "clipped at black" : "stretched");
    }
}
