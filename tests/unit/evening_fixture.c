#include "evening_fixture.h"

#include "jobs/target.h"
#include "near.h"
#include "night_fixture.h"
#include "objects/fame.h"
#include "plan/plan_words.h"

#include <string.h>

static double pick(struct random *random, const double *list, int count)
{
    return list[(int)(random_uniform(random) * count)];
}

static void choose_rig(struct evening *e, struct random *random)
{
    static const double focals[] = {50, 85, 135, 180, 200, 250, 300, 400};
    static const double distortions[] = {0, -0.006, 0.004, -0.02};
    bool full = random_uniform(random) < 0.3;
    e->settings = (struct plan_settings){
        .camera = {pick(random, focals, 8), 4, random_between(random, 3, 8), full ? 36 : 22.2,
                   full ? 24 : 14.8, SIGNAL_READ_NOISE, SIGNAL_EFFICIENCY,
                   pick(random, distortions, 4)},
        .least_altitude_deg = 20,
        .pause_s = random_between(random, 0.3, 2),
        .total_s = random_between(random, 600, 7200),
        .sky_mag = 19.2,
        .snr = 1,
        .accept = batch_accept_usual(),
    };
    static const struct trail_choice choices[] = {{0, 0}, {300, 0}, {0, 3}};
    e->settings.trail = choices[(int)(random_uniform(random) * 3)];
    e->settings.compose = random_uniform(random) < 0.3;
    /* Some lenses are zooms; that shifts nothing of what is drawn by lot. */
    bool zooms = e->settings.camera.pixel_um < 4.5;
    const double longest = e->settings.camera.focal_mm;
    e->settings.zoom =
        zooms ? (struct lens_range){0.4 * longest, longest, 4, 5.6} : (struct lens_range){0};
}

/* And some have own hours. */
static void choose_hours(struct evening *e)
{
    struct dark_span hours = e->night.dark;
    if (hours.any && e->night.place.longitude_deg > 60) {
        hours.start = time_add(hours.start, 0.3 * 3600 * dark_span_hours(&hours));
        hours.end = time_add(hours.end, -0.1 * 3600 * dark_span_hours(&hours));
        ck_assert(darkness_limit(&e->night, &hours));
    }
}

