/* Roofs and trees: as typed, and what they do to windows, batches and starts. */
#include "near.h"
#include "plan/darkness.h"
#include "rig/rig.h"
#include "sky/vector.h"
#include "stand_fixture.h"
#include "tripod/batch_length.h"
#include "tripod/hiding.h"

#include <stdlib.h>
#include <string.h>

Suite *skyline_suite(void);

static struct skyline typed(const char *text)
{
    struct skyline skyline = {0};
    ck_assert_msg(skyline_read(&skyline, text), "%s", text);
    return skyline;
}

START_TEST(a_line_goes_straight_from_point_to_point_and_across_north)
{
    struct skyline line = typed("0:12 45:20 90:35 180:8 270:15");
    ck_assert_int_eq(line.points, 5);
    assert_near(skyline_altitude(&line, 0), 12, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 22.5), 16, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 135), 21.5, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 315), 13.5, 1e-12, "deg");
    assert_near(skyline_altitude(&line, -45), 13.5, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 360 + 45), 20, 1e-12, "deg");
    ck_assert(skyline_hides(&line, 135, 21.4));
    ck_assert(!skyline_hides(&line, 135, 21.6));
}
END_TEST

START_TEST(points_come_in_any_order_and_by_the_compass)
{
    struct skyline line = typed("  W:15, s:8 NNE:20\tN:12 ");
    ck_assert_int_eq(line.points, 4);
    assert_near(skyline_altitude(&line, 22.5), 20, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 180), 8, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 225), 11.5, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 315), 13.5, 1e-12, "deg");
    line = typed("40:7"); /* the same all around */
    assert_near(skyline_altitude(&line, 221), 7, 1e-12, "deg");
}
END_TEST

START_TEST(walls_and_what_nobody_knows)
{
    struct skyline line = typed("90:10 90:30 120:30 120:- 200:5 300:5");
    assert_near(skyline_altitude(&line, 90), 30, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 89.999), 10, 0.01, "deg");
    assert_near(skyline_altitude(&line, 90.001), 30, 1e-12, "deg");
    assert_near(skyline_altitude(&line, 120), 30, 1e-12, "deg");
    ck_assert(isnan(skyline_altitude(&line, 150)));
    ck_assert(!skyline_hides(&line, 150, -60));
    assert_near(skyline_altitude(&line, 250), 5, 1e-12, "deg");
    struct skyline north = typed("0:40 10:40 360:5 350:5"); /* a wall in the north */
    assert_near(skyline_altitude(&north, 359), 5, 1e-12, "deg");
    assert_near(skyline_altitude(&north, 0), 40, 1e-12, "deg");
    assert_near(skyline_altitude(&north, 1), 40, 1e-12, "deg");
    struct skyline none = {0};
    ck_assert(isnan(skyline_altitude(&none, 10)));
}
END_TEST

START_TEST(what_is_no_skyline_is_refused_whole)
{
    static const char *const wrong[] = {"",        "  ",        "12",    "0:",   ":5",
                                        "0:91",    "0:-11",     "361:5", "-1:5", "XX:5",
                                        "10:5 20", "10:5;20:5", "1:2:3", "0:x",  "0:5 5:--"};
    struct skyline line = typed("0:12");
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        ck_assert_msg(!skyline_read(&line, wrong[i]), "%s", wrong[i]);
        ck_assert_int_eq(line.points, 1);
    }
    for (int i = 1; i < SKYLINE_POINTS; i++) {
        ck_assert(skyline_add(&line, i, 3));
    }
    ck_assert(!skyline_add(&line, 350, 3));
}
END_TEST

START_TEST(what_is_written_reads_back)
{
    struct skyline line = typed("0:12 45:20.5 90:- 120:-3 270:15"), back = {0};
    char text[24];
    for (int from = 0, lines = 0; from < line.points; lines++) {
        from = skyline_write(text, sizeof text, &line, from);
        ck_assert(skyline_read(&back, text));
        ck_assert_int_lt(lines, 3);
    }
    ck_assert_int_eq(back.points, line.points);
    for (int i = 0; i < line.points; i++) {
        ck_assert(back.point[i].azimuth_deg == line.point[i].azimuth_deg);
        bool same = back.point[i].altitude_deg == line.point[i].altitude_deg;
        ck_assert(same || (isnan(back.point[i].altitude_deg) && i == 2));
    }
}
END_TEST

