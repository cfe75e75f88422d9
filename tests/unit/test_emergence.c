/* When a target counts as seen, a promise as broken, and what the reason is: just short of each
 * limit and just beyond. */
#include "near.h"
#include "night/emergence.h"

#include <math.h>
#include <string.h>

Suite *emergence_suite(void);

/* A hundred frames, all in the stack, of which one was promised 0.1: 1 in all. */
static struct emergence usual(double snr, double snr_error)
{
    struct emergence e = {.lights = 100,
                          .frames = 100,
                          .wanted = 1,
                          .known = true,
                          .snr = snr,
                          .snr_error = snr_error,
                          .has_promise = true,
                          .once = 0.1,
                          .sky_ratio = NAN,
                          .dimming_mag = NAN,
                          .width_ratio = NAN};
    return e;
}

static bool can_foresee(double snr, double snr_error)
{
    const struct emergence e = usual(snr, snr_error);
    struct emergence_outlook outlook;
    emergence_foresee(&outlook, &e);
    return outlook.known;
}

/* Three sigma, as is usual for a detection. */
START_TEST(a_signal_of_three_times_its_error_is_one)
{
    ck_assert(can_foresee(0.32, 0.1));
    ck_assert(!can_foresee(0.28, 0.1));
}
END_TEST

/* Half the signal to noise wants four times the frames. */
START_TEST(the_outlook_grows_with_the_square)
{
    struct emergence e = usual(0.5, 0.05);
    struct emergence_outlook outlook;
    e.cadence_s = 3;
    emergence_foresee(&outlook, &e);
    ck_assert(outlook.known && !outlook.visible);
    assert_near(outlook.frame, 400, 1, "frames");
    assert_near(outlook.frame_error, 80, 1, "frames");
    assert_near(outlook.left_s, 900, 3, "s");
    e.snr = 2;
    emergence_foresee(&outlook, &e);
    ck_assert(outlook.visible);
}
END_TEST

/* A promise of 1 for a target whose brightness is known to 0.05 mag: 0.047 of it. Together with an
 * error of 0.05 that is 0.0686, of which two sigma may be missing. */
START_TEST(a_promise_is_broken_by_two_sigma)
{
    struct emergence e = usual(1 - 0.128, 0.05);
    e.off_mag = 0.05;
    ck_assert(!emergence_is_broken(&e));
    e.snr = 1 - 0.146;
    ck_assert(emergence_is_broken(&e));
    e.has_promise = false;
    ck_assert(!emergence_is_broken(&e));
}
END_TEST

/* Where the error is small, what the brightness may be off by is allowed by itself: 0.5 mag leave
 * 10^(-0.2) = 0.631. */
START_TEST(what_the_brightness_may_be_off_by_is_allowed)
{
    struct emergence e = usual(0.65, 0.001);
    e.off_mag = 0.5;
    ck_assert(!emergence_is_broken(&e));
}
END_TEST

static const char *why_broken(struct emergence *e)
{
    static char text[EMERGENCE_TEXT];
    ck_assert(emergence_is_broken(e));
    emergence_write_broken(text, sizeof text, e);
    return text;
}

/* A tenth of the signal to noise: a sky 1/0.9^2 = 1.235 times as bright, 0.114 mag of haze, 19 of
 * 100 frames. */
START_TEST(what_takes_a_tenth_is_a_reason)
{
    struct emergence e = usual(0.5, 0.01);
    e.sky_ratio = 1.26;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "the sky is 1.3 times as bright"));
    e.sky_ratio = 1.21;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "fainter than catalogued"));
    e.dimming_mag = 0.13;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "haze or cloud takes 0.1 mag"));
    e.dimming_mag = 0.1;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "fainter than catalogued"));
    e.frames = 79;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "21 of 100 frames were lost"));
    e.frames = 83;
    e.width_ratio = 1.17;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "fainter than catalogued"));
    e.width_ratio = 1.23;
    ck_assert_ptr_nonnull(strstr(why_broken(&e), "1.23 times as wide"));
}
END_TEST

START_TEST(a_kept_promise_has_nothing_to_say)
{
    const struct emergence e = usual(1, 0.05);
    char text[EMERGENCE_TEXT] = "before";
    emergence_write_broken(text, sizeof text, &e);
    ck_assert_str_eq(text, "");
}
END_TEST

Suite *emergence_suite(void)
{
    Suite *s = suite_create("emergence");
    TCase *c = tcase_create("limits");
    tcase_add_test(c, a_signal_of_three_times_its_error_is_one);
    tcase_add_test(c, the_outlook_grows_with_the_square);
    tcase_add_test(c, a_promise_is_broken_by_two_sigma);
    tcase_add_test(c, what_the_brightness_may_be_off_by_is_allowed);
    tcase_add_test(c, what_takes_a_tenth_is_a_reason);
    tcase_add_test(c, a_kept_promise_has_nothing_to_say);
    suite_add_tcase(s, c);
    return s;
}
