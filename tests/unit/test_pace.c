#include <check.h>

#include "near.h"
#include "night/pace.h"

#include <stddef.h>

static void add_many(struct pace *pace, int count, double gap_s)
{
    for (int i = 0; i < count; i++) {
        pace_add(pace, gap_s);
    }
}

START_TEST(test_without_gaps_the_exposure_tells)
{
    struct pace pace = {0};
    assert_near(pace_cadence_s(&pace, 0), 0, 0, "s");
    assert_near(pace_cadence_s(&pace, 4), 5, 1e-12, "s");
    add_many(&pace, 2, 30);
    assert_near(pace_cadence_s(&pace, 4), 5, 1e-12, "s");
    add_many(&pace, 1, 30);
    assert_near(pace_cadence_s(&pace, 4), 30, 1e-12, "s");
}
END_TEST

/* Two gaps and one, before three are a night. */
START_TEST(test_the_first_gaps_count)
{
    struct pace pace = {0};
    add_many(&pace, 1, 8);
    assert_near(pace_cadence_s(&pace, 2), 8, 1e-12, "s");
    add_many(&pace, 1, 9);
    assert_near(pace_cadence_s(&pace, 2), 8.5, 1e-12, "s");
    pace = (struct pace){0};
    add_many(&pace, 1, 16); /* a frame was lost */
    add_many(&pace, 1, 7);
    assert_near(pace_cadence_s(&pace, 2), 7, 1e-12, "s");
    pace = (struct pace){0};
    add_many(&pace, 1, 14.9);
    assert_near(pace_cadence_s(&pace, 2), 14.9, 1e-12, "s");
    pace = (struct pace){0};
    add_many(&pace, 1, 15.1); /* five times an exposure and a second: a pause */
    assert_near(pace_cadence_s(&pace, 2), 3, 1e-12, "s");
}
END_TEST

/* Frames every 2.5 s by a clock that shows whole seconds: 0, 2, 5, 7, 10. With a lost frame and a
 * pause among them a batch of 60 is counted to a frame and a half. */
START_TEST(test_whole_seconds_add_up)
{
    struct pace pace = {0};
    double before = 0;
    for (int frame = 1; frame < 60; frame++) {
        double now = floor(2.5 * (frame + (frame > 20) + 30 * (frame > 40)));
        pace_add(&pace, now - before);
        before = now;
        if (frame >= 12) {
            assert_near(60 * 2.5 / pace_cadence_s(&pace, 2), 60, frame >= 32 ? 1.5 : 3, "frames");
        }
    }
}
END_TEST

/* Wherever in the ring the pause of a re-centring lies, a silence is told after a minute. */
START_TEST(test_a_pause_to_recentre_delays_no_alarm)
{
    for (int before = 0; before <= 2 * PACE_GAPS; before++) {
        for (int after = 0; after <= 2 * PACE_GAPS; after++) {
            struct pace pace = {0};
            add_many(&pace, before, 3);
            pace_add(&pace, 280);
            add_many(&pace, after, 3);
            assert_near(pace_quiet_s(pace_cadence_s(&pace, 2)), 60, 1e-12, "s");
        }
    }
}
END_TEST

/* Five minutes and more are a pause. */
START_TEST(test_a_pause_is_no_gap)
{
    struct pace pace = {0};
    add_many(&pace, 3, 320);
    assert_near(pace_cadence_s(&pace, 4), 5, 1e-12, "s");
    add_many(&pace, 3, 280);
    assert_near(pace_cadence_s(&pace, 4), 280, 1e-12, "s");
}
END_TEST

START_TEST(test_a_slow_night_is_given_five_frames)
{
    struct pace pace = {0};
    add_many(&pace, 20, 40);
    pace_add(&pace, 400);
    assert_near(pace_quiet_s(pace_cadence_s(&pace, 2)), 200, 1e-12, "s");
    assert_near(pace_quiet_s(0), 60, 1e-12, "s");
}
END_TEST

Suite *pace_suite(void)
{
    Suite *s = suite_create("pace");
    TCase *c = tcase_create("pace");
    tcase_add_test(c, test_without_gaps_the_exposure_tells);
    tcase_add_test(c, test_the_first_gaps_count);
    tcase_add_test(c, test_whole_seconds_add_up);
    tcase_add_test(c, test_a_pause_to_recentre_delays_no_alarm);
    tcase_add_test(c, test_a_pause_is_no_gap);
    tcase_add_test(c, test_a_slow_night_is_given_five_frames);
    suite_add_tcase(s, c);
    return s;
}
