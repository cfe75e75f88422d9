/* One evening after the other, with rigs, places, targets and dates at random: what the plan says,
 * aim, the watcher and the review say too, to a frame. The pictures are pointed by the demo's
 * renderer, which knows nothing of plans. */
#include "jobs/aim_answer.h"
#include "jobs/batch_advice.h"
#include "jobs/target.h"
#include "jobs/watch_advice.h"
#include "near.h"
#include "night_fixture.h"
#include "objects/fame.h"
#include "plan/night_plan.h"
#include "plan/plan_words.h"
#include "scratch.h"
#include "stand_fixture.h"

#include <string.h>

Suite *one_voice_suite(void);

static struct objects objects;

static void load(void)
{
    struct error err = {0};
    ck_assert_msg(objects_load(&objects, "catalogs", &err) == 0, "%s", err.text);
}

static void unload(void)
{
    objects_free(&objects);
}

/* What is made up for an evening, and what comes of it. */
struct evening {
    struct plan_settings settings;
    struct darkness night;
    struct plan_item item;
    struct night_plan plan; /* as it was read back */
    struct tripod tripod;
    struct aim_wish wish;
    struct job_engine engine; /* with nothing but the objects */
    struct aim_context context;
    struct aim_answer answer;
};

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
static bool choose_target(struct evening *e, struct random *random)
{
    struct error err = {0};
    struct place place = {.latitude_deg = random_between(random, -60, 62),
                          .longitude_deg = random_between(random, -180, 180)};
    int month = 1 + (int)(random_uniform(random) * 12),
        day = 1 + (int)(random_uniform(random) * 28);
    ck_assert(
        darkness_find(&e->night, &place, 2026, month, day, (double)NAN, DARKNESS_ASTRONOMICAL));
    choose_hours(e);
    const struct object *object = &objects.object[(int)(random_uniform(random) * objects.deep_sky)];
    struct dark_window window;
    ck_assert(dark_window(&window, &e->night, object->ra_deg, object->dec_deg,
                          e->settings.least_altitude_deg));
    /* In brighter twilight aim takes no horizon: by a wrong clock it might be day. */
    if (fame_of_object(object) < FAME_KNOWN || e->night.depth < DARKNESS_NAUTICAL ||
        !window.span.any || window.highest_deg > 80) {
        return false;
    }
    int code = plan_target(&e->item, object, &objects, &e->night, &e->settings, &err);
    ck_assert_msg(code == 0, "%s", err.text);
    e->settings.camera = e->item.camera;
    return e->item.window.span.any && e->item.fit.fits && e->item.fit.fill < 0.6 &&
           e->item.fit.hold != GROUP_TURNED && e->item.highest_deg < 80;
}

/* Keeps the plan in a file, and reads it as the others do. */
static void carry_plan(struct evening *e)
{
    const char *name = scratch_path("night-plan.json");
    struct night_plan made;
    struct error err = {0};
    const struct plan_sheet sheet = {
        .settings = &e->settings, .night = &e->night, .item = &e->item, .utc_offset_min = 60};
    const struct dark_span *up = &e->item.window.span;
    char hours[24];
    night_plan_make(&made, &e->item, &e->settings, "a camera");
    night_plan_note_hours(&made, &sheet);
    ck_assert_msg(night_plan_write(name, &made, &err) == 0, "%s", err.text);
    ck_assert_msg(night_plan_read(&e->plan, name, &err) == 0, "%s", err.text);
    ck_assert_str_eq(e->plan.target, e->item.member[0].object->id);
    assert_near(e->plan.exposure_s, e->item.shots.exposure_s, 1e-5, "s");
    ck_assert_int_eq(e->plan.batch_frames, (int)e->item.shots.batch.frames);
    ck_assert_int_eq(e->plan.frames, (int)e->item.shots.frames);
    assert_near(e->plan.lead_right, made.lead_right, 1e-5, "widths");
    assert_near(e->plan.middle.ra_deg, e->item.fit.ra_deg, 2e-3, "deg");
    ck_assert_str_eq(e->plan.rule, made.rule);
    /* The hours are those of the plan's own words, and own hours are kept. */
    plan_write_span(hours, sizeof hours, up, 60);
    ck_assert_msg(strncmp(e->plan.hours, hours, strlen(hours)) == 0, "%s, %s", e->plan.hours,
                  hours);
    assert_near(time_between(e->plan.from.utc, up->start), 0, 0.51, "s");
    assert_near(time_between(e->plan.until.utc, up->end), 0, 0.51, "s");
    ck_assert(!e->night.own.any || (time_between(e->night.own.start, up->start) >= -0.01 &&
                                    time_between(up->end, e->night.own.end) >= -0.01));
    assert_near(e->plan.focal_mm, e->item.camera.focal_mm, 0.005, "mm");
    assert_near(e->plan.f_number, e->item.camera.f_number, 0.005, "");
}

