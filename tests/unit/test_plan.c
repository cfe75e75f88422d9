#include "base/units.h"
#include "near.h"
#include "objects_fixture.h"
#include "plan/approach.h"
#include "plan/plan.h"
#include "plan/plan_words.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

Suite *plan_suite(void);

static struct darkness night;
static struct plan_settings settings;

static void setting(double latitude, double longitude, int month, int day, double focal_mm)
{
    struct place place = {.latitude_deg = latitude, .longitude_deg = longitude};
    settings = (struct plan_settings){
        .camera = {focal_mm, 4, 3.7, 22.2, 14.8, SIGNAL_READ_NOISE, SIGNAL_EFFICIENCY},
        .least_altitude_deg = 30,
        .pause_s = 1,
        .total_s = 3600,
        .sky_mag = 19.2,
        .snr = 1,
        .accept = {.smear_px = 1, .align = SMEAR_HOMOGRAPHY},
    };
    ck_assert(darkness_find(&night, &place, 2026, month, day, NAN, DARKNESS_ASTRONOMICAL));
}

/* Common practice, no source: the 500 rule, so 2 s with 250 mm; and what that trails at 3.05 arcsec
 * a pixel: 30 arcsec of drift at the equator. */
START_TEST(rules)
{
    const struct trail_choice usual = {0};
    assert_near(trail_choice_seconds(&usual, &(struct trail_sight){250, 3.05, 0}), 2, 0, "s");
    double scale = plan_scale_arcsec(&(struct plan_camera){.focal_mm = 250, .pixel_um = 3.7});
    assert_near(scale, 3.0527, 1e-3, "arcsec");
    assert_near(trail_px_of_seconds(2, scale, 0), 9.854, 1e-2, "px");
    assert_near(trail_px_of_seconds(2, scale, -60), 9.854 / 2, 1e-2, "px");
    assert_near(trail_seconds_of_px(trail_px_of_seconds(1.7, scale, 35), scale, 35), 1.7, 1e-9,
                "s");
    assert_near(trail_seconds_of_px(3, scale, 90), 3600, 0, "s");
}
END_TEST

static void make(struct plan *plan, int most)
{
    struct error err = {0};
    ck_assert_msg(plan_make(plan, &objects, &night, &settings, most, &err) == 0, "%s", err.text);
}

static int place_of(const struct plan *plan, const char *name)
{
    struct object part;
    const struct object *object =
        milky_way_find(&part, name) ? &part : objects_find(&objects, name);
    ck_assert_msg(object != NULL, "%s is not in the tables", name);
    for (int i = 0; i < plan->count; i++) {
        for (int k = 0; k < plan->item[i].members; k++) {
            if (strcmp(plan->item[i].member[k].object->id, object->id) == 0) {
                return i + 1;
            }
        }
    }
    return 1000;
}

/* What a photographer in a suburb would name first (common practice, no source): no obscure numbers
 * and no dark nebula leads any of these nights. */
START_TEST(showpieces_come_first)
{
    struct plan plan = {0};
    setting(50, 10, 1, 18, 250); /* new Moon */
    make(&plan, 10);
    ck_assert_int_eq(place_of(&plan, "M 42"), 1);
    ck_assert_int_le(place_of(&plan, "M 45"), 4);
    ck_assert_int_le(place_of(&plan, "M 31"), 6);
    for (int i = 0; i < plan.count; i++) {
        const struct object *object = plan.item[i].member[0].object;
        ck_assert_msg(object->type != OBJECT_DARK_NEBULA, "%s", object->id);
        ck_assert_msg(object->common_names[0] || object->id[0] == 'M', "%s", object->id);
        ck_assert(i == 0 || plan.item[i].score <= plan.item[i - 1].score);
    }
    plan_free(&plan);
    setting(50, 10, 8, 12, 250);
    make(&plan, 10);
    ck_assert_int_le(place_of(&plan, "M 31"), 3);
    ck_assert_int_le(place_of(&plan, "NGC 7000"), 6);
    plan_free(&plan);
    setting(-34, 151, 7, 14, 135);
    make(&plan, 10);
    ck_assert_int_le(place_of(&plan, "NGC 3372"), 4);
    ck_assert_int_le(place_of(&plan, "M 8"), 5);
    ck_assert_int_eq(place_of(&plan, "M 81"), 1000);
    plan_free(&plan);
}
END_TEST

