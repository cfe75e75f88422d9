/* How late frames come, and what the camera's clock is off by that. */
#include "near.h"
#include "night/arrivals.h"

#include <check.h>
#include <math.h>

Suite *arrivals_suite(void);

/* Frames every 8 s that come lag_s later each. */
static struct arrivals come(const double *lag_s, int frames)
{
    struct arrivals arrivals = {0};
    for (int i = 0; i < frames; i++) {
        arrivals_add(&arrivals, 1e6 + 8 * i, 1e6 + 8 * i + lag_s[i]);
    }
    return arrivals;
}

START_TEST(three_frames_must_be_late)
{
    const double lag_s[] = {3, 2, 2.5, 40, 41, 45};
    struct arrivals two = come(lag_s, 2), five = come(lag_s, 5), six = come(lag_s, 6);
    assert_near(arrivals_late_s(&two), 0, 0, "s");
    assert_near(arrivals_late_s(&five), 0.5, 1e-6, "s");
    assert_near(arrivals_late_s(&six), 38, 1e-6, "s");
}
END_TEST

/* Frames that were there before, or are copied from a card, come faster than they were taken. */
START_TEST(a_card_that_is_copied_is_not_late)
{
    double lag_s[40];
    for (int i = 0; i < 40; i++) {
        lag_s[i] = 5000 - 7.5 * i;
    }
    for (int i = 3; i <= 40; i++) {
        struct arrivals arrivals = come(lag_s, i);
        double lag;
        assert_near(arrivals_late_s(&arrivals), 0, 1e-6, "s");
        ck_assert(!arrivals_lag(&lag, &arrivals));
    }
}
END_TEST

/* To a fifth of the 32 s in which five were taken: 6.4 s. */
START_TEST(five_frames_at_their_own_pace_tell_the_lag)
{
    const double good[] = {3600, 3602, 3601, 3603, 3606}, bad[] = {3600, 3602, 3601, 3603, 3607};
    struct arrivals four = come(good, 4), five = come(good, 5), spread = come(bad, 5);
    double lag;
    ck_assert(!arrivals_lag(&lag, &four));
    ck_assert(arrivals_lag(&lag, &five));
    assert_near(lag, 3602, 1e-6, "s");
    ck_assert(!arrivals_lag(&lag, &spread));
}
END_TEST

/* Of short exposures, one a second, 2 s are allowed. */
START_TEST(two_seconds_are_always_allowed)
{
    for (int i = 0; i < 2; i++) {
        struct arrivals arrivals = {0};
        double lag, drift = i ? 2.2 : 1.8;
        for (int k = 0; k < 5; k++) {
            arrivals_add(&arrivals, k, k + 100 + drift * k / 4);
        }
        ck_assert(arrivals_lag(&lag, &arrivals) == !i);
    }
}
END_TEST

START_TEST(a_clock_that_is_set_begins_anew)
{
    const double set[] = {2, 2, 2, 3602, 3602, 3602}, late[] = {2, 2, 2, 290, 290, 290},
                 later[] = {2, 2, 2, 310, 310, 310};
    struct arrivals arrivals = come(set, 6);
    assert_near(arrivals_late_s(&arrivals), 0, 0, "s");
    arrivals = come(late, 6);
    assert_near(arrivals_late_s(&arrivals), 288, 1e-6, "s");
    arrivals = come(later, 6);
    assert_near(arrivals_late_s(&arrivals), 0, 0, "s");
}
END_TEST

Suite *arrivals_suite(void)
{
    Suite *suite = suite_create("arrivals");
    TCase *c = tcase_create("arrivals");
    tcase_add_test(c, three_frames_must_be_late);
    tcase_add_test(c, a_card_that_is_copied_is_not_late);
    tcase_add_test(c, five_frames_at_their_own_pace_tell_the_lag);
    tcase_add_test(c, two_seconds_are_always_allowed);
    tcase_add_test(c, a_clock_that_is_set_begins_anew);
    suite_add_tcase(suite, c);
    return suite;
}