/* The camera stands as the plan has it, but points beside the target. */
static void set_up(struct evening *e, struct random *random)
{
    const struct plan_camera *camera = &e->settings.camera;
    double azimuth, altitude, width, height;
    plan_field(&width, &height, camera);
    e->tripod = (struct tripod){.place = e->night.place, .utc = e->item.begin};
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
        .margin_percent = 5, .settle_s = 30, .cadence_s = night_plan_every_s(&e->plan)};
    e->context = (struct aim_context){.wish = &e->wish, .engine = &e->engine, .plan = &e->plan};
    struct error err = {0};
    ck_assert_msg(target_from_plan(&e->context.target, &objects, &e->plan, false, &err) == 0, "%s",
                  err.text);
}

static void ask_aim(struct evening *e)
{
    struct aim_sight sight = {.wcs = tripod_wcs(&e->tripod, 0)};
    sight.occasion = (struct occasion){.has_time = true,
                                       .has_utc = true,
                                       .start = e->tripod.utc,
                                       .mid = e->tripod.utc,
                                       .today = e->tripod.utc,
                                       .exposure_s = e->plan.exposure_s,
                                       .has_place = true,
                                       .place = e->tripod.place};
    aim_answer_from_sight(&e->answer, &sight, &e->context, 0);
}

static double drift_px(const struct evening *e)
{
    return 15.041 * cos(e->plan.middle.dec_deg * RAD_PER_DEG) / e->plan.scale_arcsec *
           night_plan_every_s(&e->plan);
}

static void check_aim(struct evening *e)
{
    const struct advice *advice = &e->answer.advice;
    double cadence_s = night_plan_every_s(&e->plan), frame_px = drift_px(e);
    ask_aim(e);
    ck_assert(e->answer.has_length && advice->has_horizon);
    ck_assert_msg(advice->has_lead, "%s at %.1f deg, %d frames every %.2f s, %g mm", e->plan.target,
                  e->item.window.best_altitude_deg, e->plan.batch_frames, cadence_s,
                  e->plan.focal_mm);
    ck_assert_int_eq((int)e->answer.length.frames, e->plan.batch_frames);
    assert_near((advice->batch.last_s - advice->batch.first_s) / cadence_s,
                e->plan.batch_frames - 1, 1e-6, "frames");
    ck_assert(advice->lead.mean_px < frame_px);
    double planned =
        hypot(e->plan.lead_right * e->tripod.lens.width, e->plan.lead_up * e->tripod.lens.height);
    double led = hypot(advice->lead.right_part * e->tripod.lens.width,
                       advice->lead.up_part * e->tripod.lens.height);
    assert_near(led / frame_px, planned / frame_px, 1, "frames of lead");
}

/* What the night's frames say of themselves. */
static struct night_frame make_frame(const struct evening *e, int number)
{
    double later_s = 30 + number * night_plan_every_s(&e->plan);
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

/* The head is turned by what aim says; then the watcher counts the frames. */
static void check_watch(struct evening *e)
{
    struct watch_advice advice = {.context = &e->context};
    struct alerts alerts = {.wish = {.warn_frames = 3}};
    int frames = e->plan.batch_frames, told_at = -1;
    e->tripod.azimuth_deg += e->answer.advice.lead.move.pan_deg;
    e->tripod.altitude_deg += e->answer.advice.lead.move.tilt_deg;
    for (int i = 0; i <= frames + 1; i += i == 2 && frames > 12 ? frames - 10 : 1) {
        struct night_frame frame = make_frame(e, i);
        struct night_step step;
        struct alert told[ALERTS_MOST];
        watch_advice_step(&step, &advice, &frame);
        ck_assert(!step.late && step.on_target && step.has_batch);
        ck_assert_int_eq((int)step.batch.frames, frames);
        int count = alerts_feed(told, &alerts, &frame, &step);
        if (i < frames) {
            assert_near(alerts_frames_left(&alerts, &step), frames - i, 1e-3, "frames left");
        }
        for (int k = 0; k < count; k++) {
            ck_assert(told[k].kind == ALERT_NEAR_EDGE || told[k].kind == ALERT_RECENTRE);
            told_at = told[k].kind == ALERT_RECENTRE && told_at < 0 ? i : told_at;
        }
        night_frame_free(&frame);
    }
    assert_near(told_at, frames - 1, 1, "frames");
}

static void check_review(const struct evening *e)
{
    enum { FRAMES = 12 };
    struct night_list list = {.frame = calloc(FRAMES, sizeof *list.frame), .count = FRAMES};
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE], exposure[24], wanted[2][80];
    for (int i = 0; i < FRAMES; i++) {
        list.frame[i] = make_frame(e, i);
    }
    struct review *review = night_fixture_review(&list, &e->context.target);
    review->plan = &e->plan;
    int count = review_advise(advice, review);
    shutter_write(exposure, sizeof exposure, e->plan.exposure_s);
    snprintf(wanted[0], sizeof wanted[0], "re-centre every %d frames", e->plan.batch_frames);
    snprintf(wanted[1], sizeof wanted[1], "instead of the %d planned", e->plan.batch_frames);
    ck_assert_int_gt(count, 0);
    ck_assert_msg(strstr(advice[0], wanted[0]) || strstr(advice[0], wanted[1]), "%s; expected %s",
                  advice[0], wanted[0]);
    ck_assert(!strstr(advice[0], "keep to the plan") || strstr(advice[0], exposure));
    night_fixture_free(review, &list);
}