/* Nothing comes twice, and everything is up in the dark and fits. */
START_TEST(frames_are_possible)
{
    static const double focal[] = {24, 85, 250, 600};
    struct plan plan = {0};
    for (int f = 0; f < 4; f++) {
        setting(50, 10, 3, 18, focal[f]);
        make(&plan, 12);
        ck_assert_int_gt(plan.count, 5);
        for (int i = 0; i < plan.count; i++) {
            const struct plan_item *item = &plan.item[i];
            ck_assert(item->fit.fits && item->fit.fill <= 1);
            struct object part; /* of the Milky Way, which counts from 10 degrees on */
            double least = milky_way_find(&part, item->member[0].object->id) ? 9.99 : 29.99;
            ck_assert(item->window.span.any && item->window.best_altitude_deg >= least);
            ck_assert(time_between(night.dark.start, item->window.span.start) >= -1);
            ck_assert(time_between(item->window.span.end, night.dark.end) >= -1);
            ck_assert_int_ge((int)item->shots.batch.frames, 1);
            ck_assert_int_eq((int)item->shots.frames,
                             (int)ceil(3600 / item->shots.exposure_s - 1e-9));
            ck_assert_int_eq(place_of(&plan, item->member[0].object->id), i + 1);
        }
        plan_free(&plan);
    }
}
END_TEST

START_TEST(no_night_no_plan)
{
    struct plan plan = {0};
    setting(69.6, 19, 6, 21, 250);
    make(&plan, 5);
    ck_assert_int_eq(plan.count, 0);
    plan_free(&plan);
}
END_TEST

static struct plan_item item;

static void target(const char *name)
{
    struct error err = {0};
    const struct object *object = objects_find(&objects, name);
    ck_assert_ptr_nonnull(object);
    ck_assert_int_eq(plan_target(&item, object, &objects, &night, &settings, &err), 0);
}

/* Common practice, no source: re-centring is due about every 100 frames of 2 s with 250 mm. */
START_TEST(recentring)
{
    setting(50, 10, 1, 18, 250);
    target("M 42");
    ck_assert(item.shots.batch.frames > 60 && item.shots.batch.frames < 160);
    ck_assert_int_eq((int)item.shots.recentrings,
                     (int)((item.shots.frames - 1) / item.shots.batch.frames));
    /* The drift of a batch stays within a quarter of the picture's width. */
    double drift = item.shots.batch.span_s * 15.041 / 3600 * cos(5.4 * acos(-1) / 180);
    ck_assert(drift <= 0.25 * 5.09 + 0.02);
    settings.exposure_s = 0.5;
    target("M 42");
    ck_assert_int_eq((int)item.shots.frames, 7200);
    settings.exposure_s = 0;
    settings.trail.px = 3;
    target("M 42"); /* 0.61 s would trail 3 px, and a camera has 0.6 s */
    assert_near(item.shots.exposure_s, 0.6, 1e-9, "s");
    assert_near(item.shots.trail_px, 15.041 * 0.6 * cos(5.4 * acos(-1) / 180) / 3.0527, 0.01, "px");
}
END_TEST

static void assert_says(const char *text, const char *what)
{
    ck_assert_msg(strstr(text, what) != NULL, "says \"%s\", expected \"%s\" in it", text, what);
}

/* A flat picture of the sky is mended by a homography whatever the drift, by shift and rotation
 * only for a while; a lens that bends is mended by neither. tests/unit/test_smear.c holds smear
 * itself against brute force. */
