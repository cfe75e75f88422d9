/* What the watcher takes for a touched tripod and for a clock that was set: just short of each
 * limit and just beyond. */
#include "jobs/watch_advice.h"
#include "night_fixture.h"
#include "sky/rates.h"

#include <math.h>

Suite *watch_thresholds_suite(void);

static const struct aim_wish wish;
static const struct job_engine nothing_known;
static struct aim_context context;
static struct watch_advice advice;

static void start(void)
{
    context = (struct aim_context){.wish = &wish, .engine = &nothing_known};
    advice = (struct watch_advice){.context = &context};
}

/* A frame of 6" a pixel, so many seconds after the first by the sky, by a clock that is ahead; the
 * camera was tilted by so many px. */
static struct night_step step(int width, double sky_s, double ahead_s, double moved_px)
{
    struct night_step step;
    struct night_frame frame =
        night_fixture_frame("frame.jpg", sky_s + ahead_s, 80 + SIDEREAL_DEG_S * sky_s);
    frame.width = width;
    frame.height = width * 2 / 3;
    frame.dec_deg += moved_px * 6 / 3600;
    watch_advice_step(&step, &advice, &frame);
    night_frame_free(&frame);
    return step;
}

static bool touched(int width, double moved_px)
{
    start();
    step(width, 0, 0, 0);
    return step(width, 10, 0, moved_px).touched;
}

START_TEST(a_tripod_moves_by_0_3_percent_of_the_width_and_2_5_pixels)
{
    ck_assert(!touched(1800, 5.4 * 0.93));
    ck_assert(touched(1800, 5.4 * 1.07));
    ck_assert(!touched(600, 2.5 * 0.93));
    ck_assert(touched(600, 2.5 * 1.07));
}
END_TEST

static bool jumped(double ahead_s)
{
    start();
    step(600, 0, 0, 0);
    double jump_s = step(600, 10, ahead_s, 0).clock_jump_s;
    ck_assert(jump_s == 0 || fabs(jump_s - ahead_s) < 0.1);
    return jump_s != 0;
}

START_TEST(a_clock_jumps_by_two_and_a_half_seconds)
{
    ck_assert(!jumped(2.3));
    ck_assert(jumped(2.7));
    ck_assert(!jumped(-2.3));
    ck_assert(jumped(-2.7));
}
END_TEST

START_TEST(the_third_early_frame_tells_that_the_clock_was_set_back)
{
    start();
    ck_assert(!step(600, 3600, 0, 0).late);
    ck_assert(step(600, 3610, -3600, 0).late);
    ck_assert(step(600, 3620, -3600, 0).late);
    ck_assert(!step(600, 3630, -3600, 0).late);
}
END_TEST

Suite *watch_thresholds_suite(void)
{
    Suite *suite = suite_create("watch thresholds");
    TCase *tests = tcase_create("watch");
    tcase_add_test(tests, a_tripod_moves_by_0_3_percent_of_the_width_and_2_5_pixels);
    tcase_add_test(tests, a_clock_jumps_by_two_and_a_half_seconds);
    tcase_add_test(tests, the_third_early_frame_tells_that_the_clock_was_set_back);
    suite_add_tcase(suite, tests);
    return suite;
}
