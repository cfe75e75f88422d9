#include "tripod/batch_length.h"

#include "base/clamp.h"
#include "base/text.h"
#include "base/units.h"
#include "rig/trail_choice.h"
#include "sky/vector.h"
#include "tripod/ground.h"

#include <math.h>
#include <stdio.h>

/* A batch may take so much of the picture along its drift: what all frames share stays large. */
static const double most_drift_share = 0.25, least_drift_share = 0.05;
static const double longest_s = 3600, shortest_s = 60;
static const double usual_widening = 0.1, seeing_arcsec = 3, lens_px = 2;
/* Full width at half maximum of a Gaussian over its deviation. */
static const double fwhm_per_sigma = 2.3548200450309493;

struct batch_accept batch_accept_usual(void)
{
    return (struct batch_accept){.widening = usual_widening, .align = SMEAR_HOMOGRAPHY};
}

double batch_star_sigma_px(double scale_arcsec, double star_px, double trail_px)
{
    double usual_px = hypot(seeing_arcsec / scale_arcsec, lens_px);
    double sigma = (star_px > 0 ? star_px : usual_px) / fwhm_per_sigma;
    return sqrt(sigma * sigma + trail_px * trail_px / 24);
}

/* By which shares of what a spread adds to the variance the Gaussian that fits best gains more.
 * Stars have wings, which the fit leaves out the less, the more is spread: by nothing for a
 * Gaussian, a fifth for what air alone makes of a star; between these. What is spread evenly has a
 * flat top: that counts with its square over the star's own variance at first, and then less. */
static const double wings = 0.08, flat_top = 0.027, flat_bend = 0.065;

double batch_widening(double smear_px, double sigma_px)
{
    double square = smear_px * smear_px / (sigma_px * sigma_px);
    double share = wings + flat_top * square / (1 + flat_bend * square);
    return sqrt(1 + square / 24 * (1 + share)) - 1;
}

/* Solves that for the square. */
double batch_smear_px(double widening, double sigma_px)
{
    double added = 24 * ((1 + widening) * (1 + widening) - 1);
    double linear = 1 + wings - flat_bend * added, both = flat_top + flat_bend * (1 + wings);
    return sigma_px * sqrt((sqrt(linear * linear + 4 * both * added) - linear) / (2 * both));
}

const char *batch_limit_key(enum batch_limit limit)
{
    static const char *const keys[] = {"room", "smear", "hour", "minute", "skyline"};
    return keys[limit];
}

/* Turns the camera of a picture on its own axes until it looks at the target. */
static void put_in_middle(struct wcs *wcs, const struct sky_ellipse *target)
{
    double middle[3], to[3], axis[3], tangent[3], tip[3], ra, dec;
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(middle, ra, dec);
    ellipse_direction(to, target, 0, 0);
    double angle = vector_angle_deg(middle, to);
    if (angle < 1e-9 || angle > 179) {
        return;
    }
    vector_cross(axis, middle, to);
    vector_normalise(axis);
    vector_from_radec(tangent, wcs->ra_deg, wcs->dec_deg);
    radec_offset(&ra, &dec, wcs->ra_deg, wcs->dec_deg, 0, 0.01);
    vector_from_radec(tip, ra, dec);
    vector_turn(tangent, axis, angle);
    vector_turn(tip, axis, angle);
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, tangent);
    vector_to_radec(&ra, &dec, tip);
    wcs_turn(wcs, radec_position_angle_deg(wcs->ra_deg, wcs->dec_deg, ra, dec));
}

/* How much of the picture's width and height the target takes, px. */
static void find_extent(double extent[2], const struct wcs *wcs, const struct sky_ellipse *target)
{
    enum { RIM = 24 };
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (int i = 0; i < RIM; i++) {
        double v[3], at[2];
        ellipse_direction(v, target, 1, i * 360.0 / RIM);
        if (!wcs_pixel(&at[0], &at[1], wcs, v)) {
            extent[0] = wcs->width;
            extent[1] = wcs->height;
            return;
        }
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], at[k]);
            high[k] = fmax(high[k], at[k]);
        }
    }
    extent[0] = high[0] - low[0];
    extent[1] = high[1] - low[1];
}

/* Of the middle, px a second to the right and down. */
static bool find_drift(double drift[2], const struct wcs *wcs, const struct ground *ground)
{
    const double step_s = 10;
    double v[3], x, y, middle_x = (wcs->width - 1) / 2.0, middle_y = (wcs->height - 1) / 2.0;
    wcs_direction(v, wcs, middle_x, middle_y);
    ground_from_sky(v, ground, v, step_s);
    if (!wcs_pixel(&x, &y, wcs, v)) {
        return false;
    }
    drift[0] = (x - middle_x) / step_s;
    drift[1] = (y - middle_y) / step_s;
    return true;
}