/* Something that is up in that night and fits. */
static bool choose_target(struct evening *e, const struct objects *objects, struct random *random)
{
    struct error err = {0};
    struct place place = {.latitude_deg = random_between(random, -60, 62),
                          .longitude_deg = random_between(random, -180, 180)};
    int month = 1 + (int)(random_uniform(random) * 12),
        day = 1 + (int)(random_uniform(random) * 28);
    const struct object *object =
        &objects->object[(int)(random_uniform(random) * objects->deep_sky)];
    struct dark_window window;
    double highest_deg = 90 - fabs(place.latitude_deg - object->dec_deg);
    if (fame_of_object(object) < FAME_KNOWN || highest_deg < e->settings.least_altitude_deg) {
        return false; /* before what takes long */
    }
    ck_assert(
        darkness_find(&e->night, &place, 2026, month, day, (double)NAN, DARKNESS_ASTRONOMICAL));
    choose_hours(e);
    ck_assert(dark_window(&window, &e->night, object->ra_deg, object->dec_deg,
                          e->settings.least_altitude_deg));
    /* In brighter twilight aim takes no horizon: by a wrong clock it might be day. */
    if (e->night.depth < DARKNESS_NAUTICAL || !window.span.any || window.highest_deg > 80) {
        return false;
    }
    int code = plan_target(&e->item, object, objects, &e->night, &e->settings, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    e->settings.camera = e->item.camera;
    return e->item.window.span.any && e->item.fit.fits && e->item.fit.fill < 0.6 &&
           e->item.fit.hold != GROUP_TURNED && e->item.highest_deg < 80;
}

bool evening_draw(struct evening *e, const struct objects *objects, struct random *random)
{
    choose_rig(e, random);
    return choose_target(e, objects, random);
}

/* The camera stands as the plan has it, but points beside the target. */
void evening_set_up(struct evening *e, const struct objects *objects, struct random *random)
{
    const struct plan_camera *camera = &e->settings.camera;
    const double settle_s = 30; /* so that the batch begins when the plan does */
    double azimuth, altitude, width, height;
    plan_field(&width, &height, camera);
    e->tripod = (struct tripod){.place = e->night.place, .utc = time_add(e->item.begin, -settle_s)};
    ck_assert(horizon_from_radec(&azimuth, &altitude, &e->tripod.place, e->tripod.utc,
                                 e->plan.middle.ra_deg, e->plan.middle.dec_deg));
    e->tripod.altitude_deg = altitude + random_between(random, -0.4, 0.4) * height;
    e->tripod.azimuth_deg =
        azimuth + random_between(random, -0.4, 0.4) * width / cos(altitude * RAD_PER_DEG);
    e->tripod.roll_deg = e->item.fit.hold == GROUP_PORTRAIT ? 90 : 0;
    e->tripod.lens =
        (struct lens){.scale_arcsec = plan_scale_arcsec(camera),
                      .width = (int)round(camera->width_mm * 1000 / camera->pixel_um),
                      .height = (int)round(camera->height_mm * 1000 / camera->pixel_um),
                      .distortion = camera->distortion};
    e->wish = (struct aim_wish){
        .margin_percent = 5, .settle_s = settle_s, .cadence_s = night_plan_every_s(&e->plan)};
    e->wish.occasion.today = time_add(e->tripod.utc, 86400);
    e->wish.occasion.pressure_hpa.given = true; /* of no air, as the renderer has it */
    e->stands = (struct rig_place){.latitude_deg = e->night.place.latitude_deg,
                                   .longitude_deg = e->night.place.longitude_deg};
    e->engine.rig.rig.place = &e->stands;
    e->context = (struct aim_context){.wish = &e->wish, .engine = &e->engine, .plan = &e->plan};
    struct error err = {0};
    ck_assert_msg(target_from_plan(&e->context.target, objects, &e->plan, false, &err) == 0, "%s",
                  err.text);
}

static double later_of(const struct evening *e, int number)
{
    return e->wish.settle_s + number * night_plan_every_s(&e->plan);
}

static void take(struct solved_frame *solved, const struct evening *e, double later_s)
{
    *solved = (struct solved_frame){.name = "frame.jpg"};
    solved->solution.solved = true;
    solved->solution.wcs = tripod_wcs(&e->tripod, later_s);
    solved->frame.width = solved->solution.wcs.width;
    solved->frame.height = solved->solution.wcs.height;
    solved->frame.facts.exposure_s = (struct fact){e->plan.exposure_s, FACT_EXIF, "EXIF"};
    solved->frame.facts.start_utc =
        time_stamp_utc(time_add(e->tripod.utc, later_s - e->plan.exposure_s / 2), 6);
}

void evening_solved(struct solved_frame *solved, const struct evening *e, int number)
{
    take(solved, e, later_of(e, number));
}

void evening_answer(struct aim_answer *answer, const struct evening *e,
                    const struct solved_frame *solved)
{
    aim_answer_find(answer, solved, &e->context, 0);
}

void evening_ask_aim(struct evening *e)
{
    take(&e->solved, e, 0);
    evening_answer(&e->answer, e, &e->solved);
}

/* What the night's frames say of themselves. */
struct night_frame evening_frame(const struct evening *e, int number)
{
    double later_s = later_of(e, number);
    struct wcs wcs = tripod_wcs(&e->tripod, later_s);
    char name[40];
    snprintf(name, sizeof name, "frame-%04d.jpg", number);
    struct night_frame frame = night_fixture_frame(name, 0, 0);
    frame.width = wcs.width;
    frame.height = wcs.height;
    wcs_centre(&wcs, &frame.ra_deg, &frame.dec_deg);
    frame.scale_arcsec = wcs_scale_arcsec(&wcs);
    frame.up_angle_deg = wcs_up_angle_deg(&wcs);
    frame.exposure_s = e->plan.exposure_s;
    frame.health.trail_px = e->plan.trail_px;
    frame.start_utc = time_stamp_utc(time_add(e->tripod.utc, later_s - e->plan.exposure_s / 2), 6);
    return frame;
}