START_TEST(recentring_for_smear)
{
    setting(50, 10, 1, 18, 250);
    target("M 42");
    long by_room = item.shots.batch.frames;
    ck_assert_int_eq(item.shots.batch.limit, BATCH_BY_ROOM);
    assert_near(item.shots.batch.smear_px[SMEAR_HOMOGRAPHY], 0, 0.01, "px");
    ck_assert(item.shots.batch.smear_px[SMEAR_TURN] > 1);
    settings.accept.align = SMEAR_TURN;
    target("M 42");
    ck_assert_int_eq(item.shots.batch.limit, BATCH_BY_SMEAR);
    ck_assert(item.shots.batch.frames < by_room);
    double frame_share = 1.0 / (double)item.shots.batch.frames;
    ck_assert(item.shots.batch.smear_px[SMEAR_TURN] <= 1);
    assert_near(item.shots.batch.smear_px[SMEAR_TURN], 1, 3 * frame_share, "px");
    ck_assert_int_eq((int)item.shots.recentrings,
                     (int)((item.shots.frames - 1) / item.shots.batch.frames));
    settings.accept.smear_px = 1000;
    target("M 42");
    ck_assert_int_eq((int)item.shots.batch.frames, (int)by_room);
    settings.accept.smear_px = 1;
    settings.accept.align = SMEAR_HOMOGRAPHY;
    double frames[2];
    for (int side = 0; side < 2; side++) { /* barrel and pincushion do the same harm */
        settings.camera.distortion = side ? 0.006 : -0.006;
        target("M 42");
        ck_assert_int_eq(item.shots.batch.limit, BATCH_BY_SMEAR);
        frames[side] = (double)item.shots.batch.frames;
    }
    ck_assert(frames[0] < (double)by_room / 2);
    assert_near(frames[0], frames[1], 0.1 * frames[1], "frames");
}
END_TEST

/* A learned lens goes before the one number; with one term it says the same. */
START_TEST(a_learned_lens_counts)
{
    struct plan_camera *camera = &settings.camera;
    setting(50, 10, 1, 15, 250);
    camera->distortion = -0.006;
    target("M 42");
    long by_number = item.shots.batch.frames;
    assert_near(plan_corner_distortion(camera), -0.006, 0, "share");
    double reach = hypot(camera->width_mm, camera->height_mm) / 2 / camera->focal_mm;
    camera->distortion = 0.05;
    camera->lens = (struct lens_profile){.radius = 2 * reach, .term = {4 * (1 - 1 / 0.994)}};
    target("M 42");
    ck_assert_int_eq((int)item.shots.batch.frames, (int)by_number);
    assert_near(plan_corner_distortion(camera), -0.006, 1e-15, "share");
    /* Two terms that undo each other in the corner bend the more on the way there. */
    camera->lens = (struct lens_profile){.radius = reach, .term = {-0.006, 0.006}};
    target("M 42");
    assert_near(plan_corner_distortion(camera), 0, 1e-15, "share");
    ck_assert_int_lt((int)item.shots.batch.frames, (int)by_number);
}
END_TEST

/* Meeus, Astronomical Algorithms, 2nd ed., eq. 14.1 (from memory). */
static double parallactic_deg(double hour_deg, double dec_deg, double latitude_deg)
{
    double to_rad = acos(-1) / 180, h = hour_deg * to_rad, dec = dec_deg * to_rad;
    return atan2(sin(h), tan(latitude_deg * to_rad) * cos(dec) - sin(dec) * cos(h)) / to_rad;
}

START_TEST(near_the_zenith)
{
    char text[200];
    struct approach approach = {0};
    struct plan_sheet sheet = {&settings, &night, &item, &approach, &objects, 60,
                               NULL,      "",     "",    NULL,      NULL,     {0}};
    setting(41.3, 10, 10, 12, 250); /* below the Andromeda Galaxy */
    settings.total_s = 7200;
    target("M 31");
    assert_near(item.highest_deg, 90, 0.3, "deg");
    plan_write_zenith(text, sizeof text, &sheet);
    assert_says(text, "90° high at");
    assert_says(text, "takes 57° of pan");
    setting(50, 10, 2, 24, 250);
    target("M 42");
    plan_write_zenith(text, sizeof text, &sheet);
    ck_assert_str_eq(text, "");
    const struct object *object = item.member[0].object;
    double from = -15.041 / 3600 * time_between(item.begin, item.window.transit);
    double until = from + 15.041 / 3600 * item.shots.clock_s;
    double turned =
        parallactic_deg(until, object->dec_deg, 50) - parallactic_deg(from, object->dec_deg, 50);
    assert_near(item.turn_deg, turned, 0.1, "deg");
    plan_write_turn(text, sizeof text, &sheet);
    assert_says(text, "turns by 17°");
}
END_TEST

START_TEST(moon_spoils)
{
    setting(50, 10, 1, 18, 250);
    target("M 42");
    double dark_sky = item.sky_mag, few = item.outlook.frames;
    ck_assert(item.outlook.frames_low < few && few < item.outlook.frames_high);
    setting(50, 10, 1, 2, 250); /* a day before full Moon */
    target("M 42");
    ck_assert(item.sky_mag < dark_sky - 0.5);
    ck_assert(item.outlook.frames > few);
}
END_TEST

