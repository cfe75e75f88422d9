#include "plan/plan_shots.h"

#include "base/units.h"
#include "sky/horizon.h"
#include "sky/vector.h"

#include <math.h>

static void find_rules(struct plan_shots *shots, const struct trail_sight *sight,
                       const struct shutter *shutter)
{
    static const struct trail_choice choices[PLAN_RULES] = {
        [PLAN_RULE_500] = {TRAIL_USUAL_MM_S, 0},
        [PLAN_RULE_300] = {TRAIL_STRICT_MM_S, 0},
        [PLAN_RULE_FINE] = {0, TRAIL_FINE_PX},
    };
    for (int i = 0; i < PLAN_RULES; i++) {
        double exposure_s = trail_choice_exposure(&choices[i], shutter, sight);
        shots->rule[i] = (struct plan_exposure){
            exposure_s, trail_px_of_seconds(exposure_s, sight->scale_arcsec, sight->dec_deg)};
    }
}

void plan_hours(struct plan_item *item, const struct plan_settings *settings)
{
    struct plan_shots *shots = &item->shots;
    double scale = plan_scale_arcsec(&settings->camera);
    double dec = item->member[0].object->dec_deg;
    const struct trail_sight sight = {settings->camera.focal_mm, scale, dec};
    find_rules(shots, &sight, &settings->shutter);
    shots->exposure_s = settings->exposure_s > 0
                            ? settings->exposure_s
                            : trail_choice_exposure(&settings->trail, &settings->shutter, &sight);
    shots->trail_px = trail_px_of_seconds(shots->exposure_s, scale, dec);
    shots->frames = (long)fmax(1, ceil(settings->total_s / shots->exposure_s - 1e-9));
    shots->clock_s = (double)shots->frames * (shots->exposure_s + settings->pause_s);
    const struct dark_window *window = &item->window;
    item->begin = window->best;
    if (window->span.any) {
        double latest = time_between(window->span.start, window->span.end) - shots->clock_s;
        double centred = time_between(window->span.start, window->best) - shots->clock_s / 2;
        item->begin = time_add(window->span.start, fmax(0, fmin(centred, latest)));
    }
}

/* How far the corner is from the axis, as a share of the focal length. */
static double corner_reach(const struct plan_camera *camera)
{
    return hypot(camera->width_mm, camera->height_mm) / 2 / camera->focal_mm;
}

double plan_corner_distortion(const struct plan_camera *camera)
{
    const struct lens_profile *lens = &camera->lens;
    return lens->radius > 0 ? lens_profile_share(lens, corner_reach(camera) / lens->radius)
                            : camera->distortion;
}

/* A lens of which one number is known bends by a share of the distance from the middle that grows
 * with its square. */
static void bend(struct wcs *wcs, const struct plan_camera *camera)
{
    const struct lens_profile one = {.radius = corner_reach(camera),
                                     .term = {1 - 1 / (1 + camera->distortion)}};
    const struct lens_profile *lens = camera->lens.radius > 0 ? &camera->lens : &one;
    double focal_px = camera->focal_mm * 1000 / camera->pixel_um;
    lens_profile_bend(wcs, lens, focal_px);
}

/* A picture of that camera held as the plan says. */
void plan_wcs(struct wcs *wcs, const struct plan_item *item, const struct plan_camera *camera)
{
    double up = item->fit.up_deg * RAD_PER_DEG, scale = plan_scale_arcsec(camera) / 3600;
    *wcs = (struct wcs){.ra_deg = item->fit.ra_deg, .dec_deg = item->fit.dec_deg};
    wcs->width = (int)fmax(1, round(camera->width_mm * 1000 / camera->pixel_um));
    wcs->height = (int)fmax(1, round(camera->height_mm * 1000 / camera->pixel_um));
    wcs->x = (wcs->width - 1) / 2.0;
    wcs->y = (wcs->height - 1) / 2.0;
    wcs->cd[0][0] = wcs->cd[1][1] = -scale * cos(up);
    wcs->cd[1][0] = scale * sin(up);
    wcs->cd[0][1] = -scale * sin(up);
    bend(wcs, camera);
}

void plan_outline(struct sky_ellipse *outline, const struct plan_item *item)
{
    *outline = item->member[0].shape;
    if (item->composed) {
        const struct group_fit *fit = &item->fit;
        bool wide = fit->across_deg >= fit->along_deg;
        *outline = (struct sky_ellipse){
            .ra_deg = fit->ra_deg,
            .dec_deg = fit->dec_deg,
            .major_deg = fmax(fit->across_deg, fit->along_deg) / 2,
            .minor_deg = fmin(fit->across_deg, fit->along_deg) / 2,
            .turn_deg = fit->up_deg + (wide ? 90 : 0),
        };
    }
}

bool plan_knows_smear(const struct plan_settings *settings)
{
    return plan_corner_distortion(&settings->camera) != 0 ||
           settings->accept.align != SMEAR_HOMOGRAPHY;
}

void plan_batches(struct plan_item *item, const struct plan_settings *settings)
{
    struct plan_shots *shots = &item->shots;
    struct wcs wcs;
    struct sky_ellipse outline;
    const struct dark_window *window = &item->window;
    double visible_s = window->goes_behind ? time_between(item->begin, window->span.end) : 0;
    const struct batch_wish wish = {.exposure_s = shots->exposure_s,
                                    .cadence_s = shots->exposure_s + settings->pause_s,
                                    .frames = shots->frames,
                                    .visible_s = visible_s,
                                    .accept = settings->accept};
    plan_wcs(&wcs, item, &settings->camera);
    plan_outline(&outline, item);
    batch_length_find(&shots->batch, &wcs, item->begin, &outline, &wish);
    if (!plan_knows_smear(settings)) {
        shots->batch.has_smear = false;
        shots->batch.widening = 0;
    }
    shots->recentrings = (shots->frames - 1) / shots->batch.frames;
}

bool plan_session(struct plan_item *item, const struct place *place)
{
    const struct object *object = item->member[0].object;
    const struct dark_window *window = &item->window;
    struct utc end = time_add(item->begin, item->shots.clock_s);
    double to_transit_s = time_between(item->begin, window->transit), azimuth, first, last;
    struct horizon at_first, at_last;
    if (!horizon_make(&at_first, place, item->begin) || !horizon_make(&at_last, place, end)) {
        return false;
    }
    horizon_find(&azimuth, &first, &at_first, object->ra_deg, object->dec_deg);
    horizon_find(&azimuth, &last, &at_last, object->ra_deg, object->dec_deg);
    double from_deg = horizon_zenith(&at_first, object->ra_deg, object->dec_deg);
    double until_deg = horizon_zenith(&at_last, object->ra_deg, object->dec_deg);
    item->highest_deg = fmax(first, last);
    item->highest = first > last ? item->begin : end;
    if (to_transit_s > 0 && to_transit_s < item->shots.clock_s) {
        item->highest_deg = window->highest_deg;
        item->highest = window->transit;
    }
    item->turn_deg = angle_wrap_180(until_deg - from_deg);
    return true;
}
