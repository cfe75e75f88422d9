/* What jobs take for granted where nothing is told: hints, exposures, charts, skies. What is
 * expected follows from the words of the headers in numbers of its own. */
#include "jobs/accepted_trail.h"
#include "jobs/hints.h"
#include "jobs/job_chart.h"
#include "jobs/learn_lens.h"
#include "near.h"
#include "plan/night_plan.h"

#include <math.h>
#include <string.h>

Suite *job_limits_suite(void);

/* ---- hints ---- */

static struct solve_options options;
static struct hint_use use;

static void apply(const struct hint_settings *hints, const struct frame *frame,
                  const struct rig_in_use *rig)
{
    hints_apply(&options, &use, frame, hints, rig, NULL);
}

/* A scale that is typed is rounded, and a focal length is what the barrel says. */
START_TEST(a_given_scale_is_good_to_a_tenth)
{
    const struct hint_settings scale = {.scale_arcsec = 6}, lens = {.focal_mm = 50, .pixel_um = 4};
    const struct frame frame = {.width = 6000, .height = 4000};
    apply(&scale, &frame, NULL);
    assert_near(options.scale_arcsec, 6, 0, "arcsec/px");
    assert_near(options.scale_tolerance, 0.1, 0.005, "share");
    apply(&lens, &frame, NULL);
    assert_near(options.scale_arcsec, 0.004 / 50 * 206264.8, 0.001, "arcsec/px");
    assert_near(options.scale_tolerance, 0.1, 0.005, "share");
}
END_TEST

START_TEST(a_given_direction_is_good_to_ten_degrees)
{
    const struct hint_settings near = {.near = {true, 83, -5}};
    const struct hint_settings within = {.near = {true, 83, -5}, .within_deg = 3};
    const struct frame frame = {.width = 6000, .height = 4000};
    apply(&near, &frame, NULL);
    assert_near(options.within_deg, 10, 0.5, "deg");
    apply(&within, &frame, NULL);
    assert_near(options.within_deg, 3, 0, "deg");
}
END_TEST

/* The focal length in use where the settings have a lens of 50 mm, not named for this run. */
static double focal_of_frame(double exif_mm)
{
    static struct rig_in_use rig;
    struct rig_lens lens = {.shortest_mm = 50, .longest_mm = 50};
    const struct hint_settings none = {0};
    const struct frame frame = {
        .width = 6000, .height = 4000, .facts.focal_mm = {exif_mm, FACT_EXIF, "EXIF"}};
    rig.rig.lens = &lens;
    apply(&none, &frame, &rig);
    return use.focal_mm;
}

START_TEST(a_lens_goes_with_frames_within_an_eighth)
{
    assert_near(focal_of_frame(55), 50, 0, "mm");
    assert_near(focal_of_frame(45), 50, 0, "mm");
    assert_near(focal_of_frame(57), 57, 0, "mm");
    assert_near(focal_of_frame(43), 43, 0, "mm");
}
END_TEST

/* ---- exposures ---- */

/* 15.041 arcsec a second on the equator; a crop sensor 22.2 mm wide with 6000 px behind 50 mm has
 * 15.264 arcsec a pixel. */
START_TEST(a_sensor_that_nobody_knows_is_a_crop_sensor)
{
    const struct hint_use hints = {.focal_mm = 50};
    const struct trail_frame frame = {.hints = &hints, .width = 6000};
    const struct trail_choice choice = {0};
    const struct shutter shutter = {0};
    struct health_limits limits = {0};
    accepted_trail_find(&limits, &frame, &choice, &shutter, 10);
    assert_near(limits.exposure_s, 10, 0, "s");
    assert_near(limits.trail_px, 150.41 / 15.264, 0.05, "px");
}
END_TEST

/* ---- charts ---- */

