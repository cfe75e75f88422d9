#include "plan/plan_shots.h"

#include "base/clamp.h"
#include "base/units.h"
#include "sky/horizon.h"
#include "sky/rates.h"
#include "sky/vector.h"
#include "tripod/smear.h"

#include <math.h>

/* A batch may take so much of the picture along its drift: what all frames share stays large. */
static const double most_drift_share = 0.25, least_drift_share = 0.05, longest_batch_s = 3600;
/* At the poles, where nothing trails. */
static const double longest_exposure_s = 3600;

/* Common practice, no source: the 500 rule. */
static const double rule_mm_s = 500;

double plan_rule_of_500(double focal_mm)
{
    return rule_mm_s / focal_mm;
}

double plan_trail_seconds(double trail_px, double scale_arcsec, double dec_deg)
{
    double drift = SIDEREAL_ARCSEC_S * cos(dec_deg * RAD_PER_DEG);
    return fmin(longest_exposure_s, trail_px * scale_arcsec / fmax(drift, 1e-6));
}

double plan_trail_px(double seconds, double scale_arcsec, double dec_deg)
{
    return SIDEREAL_ARCSEC_S * cos(dec_deg * RAD_PER_DEG) * seconds / scale_arcsec;
}

/* Seconds until the drift has used up the room of one side of the picture. */
static double side_seconds(double side_deg, double taken_deg, double drift_deg_s)
{
    double room =
        clamp(side_deg - taken_deg, least_drift_share * side_deg, most_drift_share * side_deg);
    return room / fmax(drift_deg_s, 1e-9);
}

/* Aimed ahead, so that the middle of the batch is in the middle of the picture. The sky goes west,
 * which lies across or along the picture as its up is turned. */
static double room_seconds(const struct plan_item *item, const struct plan_settings *settings)
{
    double width, height, up = item->fit.up_deg * RAD_PER_DEG;
    double drift = SIDEREAL_DEG_S * cos(item->fit.dec_deg * RAD_PER_DEG);
    plan_field(&width, &height, &settings->camera);
    double across = side_seconds(width, item->fit.across_deg, drift * fabs(cos(up)));
    double along = side_seconds(height, item->fit.along_deg, drift * fabs(sin(up)));
    return fmin(across, along);
}

void plan_hours(struct plan_item *item, const struct plan_settings *settings)
{
    struct plan_shots *shots = &item->shots;
    double scale = plan_scale_arcsec(&settings->camera);
    double dec = item->member[0].object->dec_deg;
    shots->rule_s = plan_rule_of_500(settings->camera.focal_mm);
    shots->rule_trail_px = plan_trail_px(shots->rule_s, scale, dec);
    shots->fine_s = plan_trail_seconds(PLAN_FINE_TRAIL_PX, scale, dec);
    shots->exposure_s = settings->exposure_s > 0 ? settings->exposure_s
                        : settings->trail_px > 0
                            ? plan_trail_seconds(settings->trail_px, scale, dec)
                            : shots->rule_s;
    shots->trail_px = plan_trail_px(shots->exposure_s, scale, dec);
    shots->frames = (long)fmax(1, ceil(settings->total_s / shots->exposure_s - 1e-9));
    shots->clock_s = (double)shots->frames * (shots->exposure_s + settings->gap_s);
    const struct night_window *window = &item->window;
    item->begin = window->best;
    if (window->span.any) {
        double latest = time_between(window->span.start, window->span.end) - shots->clock_s;
        double centred = time_between(window->span.start, window->best) - shots->clock_s / 2;
        item->begin = time_add(window->span.start, fmax(0, fmin(centred, latest)));
    }
}

static void set_batch(struct plan_shots *shots, double span_s, double cadence_s)
{
    shots->batch_frames = (long)fmax(1, floor(span_s / cadence_s));
    shots->batch_s = (double)shots->batch_frames * cadence_s;
    shots->recentrings = (shots->frames - 1) / shots->batch_frames;
}

