/* A promise that is not kept because of what the frames themselves show: lost frames, a brighter
 * sky, haze. */
#include "near.h"
#include "night/emergence.h"

#include <math.h>
#include <string.h>

Suite *promise_suite(void);

/* A hundred frames that were promised 1 in all, of a nebula whose brightness is known to a
 * magnitude only, and that gave 0.9. */
static struct emergence usual(void)
{
    return (struct emergence){.lights = 100,
                              .frames = 100,
                              .wanted = 1,
                              .known = true,
                              .snr = 0.9,
                              .snr_error = 0.02,
                              .has_promise = true,
                              .once = 0.1,
                              .off_mag = 1,
                              .sky_ratio = NAN,
                              .dimming_mag = NAN,
                              .width_ratio = NAN};
}

static const char *broken(const struct emergence *e)
{
    static char text[EMERGENCE_TEXT];
    emergence_write_broken(text, sizeof text, e);
    return text;
}

START_TEST(a_nebula_may_be_fainter_than_it_is_known)
{
    struct emergence e = usual();
    e.snr = 0.45;
    ck_assert_str_eq(broken(&e), "");
}
END_TEST

/* The root of 66 and 60 of 100 frames: 0.81 and 0.77. */
START_TEST(a_fifth_that_is_lost_is_told)
{
    struct emergence e = usual();
    e.frames = 66;
    e.lost[JUDGE_STARS] = 34;
    ck_assert_str_eq(broken(&e), "");
    e.frames = 60;
    e.lost[JUDGE_STARS] = 30;
    e.lost[JUDGE_WIDTH] = 10;
    ck_assert_str_eq(broken(&e), "less than promised: 40 of 100 frames were lost: 30 for cloud, 10 "
                                 "for focus");
    e.sky_ratio = 2.5;
    ck_assert_str_eq(broken(&e),
                     "less than promised: the sky is 2.5 times as bright as in the frame "
                     "that promised");
    e.dimming_mag = 0.6;
    ck_assert_str_eq(broken(&e), "less than promised: haze or cloud takes 0.6 mag");
}
END_TEST

/* What is lost matters only where less came than was promised, by two sigma. */
START_TEST(a_promise_that_is_kept_in_spite_of_it_is_not_broken)
{
    struct emergence e = usual();
    e.frames = 50;
    e.lost[JUDGE_BLUR] = 50;
    ck_assert_str_ne(broken(&e), "");
    e.snr = 0.965;
    ck_assert_str_eq(broken(&e), "");
    e.snr = 1.2;
    ck_assert_str_eq(broken(&e), "");
}
END_TEST

START_TEST(what_is_left_is_known_by_the_frames)
{
    struct emergence e = usual();
    e.frames = 25;
    e.sky_ratio = 4;
    e.dimming_mag = 2.5;
    const struct emergence_kept kept = emergence_find_kept(&e);
    assert_near(kept.frames, 0.5, 1e-12, "share");
    assert_near(kept.sky, 0.5, 1e-12, "share");
    assert_near(kept.clear, 0.1, 1e-12, "share");
}
END_TEST

/* Old steps are thinned out, and the last one stays. */
START_TEST(a_long_night_has_room)
{
    struct emergence e = usual();
    for (int i = 1; i <= 5 * EMERGENCE_STEPS; i++) {
        e.lights = e.frames = i;
        emergence_note(&e);
        ck_assert_int_le(e.steps, EMERGENCE_STEPS);
        ck_assert_int_eq(e.step[e.steps - 1].lights, i);
    }
    for (int i = 1; i < e.steps; i++) {
        ck_assert_int_gt(e.step[i].lights, e.step[i - 1].lights);
    }
    assert_near(e.step[e.steps - 1].promised, 0.1 * sqrt(5 * EMERGENCE_STEPS), 1e-9, "S/N");
}
END_TEST

Suite *promise_suite(void)
{
    Suite *suite = suite_create("promise");
    TCase *tests = tcase_create("promise");
    tcase_add_test(tests, a_nebula_may_be_fainter_than_it_is_known);
    tcase_add_test(tests, a_fifth_that_is_lost_is_told);
    tcase_add_test(tests, a_promise_that_is_kept_in_spite_of_it_is_not_broken);
    tcase_add_test(tests, what_is_left_is_known_by_the_frames);
    tcase_add_test(tests, a_long_night_has_room);
    suite_add_tcase(suite, tests);
    return suite;
}