/* Two lines of one key go on; a change of the file replaces both, where the first was. */
START_TEST(the_settings_file_keeps_it_in_several_lines)
{
    static const char before[] = "[place Garden]\nlatitude = 50\nskyline = N:12 45:20\n"
                                 "longitude = 10\nskyline = 180:8\n[defaults]\nplace = Garden\n";
    const struct rig_value values[] = {{"skyline", "0:1 1:2"}, {"skyline", "90:3"}};
    static struct rig_file file;
    struct error err = {0};
    char *out = NULL;
    size_t length;
    ck_assert_int_eq(rig_parse(&file, before, strlen(before), "rig.ini", &err), 0);
    ck_assert_int_eq(file.place[0].skyline.points, 3);
    assert_near(skyline_altitude(&file.place[0].skyline, 180), 8, 1e-12, "deg");
    ck_assert_int_eq(
        rig_edit(&out, &length, before, strlen(before), "place Garden", values, 2, &err), 0);
    ck_assert_str_eq(out, "[place Garden]\nlatitude = 50\nskyline = 0:1 1:2\nskyline = 90:3\n"
                          "longitude = 10\n[defaults]\nplace = Garden\n");
    free(out);
    static const char wrong[] = "[place X]\nskyline = 10:95\n";
    ck_assert_int_eq(rig_parse(&file, wrong, strlen(wrong), "rig.ini", &err), ERROR_INPUT);
    ck_assert_str_eq(err.text, "rig.ini: line 2: skyline: expected points like 0:12 45:20 S:8 "
                               "270:-, azimuth and altitude in degrees");
}
END_TEST

/* The same line by another way: every segment between neighbours, those that wrap turned over. */
static double altitude_directly(const double (*point)[2], int points, double azimuth)
{
    for (int i = 0; i < points; i++) {
        double a = point[i][0], b = i + 1 < points ? point[i + 1][0] : point[0][0] + 360;
        double at = azimuth < a && i + 1 == points ? azimuth + 360 : azimuth;
        if (at >= a && at <= b) {
            double part = (at - a) / (b - a);
            return (1 - part) * point[i][1] + part * point[(i + 1) % points][1];
        }
    }
    ck_abort_msg("no segment at %g", azimuth);
    return 0;
}

enum { STEP_S = 5 };

/* The longest time in the dark, step by step, with ERFA for each. */
static void window_directly(double found[2], const struct darkness *night, const double (*point)[2],
                            int points, const double sky[2], double least)
{
    double end_s = time_between(night->dark.start, night->dark.end), since = -1;
    struct horizon horizon;
    double v[3], seen[3];
    vector_from_radec(v, sky[0], sky[1]);
    ck_assert(horizon_make(&horizon, &night->place, night->dark.start));
    found[0] = found[1] = 0;
    for (double at = 0; at <= end_s + STEP_S; at += STEP_S) {
        double azimuth, altitude;
        horizon_see(seen, &horizon, v, at);
        horizon_angles(&azimuth, &altitude, seen);
        double line = altitude_directly(point, points, azimuth);
        bool up = at <= end_s && altitude >= least && altitude >= line;
        since = up && since < 0 ? at : since;
        if (!up && since >= 0) {
            if (at - since > found[1] - found[0]) {
                found[0] = since;
                found[1] = at;
            }
            since = -1;
        }
    }
}

/* Random gardens, nights and targets; ten points each, 5 to 45 degrees high. A step of the direct
 * search and the drift of precession in a night are less than 15 s. */
START_TEST(windows_are_those_of_a_direct_computation)
{
    struct random random = {41};
    int cut = 0, none = 0;
    for (int i = 0; i < 60; i++) {
        struct place place = {.latitude_deg = random_between(&random, -50, 50),
                              .longitude_deg = random_between(&random, -180, 180)};
        struct skyline skyline = {0};
        struct darkness night;
        struct dark_window window, open;
        double point[10][2], found[2];
        const double sky[2] = {random_between(&random, 0, 360), random_between(&random, -60, 60)};
        for (int k = 0; k < 10; k++) {
            point[k][0] = 36 * k + random_between(&random, 0, 30);
            point[k][1] = random_between(&random, 5, 45);
            ck_assert(skyline_add(&skyline, point[k][0], point[k][1]));
        }
        ck_assert(darkness_find(&night, &place, 2026, 1 + i % 12, 7, NAN, DARKNESS_ASTRONOMICAL));
        if (!night.dark.any) {
            continue;
        }
        ck_assert(dark_window(&open, &night, sky[0], sky[1], 15));
        night.skyline = &skyline;
        ck_assert(dark_window(&window, &night, sky[0], sky[1], 15));
        window_directly(found, &night, (const double(*)[2])point, 10, sky, 15);
        if (found[1] - found[0] < 120) {
            none += open.span.any;
            ck_assert(dark_span_hours(&window.span) < 180 / 3600.0);
            ck_assert(!open.span.any || window.span.any || window.behind);
            continue;
        }
        ck_assert(window.span.any);
        assert_near(time_between(night.dark.start, window.span.start), found[0], 15, "s");
        assert_near(time_between(night.dark.start, window.span.end), found[1], 15, "s");
        cut += window.from_behind || window.goes_behind;
        ck_assert(time_between(window.span.start, window.best) >= 0 &&
                  time_between(window.best, window.span.end) >= 0);
    }
    ck_assert_int_ge(cut, 15);
    ck_assert_int_ge(none, 1);
}
END_TEST

