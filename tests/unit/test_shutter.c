/* Exposures that cameras have, and how long stars may trail. Common practice, no source: dials
 * stand at thirds of a stop; 500 (or 300) over the focal length in mm is the longest exposure in
 * seconds. */
#include "base/shutter.h"
#include "near.h"
#include "rig/trail_choice.h"

#include <check.h>
#include <math.h>

Suite *shutter_suite(void);

START_TEST(the_dial)
{
    static const double asked[] = {100, 30, 29, 5.9, 3.7, 1.7, 1.2, 1.0, 0.995, 0.29, 0.26, 1e-9};
    static const double has[] = {30, 30, 25, 5, 3.2, 1.6, 1, 1, 1, 0.25, 0.25, 0.001};
    const struct shutter usual = {.count = 0};
    for (int i = 0; i < 12; i++) {
        assert_near(shutter_within(&usual, asked[i]), has[i], 1e-12, "s");
    }
}
END_TEST

/* Each step is a third of a stop, which dials round: by at most a sixth. */
START_TEST(thirds_of_a_stop)
{
    const struct shutter usual = {.count = 0};
    double s = shutter_within(&usual, 1000);
    while (s > 0.0011) {
        double next = shutter_within(&usual, s * 0.98);
        assert_near(log2(s / next), 1.0 / 3, 0.17, "stops");
        s = next;
    }
}
END_TEST

START_TEST(a_list_of_its_own)
{
    struct shutter own = {.count = 0};
    char text[16];
    ck_assert(shutter_read(&own, "1/4, 15,1, 1/2 ,4"));
    ck_assert_int_eq(own.count, 5);
    assert_near(own.s[0], 15, 0, "s");
    assert_near(shutter_within(&own, 3.9), 1, 0, "s");
    assert_near(shutter_within(&own, 0.3), 0.25, 0, "s");
    static const char *const wrong[] = {"", "1,,2", "1/0", "-1", "a", "1,", "0", "4000"};
    for (int i = 0; i < 8; i++) {
        ck_assert_msg(!shutter_read(&own, wrong[i]), "%s", wrong[i]);
    }
    ck_assert_int_eq(own.count, 5);
    shutter_write(text, sizeof text, 0.25);
    ck_assert_str_eq(text, "1/4 s");
    shutter_write(text, sizeof text, 0.3);
    ck_assert_str_eq(text, "0.3 s");
    shutter_write(text, sizeof text, 1.6);
    ck_assert_str_eq(text, "1.6 s");
    shutter_write(text, sizeof text, 120);
    ck_assert_str_eq(text, "120 s");
}
END_TEST

START_TEST(rules_of_trails)
{
    const struct shutter usual = {.count = 0};
    const struct trail_sight sight = {300, 2.544, 60};
    struct trail_choice choice = {0};
    char text[40];
    assert_near(trail_choice_seconds(&choice, &sight), 500.0 / 300, 1e-9, "s");
    assert_near(trail_choice_exposure(&choice, &usual, &sight), 1.6, 1e-9, "s");
    ck_assert(trail_choice_read(&choice, "300"));
    assert_near(trail_choice_seconds(&choice, &sight), 1, 1e-9, "s");
    trail_choice_write(text, sizeof text, &choice);
    ck_assert_str_eq(text, "300 rule");
    ck_assert(trail_choice_read(&choice, " 3 px "));
    /* 15.041 arcsec a second at the equator, half of that at 60 degrees. */
    assert_near(trail_choice_seconds(&choice, &sight), 3 * 2.544 / (15.041 / 2), 1e-3, "s");
    trail_choice_write(text, sizeof text, &choice);
    ck_assert_str_eq(text, "3 px of trail");
    static const char *const wrong[] = {"", "px", "3 pxx", "0", "-3", "9999", "500 rule"};
    for (int i = 0; i < 7; i++) {
        ck_assert_msg(!trail_choice_read(&choice, wrong[i]), "%s", wrong[i]);
    }
    ck_assert(choice.px > 2.9);
}
END_TEST

/* Rules stand at 500 or 300 seconds times millimetres, some at 200 or 600; an accepted trail is a
 * few pixels (common practice, no source). So numbers of three digits or more are rules, those of
 * two are pixels; below a tenth of a pixel nothing shows, and beyond 2000 a wide lens draws lines.
 */
START_TEST(numbers_that_are_rules_or_pixels)
{
    struct trail_choice choice;
    ck_assert(trail_choice_read(&choice, "105"));
    assert_near(choice.rule_mm_s, 105, 0, "mm s");
    assert_near(choice.px, 0, 0, "px");
    ck_assert(trail_choice_read(&choice, "95"));
    assert_near(choice.rule_mm_s, 0, 0, "mm s");
    assert_near(choice.px, 95, 0, "px");
    ck_assert(trail_choice_read(&choice, "1900"));
    ck_assert(!trail_choice_read(&choice, "2100"));
    ck_assert(trail_choice_read(&choice, "0.11 px"));
    ck_assert(!trail_choice_read(&choice, "0.09 px"));
}
END_TEST

/* At 2 arcsec a pixel, 20 px of trail take an hour where the sky moves by 40 / 3600 arcsec a second
 * (15.041 at the equator): nearer to the pole, nobody waits longer. */
START_TEST(an_hour_at_most)
{
    double dec_deg = acos(40.0 / 3600 / 15.041) * 180 / acos(-1);
    assert_near(trail_seconds_of_px(20 * 0.95, 2, dec_deg), 3600 * 0.95, 1, "s");
    assert_near(trail_seconds_of_px(20 * 1.05, 2, dec_deg), 3600, 1e-9, "s");
}
END_TEST

Suite *shutter_suite(void)
{
    Suite *suite = suite_create("shutter");
    TCase *tests = tcase_create("shutter");
    tcase_add_test(tests, the_dial);
    tcase_add_test(tests, thirds_of_a_stop);
    tcase_add_test(tests, a_list_of_its_own);
    tcase_add_test(tests, rules_of_trails);
    tcase_add_test(tests, numbers_that_are_rules_or_pixels);
    tcase_add_test(tests, an_hour_at_most);
    suite_add_tcase(suite, tests);
    return suite;
}