static void check_words(const struct evening *e)
{
    const struct plan_sheet sheet = {
        .settings = &e->settings, .night = &e->night, .item = &e->item};
    char text[400], exposure[24], wanted[80];
    shutter_write(exposure, sizeof exposure, e->plan.exposure_s);
    plan_write_shots(text, sizeof text, &e->item);
    snprintf(wanted, sizeof wanted, "%d x %s =", e->plan.frames, exposure);
    ck_assert_msg(strstr(text, wanted) != NULL, "%s; expected %s", text, wanted);
    plan_write_recentring(text, sizeof text, &sheet);
    snprintf(wanted, sizeof wanted, "= %d frame", e->plan.batch_frames);
    ck_assert_msg(strstr(text, wanted) || strstr(text, "not needed"), "%s; expected %s", text,
                  wanted);
}

/* Without a plan, aim before the move and the watcher after it decide by the same rules; high up a
 * level camera turns on the sky between them, and with it the way that the drift takes through the
 * picture, so there it is left out. */
static void check_without_plan(struct evening *e)
{
    struct wcs after;
    struct ground ground;
    struct stand stand;
    const struct head level = {0};
    const struct batch_sight sight = {&stand, &level, e->plan.exposure_s,
                                      night_plan_every_s(&e->plan), (double)INFINITY};
    struct batch_length watched;
    e->context.plan = NULL;
    e->wish.accept = e->plan.accept;
    double azimuth = e->tripod.azimuth_deg, altitude = e->tripod.altitude_deg;
    e->tripod.azimuth_deg -= e->answer.advice.lead.move.pan_deg;
    e->tripod.altitude_deg -= e->answer.advice.lead.move.tilt_deg;
    ask_aim(e);
    e->tripod.azimuth_deg = azimuth;
    e->tripod.altitude_deg = altitude;
    after = tripod_wcs(&e->tripod, 30);
    ck_assert(ground_make(&ground, &e->tripod.place, time_add(e->tripod.utc, 30)));
    stand_make(&stand, &after, &ground);
    ck_assert(batch_advise(&watched, &sight, &e->context));
    /* Which stars are at the rim differs a little, and so does the largest smear. */
    double share = watched.limit == BATCH_BY_SMEAR ? 0.05 : 0.02;
    assert_near((double)e->answer.length.frames, (double)watched.frames,
                fmax(1, share * (double)watched.frames), "frames");
}

enum { EVENINGS = 300, PARTS = 20 };

START_TEST(evenings)
{
    struct random random = {2026 + (uint64_t)_i};
    struct evening *e = calloc(1, sizeof *e);
    ck_assert_ptr_nonnull(e);
    for (int evening = 0; evening < EVENINGS / PARTS;) {
        choose_rig(e, &random);
        if (!choose_target(e, &random)) {
            continue;
        }
        evening++;
        carry_plan(e);
        check_words(e);
        set_up(e, &random);
        check_aim(e);
        check_watch(e);
        check_review(e);
        if (e->item.highest_deg < 60) {
            check_without_plan(e);
        }
    }
    free(e);
}
END_TEST

static void assert_refused(const char *text, const char *says)
{
    const char *name = scratch_write("night-plan.json", text, strlen(text));
    struct night_plan plan;
    struct error err = {0};
    ck_assert_int_eq(night_plan_read(&plan, name, &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, says) != NULL, "says \"%s\", expected \"%s\"", err.text, says);
}

START_TEST(files_that_are_no_plans)
{
    assert_refused("[body Otter]\n", "is no plan of a night");
    assert_refused("{\"frame\": 1}", "it has no \"night_plan_of\"");
    assert_refused("{\"night_plan_of\": \"M 42\"}",
                   "middle_ra_deg: expected a number from 0 to 360");
    assert_refused("{\"night_plan_of\": \"M 42\", \"middle_ra_deg\": 400}",
                   "middle_ra_deg: expected");
    assert_refused("[1, 2]", "it has no");
}
END_TEST

Suite *one_voice_suite(void)
{
    Suite *suite = suite_create("one voice");
    TCase *tests = tcase_create("one voice");
    tcase_add_unchecked_fixture(tests, load, unload);
    tcase_add_checked_fixture(tests, scratch_make, scratch_remove);
    tcase_set_timeout(tests, 120);
    tcase_add_loop_test(tests, evenings, 0, PARTS);
    tcase_add_test(tests, files_that_are_no_plans);
    suite_add_tcase(suite, tests);
    return suite;
}