void plan_batches(struct plan_item *item, const struct plan_settings *settings)
{
    double room_s = room_seconds(item, settings);
    item->shots.limit = room_s < longest_batch_s ? PLAN_BY_ROOM : PLAN_BY_HOUR;
    set_batch(&item->shots, fmin(room_s, longest_batch_s),
              item->shots.exposure_s + settings->gap_s);
}

/* A picture of that camera held as the plan says. The lens bends by a share of the distance from
 * the middle that grows with its square. */
static void plan_wcs(struct wcs *wcs, const struct plan_item *item,
                     const struct plan_camera *camera)
{
    double up = item->fit.up_deg * RAD_PER_DEG, scale = plan_scale_arcsec(camera) / 3600;
    *wcs = (struct wcs){.ra_deg = item->fit.ra_deg, .dec_deg = item->fit.dec_deg, .order = 3};
    wcs->width = (int)fmax(1, round(camera->width_mm * 1000 / camera->pixel_um));
    wcs->height = (int)fmax(1, round(camera->height_mm * 1000 / camera->pixel_um));
    wcs->x = (wcs->width - 1) / 2.0;
    wcs->y = (wcs->height - 1) / 2.0;
    wcs->cd[0][0] = wcs->cd[1][1] = -scale * cos(up);
    wcs->cd[1][0] = scale * sin(up);
    wcs->cd[0][1] = -scale * sin(up);
    double corner_px = hypot(wcs->width, wcs->height) / 2;
    double bend = -camera->distortion / (corner_px * corner_px);
    wcs->a[3][0] = wcs->a[1][2] = wcs->b[0][3] = wcs->b[2][1] = bend;
}

void plan_smear(struct plan_item *item, const struct plan_settings *settings)
{
    struct plan_shots *shots = &item->shots;
    double cadence = shots->exposure_s + settings->gap_s;
    struct wcs wcs;
    struct smear smear;
    plan_wcs(&wcs, item, &settings->camera);
    double allowed_s = settings->smear_px > 0 ? smear_time(&wcs, item->begin, settings->align,
                                                           settings->smear_px, longest_batch_s)
                                              : longest_batch_s;
    if (allowed_s < shots->batch_s) {
        shots->limit = PLAN_BY_SMEAR;
        set_batch(shots, allowed_s, cadence);
    }
    double span_s = fmin(shots->batch_s, shots->clock_s);
    shots->has_smear = smear_measure(&smear, &wcs, item->begin, span_s);
    for (int fit = 0; shots->has_smear && fit < SMEAR_FITS; fit++) {
        shots->smear_px[fit] = smear.worst_px[fit];
    }
}

bool plan_session(struct plan_item *item, const struct place *place)
{
    const struct object *object = item->member[0].object;
    const struct night_window *window = &item->window;
    struct utc end = time_add(item->begin, item->shots.clock_s);
    double to_transit_s = time_between(item->begin, window->transit), azimuth, first, last;
    double from_deg, until_deg;
    if (!horizon_from_radec(&azimuth, &first, place, item->begin, object->ra_deg,
                            object->dec_deg) ||
        !horizon_from_radec(&azimuth, &last, place, end, object->ra_deg, object->dec_deg) ||
        !horizon_zenith_angle(&from_deg, place, item->begin, object->ra_deg, object->dec_deg) ||
        !horizon_zenith_angle(&until_deg, place, end, object->ra_deg, object->dec_deg)) {
        return false;
    }
    item->highest_deg = fmax(first, last);
    item->highest = first > last ? item->begin : end;
    if (to_transit_s > 0 && to_transit_s < item->shots.clock_s) {
        item->highest_deg = window->highest_deg;
        item->highest = window->transit;
    }
    item->turn_deg = angle_wrap_180(until_deg - from_deg);
    return true;
}