/* Clocks go back in the night of 24 October 2026: Directive 2000/84/EC. */
START_TEST(a_clock_is_named_with_what_becomes_of_it_in_the_night)
{
    static const struct {
        int month, day;
        double offset_min;
        const char *want;
    } row[] = {{8, 12, 120, "CEST (UTC+02:00)"},
               {1, 12, 60, "CET (UTC+01:00)"},
               {10, 24, 120, "CEST (UTC+02:00); clocks go back at 03:00, times here stay CEST"},
               {3, 28, 60, "CET (UTC+01:00); clocks go forward at 02:00, times here stay CET"}};
    char text[200];
    struct approach approach = {0};
    struct zone zone = {.kinds = 1};
    const char rule[] = "CET-1CEST,M3.5.0,M10.5.0/3";
    ck_assert(zone_rule_read(&zone.rule, rule, strlen(rule)));
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        setting(50, 10, row[i].month, row[i].day, 250);
        struct plan_sheet sheet = {&settings, &night, &item, &approach, &objects, row[i].offset_min,
                                   &zone,     "",     "",    NULL,      NULL,     {0}};
        plan_write_zone(text, sizeof text, &sheet);
        ck_assert_str_eq(text, row[i].want);
    }
}
END_TEST

START_TEST(words)
{
    char text[200];
    struct approach approach = {0};
    setting(50, 10, 1, 18, 250);
    target("NGC 5139");
    struct plan_sheet sheet = {&settings, &night, &item, &approach, &objects, 60,
                               NULL,      "",     "",    NULL,      NULL,     {0}};
    plan_write_window(text, sizeof text, &sheet);
    assert_says(text, "never rises here: 8° below");
    target("M 31");
    settings.camera.focal_mm = 600;
    target("M 31");
    plan_write_hold(text, sizeof text, &item);
    assert_says(text, "too large for this lens");
    plan_write_date(text, sizeof text, &night, 60);
    ck_assert_str_eq(text, "18 January 2026");
    sheet.utc_offset_min = -210;
    plan_write_zone(text, sizeof text, &sheet);
    ck_assert_str_eq(text, "UTC-03:30");
    plan_write_duration(text, sizeof text, 5400);
    ck_assert_str_eq(text, "1 h 30 min");
    plan_write_duration(text, sizeof text, 3599);
    ck_assert_str_eq(text, "1 h");
    ck_assert_str_eq(plan_compass(359), "N");
    ck_assert_str_eq(plan_compass(200), "SSW");
    setting(69.6, 19, 6, 21, 250);
    plan_write_dark(text, sizeof text,
                    &(struct plan_sheet){.night = &night, .utc_offset_min = 120});
    assert_says(text, "no night: the Sun does not set");
    setting(59.9, 30, 6, 21, 250);
    plan_write_dark(text, sizeof text,
                    &(struct plan_sheet){.night = &night, .utc_offset_min = 180});
    assert_says(text, "Sun below -6° (it gets no darker: -7° at the lowest)");
}
END_TEST

static struct approach way;

static void approach_at(const char *utc_text, double latitude, const char *name)
{
    struct place place = {.latitude_deg = latitude, .longitude_deg = 10};
    struct utc utc;
    const struct object *object = objects_find(&objects, name);
    ck_assert(time_read(&utc, utc_text));
    ck_assert(approach_find(&way, &objects, &place, NULL, utc, object->ra_deg, object->dec_deg));
}

/* The moves add up to the target, and each star is where it is said to be. */
START_TEST(moves_lead_to_the_target)
{
    static const char *const names[] = {"M 42", "M 31", "M 81", "M 44", "NGC 2237", "M 46", "M 33"};
    for (int i = 0; i < 7; i++) {
        approach_at("2026-02-24T19:30:00Z", 50, names[i]);
        ck_assert(way.found && way.stops >= 2 && way.stops <= APPROACH_STOPS);
        ck_assert(way.stop[0].star->magnitude <= 2.5 && way.stop[0].altitude_deg >= 12);
        ck_assert_ptr_null(way.stop[way.stops - 1].star);
        double azimuth = way.stop[0].azimuth_deg, altitude = way.stop[0].altitude_deg;
        for (int k = 1; k < way.stops; k++) {
            azimuth += way.stop[k].pan_deg;
            altitude += way.stop[k].tilt_deg;
            assert_near_turn(azimuth, way.stop[k].azimuth_deg, 1e-9);
            assert_near(altitude, way.stop[k].altitude_deg, 1e-9, "deg");
        }
        ck_assert(way.stops > 2 || way.distance_deg < 30);
    }
    approach_at("2026-02-24T19:30:00Z", 50, "M 42");
    ck_assert_str_eq(way.stop[0].star->id, "Rigel");
}
END_TEST

