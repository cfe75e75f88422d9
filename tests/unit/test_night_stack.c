/* Which frames the stack of a night leaves out, and when it is measured and written: just short of
 * each limit and just beyond. No pixel is looked at. */
#include "jobs/night_stack.h"
#include "near.h"
#include "night_fixture.h"

#include <math.h>
#include <string.h>

Suite *night_stack_suite(void);

static const struct stack_wish wish = {.wanted = true};
static struct night_stack night;

static void start(void)
{
    const struct aim_target target = {.name = "M 42"};
    night_stack_open(&night, &wish, NULL, &target);
}

/* Why a frame with stars of that width is left out, where those in the stack have 2.5 px, with its
 * stars fainter by dimming_mag. Without pixels none gets in. */
static enum judge_cause loss_of(double fwhm_px, double dimming_mag)
{
    struct night_frame frame = night_fixture_frame("f.jpg", 0, 80);
    enum judge_cause cause = JUDGE_NOTHING;
    start();
    night.width.sum = 5;
    night.width.count = 2;
    night.stack.frames = 2;
    night.reference = frame.health;
    night.reference.zero_mag = 20;
    frame.health.zero_mag = 20 - dimming_mag;
    frame.health.fwhm_px = fwhm_px;
    ck_assert_int_eq(night_stack_take(&night, &frame, NULL, NULL), 0);
    ck_assert_int_eq(night.emergence.lights, 1);
    for (int i = 0; i < JUDGE_CAUSES; i++) {
        cause = night.emergence.lost[i] ? (enum judge_cause)i : cause;
    }
    night.stack.frames = 0;
    night_stack_free(&night);
    night_frame_free(&frame);
    return cause;
}

START_TEST(stars_of_1_6_times_the_width_are_out_of_focus)
{
    ck_assert_int_eq(loss_of(2.5 * 1.5, 0), JUDGE_UNSOLVED);
    ck_assert_int_eq(loss_of(2.5 * 1.7, 0), JUDGE_WIDTH);
}
END_TEST

START_TEST(a_magnitude_of_cloud_is_too_much)
{
    ck_assert_int_eq(loss_of(2.5, 0.9), JUDGE_UNSOLVED);
    ck_assert_int_eq(loss_of(2.5, 1.1), JUDGE_STARS);
}
END_TEST

START_TEST(it_is_measured_again_with_a_tenth_more)
{
    start();
    night.emergence.frames = 195;
    night_stack_measure(&night);
    ck_assert_int_eq(night.measure_at, 215);
    night.emergence.frames = 2;
    night_stack_measure(&night);
    ck_assert_int_eq(night.measure_at, 3);
    night_stack_free(&night);
}
END_TEST

/* Whether it is written with so many frames, a hundred having been written that long ago. */
static bool is_written(int frames, double ago_s)
{
    start();
    night.written = 100;
    night.written_s = 1000;
    night.stack.frames = frames;
    ck_assert_int_eq(night_stack_write(&night, 1000 + ago_s, false, NULL), 0);
    bool written = night.written == frames;
    night.stack.frames = 0;
    night_stack_free(&night);
    return written;
}

START_TEST(it_is_written_with_a_twentieth_more)
{
    ck_assert(is_written(107, 60));
    ck_assert(!is_written(103, 60));
}
END_TEST

START_TEST(it_is_written_every_ten_seconds_at_most)
{
    ck_assert(is_written(150, 11));
    ck_assert(!is_written(150, 9));
}
END_TEST

/* A signal as strong as the noise of a pixel. */
START_TEST(a_target_is_visible_at_1)
{
    start();
    assert_near(night.emergence.wanted, 1, 0, "S/N");
    night_stack_free(&night);
}
END_TEST

Suite *night_stack_suite(void)
{
    Suite *s = suite_create("night_stack");
    TCase *c = tcase_create("limits");
    tcase_add_test(c, stars_of_1_6_times_the_width_are_out_of_focus);
    tcase_add_test(c, a_magnitude_of_cloud_is_too_much);
    tcase_add_test(c, it_is_measured_again_with_a_tenth_more);
    tcase_add_test(c, it_is_written_with_a_twentieth_more);
    tcase_add_test(c, it_is_written_every_ten_seconds_at_most);
    tcase_add_test(c, a_target_is_visible_at_1);
    suite_add_tcase(s, c);
    return s;
}