/* Seconds until the drift has used up the room. */
static double room_seconds(const struct wcs *wcs, struct utc utc, const struct sky_ellipse *target)
{
    const double side[2] = {wcs->width, wcs->height};
    double extent[2], drift[2], seconds = longest_s;
    struct ground ground;
    ground_make(&ground, NULL, utc);
    find_extent(extent, wcs, target);
    if (!find_drift(drift, wcs, &ground)) {
        return seconds;
    }
    for (int k = 0; k < 2; k++) {
        double room =
            clamp(side[k] - extent[k], least_drift_share * side[k], most_drift_share * side[k]);
        seconds = fmin(seconds, room / fmax(fabs(drift[k]), 1e-9));
    }
    return seconds;
}

/* As long as there is room, and as stars do not smear, but not below a minute for their sake. */
static double find_span(struct batch_length *batch, double room_s, double smear_s, double cadence_s)
{
    batch->limit = room_s < longest_s ? BATCH_BY_ROOM : BATCH_BY_HOUR;
    if (smear_s >= room_s) {
        return room_s;
    }
    if (smear_s >= shortest_s) {
        batch->limit = BATCH_BY_SMEAR;
        return smear_s;
    }
    batch->group_frames = (long)fmax(1, floor(smear_s / cadence_s));
    batch->limit = room_s < shortest_s ? BATCH_BY_ROOM : BATCH_BY_MINUTE;
    return fmin(room_s, shortest_s);
}

void batch_length_cut(struct batch_length *batch, double visible_s, double cadence_s)
{
    if (visible_s > 0 && (double)batch->frames * cadence_s > visible_s) {
        batch->frames = (long)fmax(1, floor(visible_s / cadence_s));
        batch->limit = BATCH_BY_SKYLINE;
    }
}

void batch_length_find(struct batch_length *batch, const struct wcs *wcs, struct utc utc,
                       const struct sky_ellipse *target, const struct batch_wish *wish)
{
    const struct batch_accept *accept = &wish->accept;
    struct wcs aimed = *wcs;
    struct smear smear;
    put_in_middle(&aimed, target);
    double scale = wcs_scale_arcsec(&aimed);
    double trail = trail_px_of_seconds(wish->exposure_s, scale, target->dec_deg);
    double sigma = batch_star_sigma_px(scale, accept->star_px, trail);
    double widening = accept->widening > 0 ? accept->widening : usual_widening;
    *batch = (struct batch_length){
        .align = accept->align,
        .sigma_px = sigma,
        .accepted_px = accept->smear_px > 0 ? accept->smear_px : batch_smear_px(widening, sigma)};
    if (wish->decided > 0) {
        batch->frames = wish->decided;
    } else {
        double room_s = room_seconds(&aimed, utc, target);
        double smear_s = smear_time(&aimed, utc, accept->align, batch->accepted_px, room_s);
        double span_s = find_span(batch, room_s, smear_s, wish->cadence_s);
        batch->frames = (long)fmax(1, floor(span_s / wish->cadence_s));
    }
    batch_length_cut(batch, wish->visible_s, wish->cadence_s);
    batch->span_s = (double)batch->frames * wish->cadence_s;
    batch->group_frames = batch->group_frames < batch->frames ? batch->group_frames : 0;
    double all_s = wish->frames > 0 ? (double)wish->frames * wish->cadence_s : batch->span_s;
    double apart_s = fmax(0, fmin(batch->span_s, all_s) - wish->cadence_s); /* first to last */
    batch->has_smear = smear_measure(&smear, &aimed, utc, apart_s);
    for (int fit = 0; batch->has_smear && fit < SMEAR_FITS; fit++) {
        batch->smear_px[fit] = smear.worst_px[fit];
    }
    batch->widening = batch->has_smear ? batch_widening(batch->smear_px[accept->align], sigma) : 0;
}

void batch_write_reason(char *out, size_t size, const struct batch_length *batch)
{
    out[0] = '\0';
    if (batch->limit == BATCH_BY_SMEAR) {
        snprintf(out, size, ": after that, stars at the edge smear by more than is accepted");
    } else if (batch->limit == BATCH_BY_ROOM) {
        snprintf(out, size, ": the frame has no room for more drift");
    } else if (batch->limit == BATCH_BY_SKYLINE) {
        snprintf(out, size, ": after that, the target is behind the skyline");
    }
    if (batch->group_frames) {
        text_append(out, size,
                    "%s; this lens smears stars at the edge sooner, so stack every %ld frame%s by "
                    "themselves first, then the stacks",
                    batch->limit == BATCH_BY_MINUTE ? ", a minute at least" : "",
                    batch->group_frames, batch->group_frames > 1 ? "s" : "");
    }
}