static double chart_of(double size_deg, double frame_deg)
{
    const struct object object = {.major_arcmin = size_deg * 60};
    const struct other_frame frame = {.width_deg = frame_deg, .height_deg = frame_deg / 1.5};
    const struct job_chart_wish wish = {.field_deg = 0};
    return job_chart_width_deg(&wish, &object, &frame);
}

START_TEST(a_chart_is_as_wide_as_its_object_wants)
{
    assert_near(chart_of(3, 0), 18, 0.5, "deg");
    assert_near(chart_of(0.2, 0), 4, 0.1, "deg");
    assert_near(chart_of(NAN, 0), 4, 0.1, "deg");
    assert_near(chart_of(20, 0), 40, 1, "deg");
}
END_TEST

START_TEST(a_chart_with_a_frame_is_twice_as_wide)
{
    assert_near(chart_of(3, 10), 20, 0.5, "deg");
    assert_near(chart_of(3, 0.1), 0.5, 0.02, "deg");
    assert_near(chart_of(3, 90), 120, 3, "deg");
    const struct job_chart_wish wish = {.field_deg = 33};
    const struct object object = {.major_arcmin = 10};
    assert_near(job_chart_width_deg(&wish, &object, &(struct other_frame){0}), 33, 0, "deg");
}
END_TEST

/* ---- lenses ---- */

/* How many of three frames are left out, of which one has another focal length than 100 mm. Without
 * stars nothing is learned. */
static int left_out_at(double focal_mm)
{
    static struct learned_lens learned;
    static struct job_engine nothing;
    struct lens_night night;
    struct error err = {0};
    ck_assert_int_eq(lens_night_open(&night, 3, &err), 0);
    for (int i = 0; i < 3; i++) {
        night.note[night.count++] = (struct lens_note){
            .name = "f", .width = 6000, .height = 4000, .focal_mm = i == 1 ? focal_mm : 100};
    }
    ck_assert_int_eq(learn_lens(&learned, &night, &nothing, NULL, "no such file", &err), ERROR_NO);
    lens_night_free(&night);
    return learned.left_out;
}

START_TEST(frames_within_3_percent_are_of_one_focal_length)
{
    ck_assert_int_eq(left_out_at(102.7), 0);
    ck_assert_int_eq(left_out_at(97.4), 0);
    ck_assert_int_eq(left_out_at(103.4), 1);
    ck_assert_int_eq(left_out_at(96.7), 1);
}
END_TEST

/* ---- the plan of a night ---- */

/* Planned: 99 frames 3 s apart, that take 297 s. */
START_TEST(a_cadence_as_planned_keeps_the_planned_batch)
{
    const struct night_plan night = {
        .exposure_s = 2, .pause_s = 1, .batch_frames = 99, .batch_s = 297};
    ck_assert_int_eq(night_plan_batch(&night, 0), 99);
    ck_assert_int_eq(night_plan_batch(&night, 3.4), 99);
    ck_assert_int_eq(night_plan_batch(&night, 2.6), 99);
    ck_assert_int_eq(night_plan_batch(&night, 3.5), 84);
    ck_assert_int_eq(night_plan_batch(&night, 2.5), 118);
}
END_TEST

Suite *job_limits_suite(void)
{
    Suite *s = suite_create("job_limits");
    TCase *c = tcase_create("limits");
    tcase_add_test(c, a_given_scale_is_good_to_a_tenth);
    tcase_add_test(c, a_given_direction_is_good_to_ten_degrees);
    tcase_add_test(c, a_lens_goes_with_frames_within_an_eighth);
    tcase_add_test(c, a_sensor_that_nobody_knows_is_a_crop_sensor);
    tcase_add_test(c, a_chart_is_as_wide_as_its_object_wants);
    tcase_add_test(c, a_chart_with_a_frame_is_twice_as_wide);
    tcase_add_test(c, frames_within_3_percent_are_of_one_focal_length);
    tcase_add_test(c, a_cadence_as_planned_keeps_the_planned_batch);
    suite_add_tcase(s, c);
    return s;
}