/* 7 to 12 degrees high: what is hopped to is where the air shows it (Bennett 1982, J. Navigation
 * 35, 255, from memory: good to 0.07', and ERFA's model is off by 0.2' so low). */
START_TEST(stops_are_where_they_are_seen)
{
    struct place place = {.latitude_deg = 50, .longitude_deg = 10};
    const struct object *object = objects_find(&objects, "M 42");
    struct utc utc;
    double azimuth, altitude;
    approach_at("2026-02-24T23:15:00Z", 50, "M 42");
    ck_assert(way.found && way.stops >= 2);
    ck_assert(time_read(&utc, "2026-02-24T23:15:00Z"));
    ck_assert(
        horizon_from_radec(&azimuth, &altitude, &place, utc, object->ra_deg, object->dec_deg));
    double seen = way.stop[way.stops - 1].altitude_deg;
    ck_assert_msg(seen > 7 && seen < 12, "%g", seen);
    double lifted = 1 / tan((seen + 7.31 / (seen + 4.4)) * RAD_PER_DEG) / 60;
    assert_near(seen - altitude, lifted, 0.01, "deg");
}
END_TEST

/* In daylight no sweep comes near the Sun, and a target beside it has none. */
START_TEST(a_bright_star_is_its_own_start)
{
    approach_at("2026-08-12T20:00:00Z", 50, "Vega"); /* 78 degrees high */
    ck_assert(way.found);
    ck_assert_int_eq(way.stops, 1);
    ck_assert_str_eq(way.stop[0].star->id, "Vega");
}
END_TEST

START_TEST(the_sun_is_kept_away_from)
{
    int found = 0, refused = 0;
    for (int hour = 6; hour < 18; hour++) {
        char when[32];
        snprintf(when, sizeof when, "2026-06-24T%02d:00:00Z", hour);
        approach_at(when, 50, "M 35"); /* a degree from the Sun */
        ck_assert(!way.found);
        refused += way.sun_too_near;
        approach_at(when, 50, "M 31");
        found += way.found;
        if (way.found) {
            ck_assert(way.sun_altitude_deg > -1 && way.sun_nearest_deg >= APPROACH_SUN_DEG);
        }
    }
    ck_assert_int_gt(refused, 3);
    ck_assert_int_gt(found, 1);
    approach_at("2026-02-24T19:30:00Z", 50, "M 42");
    assert_near(way.sun_nearest_deg, 180, 0, "deg");
    approach_at("2026-02-24T19:30:00Z", 50, "NGC 5139"); /* below the horizon */
    ck_assert(!way.found && !way.sun_too_near);
}
END_TEST

Suite *plan_suite(void)
{
    Suite *suite = suite_create("plan");
    TCase *tcase = tcase_create("plan");
    tcase_add_unchecked_fixture(tcase, objects_fixture_load, objects_fixture_free);
    tcase_set_timeout(tcase, 60);
    tcase_add_test(tcase, rules);
    tcase_add_test(tcase, showpieces_come_first);
    tcase_add_test(tcase, frames_are_possible);
    tcase_add_test(tcase, no_night_no_plan);
    tcase_add_test(tcase, recentring);
    tcase_add_test(tcase, recentring_for_smear);
    tcase_add_test(tcase, a_learned_lens_counts);
    tcase_add_test(tcase, near_the_zenith);
    tcase_add_test(tcase, moon_spoils);
    tcase_add_test(tcase, a_clock_is_named_with_what_becomes_of_it_in_the_night);
    tcase_add_test(tcase, words);
    tcase_add_test(tcase, moves_lead_to_the_target);
    tcase_add_test(tcase, stops_are_where_they_are_seen);
    tcase_add_test(tcase, a_bright_star_is_its_own_start);
    tcase_add_test(tcase, the_sun_is_kept_away_from);
    suite_add_tcase(suite, tcase);
    return suite;
}