/* A camera's target goes behind a roof when its altitude, by ERFA with the air, meets the line. */
START_TEST(a_target_is_hidden_when_it_meets_the_line)
{
    struct random random = {42};
    int gone = 0;
    for (int i = 0; i < 80; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct skyline line = typed("0:30 90:50 200:35 300:25");
        struct ground ground;
        struct hiding hiding;
        double v[3], ra, dec, azimuth, altitude;
        tripod.place.pressure_hpa = 1010;
        tripod.place.temperature_c = 10;
        ck_assert(horizon_to_radec(&ra, &dec, &tripod.place, tripod.utc, tripod.azimuth_deg,
                                   tripod.altitude_deg));
        vector_from_radec(v, ra, dec);
        ck_assert(ground_make(&ground, &tripod.place, tripod.utc));
        hiding_find(&hiding, &line, &ground, v, 14400);
        ck_assert(hiding.known);
        ck_assert(hiding.hidden == skyline_hides(&line, tripod.azimuth_deg, tripod.altitude_deg));
        if (!hiding.changes) {
            ck_assert(hiding.hidden ? hiding_visible_s(&hiding) == 0
                                    : isinf(hiding_visible_s(&hiding)));
            continue;
        }
        gone++;
        struct utc then = time_add(tripod.utc, hiding.change_s);
        ck_assert(horizon_from_radec(&azimuth, &altitude, &tripod.place, then, ra, dec));
        assert_near(altitude, skyline_altitude(&line, azimuth), 0.003, "deg"); /* 0.1 s of drift */
        assert_near_turn(azimuth, hiding.azimuth_deg, 0.05);
    }
    ck_assert_int_ge(gone, 10);
}
END_TEST

START_TEST(without_a_skyline_nothing_is_hidden)
{
    struct random random = {43};
    struct tripod tripod = tripod_anywhere(&random);
    const double v[3] = {1, 0, 0};
    struct ground ground;
    struct hiding hiding;
    char text[100];
    ck_assert(ground_make(&ground, &tripod.place, tripod.utc));
    hiding_find(&hiding, NULL, &ground, v, 14400);
    ck_assert(!hiding.known && isinf(hiding_visible_s(&hiding)));
    hiding_write(text, sizeof text, &hiding);
    ck_assert_str_eq(text, "");
}
END_TEST

START_TEST(a_batch_ends_before_the_roof)
{
    struct batch_length batch = {.frames = 100, .limit = BATCH_BY_ROOM};
    batch_length_cut(&batch, 0, 2);
    ck_assert_int_eq(batch.frames, 100);
    batch_length_cut(&batch, 201, 2);
    ck_assert_int_eq(batch.frames, 100);
    ck_assert_int_eq(batch.limit, BATCH_BY_ROOM);
    batch_length_cut(&batch, 83, 2);
    ck_assert_int_eq(batch.frames, 41);
    ck_assert_int_eq(batch.limit, BATCH_BY_SKYLINE);
    batch_length_cut(&batch, 0.5, 2);
    ck_assert_int_eq(batch.frames, 1);
}
END_TEST

Suite *skyline_suite(void)
{
    Suite *suite = suite_create("skyline");
    TCase *tests = tcase_create("skyline");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, a_line_goes_straight_from_point_to_point_and_across_north);
    tcase_add_test(tests, points_come_in_any_order_and_by_the_compass);
    tcase_add_test(tests, walls_and_what_nobody_knows);
    tcase_add_test(tests, what_is_no_skyline_is_refused_whole);
    tcase_add_test(tests, what_is_written_reads_back);
    tcase_add_test(tests, the_settings_file_keeps_it_in_several_lines);
    tcase_add_test(tests, windows_are_those_of_a_direct_computation);
    tcase_add_test(tests, a_target_is_hidden_when_it_meets_the_line);
    tcase_add_test(tests, without_a_skyline_nothing_is_hidden);
    tcase_add_test(tests, a_batch_ends_before_the_roof);
    suite_add_tcase(suite, tests);
    return suite;
}
