/* Frames of one night: did the tripod stand, did the clock run? */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/series.h"

Suite *series_suite(void);

enum { FRAMES = 12 };
static const char *const names[FRAMES] = {"a", "b", "c", "d", "e", "f",
                                          "g", "h", "i", "j", "k", "l"};

/* Twelve frames, one every 5 seconds, as the renderer takes them; from the frame moved on, the
 * camera points elsewhere; from the frame jumped on, the clock is ahead. 0: never. */
static void take(struct series_frame frame[FRAMES], int moved, double moved_deg, int jumped,
                 double jump_s)
{
    struct random random = {81};
    struct tripod tripod = tripod_anywhere(&random);
    for (int i = 0; i < FRAMES; i++) {
        if (moved && i == moved) {
            tripod.azimuth_deg += moved_deg;
        }
        double ahead = jumped && i >= jumped ? jump_s : 0;
        frame[i] = (struct series_frame){.name = names[i],
                                         .wcs = tripod_wcs(&tripod, 5 * i),
                                         .mid = time_add(tripod.utc, 5 * i + ahead),
                                         .item = i};
    }
}

START_TEST(a_tripod_that_stood_is_seen_to)
{
    struct series_frame frame[FRAMES];
    struct series series;
    take(frame, 0, 0, 0, 0);
    struct series_frame swapped = frame[2];
    frame[2] = frame[9];
    frame[9] = swapped;
    series_sort(frame, FRAMES);
    ck_assert_int_eq(frame[9].item, 9);
    series_measure(&series, frame, FRAMES);
    ck_assert_int_eq(series.frames, FRAMES);
    ck_assert_int_eq(series.still_from, 0);
    ck_assert_int_eq(series.clock_jump, 0);
    assert_near(series.cadence_s, 5, 1e-3, "s");
    assert_near(series.span_s, 55, 1e-3, "s");
    assert_near(series.still_px, 0, 0.1, "px");
}
END_TEST

START_TEST(a_touched_tripod_is_noticed)
{
    struct series_frame frame[FRAMES];
    struct series series;
    take(frame, 7, 0.2, 0, 0);
    series_measure(&series, frame, FRAMES);
    ck_assert_int_eq(series.still_from, 7);
    ck_assert_int_eq(series.clock_jump, 0);
    /* A creep of a few pixels is none: 0.001 degrees are 1.2 px. */
    take(frame, 7, 0.001, 0, 0);
    series_measure(&series, frame, FRAMES);
    ck_assert_int_eq(series.still_from, 0);
}
END_TEST

START_TEST(a_clock_that_jumped_is_told_from_a_touch)
{
    struct series_frame frame[FRAMES];
    struct series series;
    for (int back = 0; back < 2; back++) {
        /* Back by 4 s, frames stay in order: one that jumps farther changes places with others. */
        double jump_s = back ? -4 : 3600;
        take(frame, 0, 0, 5, jump_s);
        series_sort(frame, FRAMES);
        series_measure(&series, frame, FRAMES);
        ck_assert_int_eq(series.clock_jump, 5);
        assert_near(series.jump_s, jump_s, 0.2, "s");
    }
}
END_TEST

/* Set to another day while the tripod stands: frames as they were taken, by their names. A day of
 * the clock is 236 s longer than a turn of the sky. */
START_TEST(a_clock_that_was_set_to_another_day_is_told)
{
    struct series_frame frame[FRAMES];
    struct series series;
    for (int days = -2; days <= 2; days++) {
        take(frame, 0, 0, 5, days * 86400.0);
        series_measure(&series, frame, FRAMES);
        ck_assert_int_eq(series.clock_jump, days ? 5 : 0);
        assert_near(series.jump_s, days * 86400.0, 0.2, "s");
    }
}
END_TEST

START_TEST(equal_times_go_by_name)
{
    struct series_frame frame[FRAMES];
    take(frame, 0, 0, 0, 0);
    frame[4].mid = frame[3].mid;
    frame[3].name = "z";
    series_sort(frame, FRAMES);
    ck_assert_int_eq(frame[3].item, 4);
    ck_assert_int_eq(frame[4].item, 3);
    struct series series;
    series_measure(&series, frame, FRAMES); /* no division by a gap of 0 */
    assert_near(series.cadence_s, 5, 1e-3, "s");
}
END_TEST

Suite *series_suite(void)
{
    Suite *suite = suite_create("series");
    TCase *tests = tcase_create("series");
    tcase_add_test(tests, a_tripod_that_stood_is_seen_to);
    tcase_add_test(tests, a_touched_tripod_is_noticed);
    tcase_add_test(tests, a_clock_that_jumped_is_told_from_a_touch);
    tcase_add_test(tests, a_clock_that_was_set_to_another_day_is_told);
    tcase_add_test(tests, equal_times_go_by_name);
    suite_add_tcase(suite, tests);
    return suite;
}
