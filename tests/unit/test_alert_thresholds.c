/* Where each alert begins and ends: nights just short of it and just beyond. The numbers are those
 * that the alerts are documented with; make check-thresholds moves them. */
#include "night/alerts.h"

#include <check.h>
#include <math.h>
#include <string.h>

Suite *alert_thresholds_suite(void);

/* A frame every 2 seconds. */
struct session {
    struct alerts alerts;
    struct night_frame frame;
    struct night_step step;
    double time_s;
};

static struct session quiet_session(void)
{
    struct session s = {.alerts.wish = {.warn_frames = 12, .batch = 100}};
    s.frame.read = s.frame.solved = true;
    s.frame.detected = 200;
    s.frame.exposure_s = 1;
    s.frame.scale_arcsec = 20;
    s.frame.health.linear = s.frame.health.black_known = true;
    s.frame.health.fwhm_px = 2.8;
    s.frame.health.zero_mag = 16;
    s.frame.health.sky_share = 0.05;
    s.step.cadence_s = 2;
    s.step.on_target = true;
    s.step.drift = (struct drift){.inside = true, .changes = true, .change_s = 2000};
    return s;
}

static bool feed(struct session *s, enum alert_kind kind)
{
    struct alert told[ALERTS_MOST];
    s->step.time_s = s->time_s += 2;
    s->step.compared = s->time_s > 2;
    int count = alerts_feed(told, &s->alerts, &s->frame, &s->step);
    for (int i = 0; i < count; i++) {
        if (told[i].kind == kind) {
            return true;
        }
    }
    return false;
}

/* With how many frames like the present one it is told, 0: not with 20. */
static int told_after(struct session *s, enum alert_kind kind)
{
    for (int i = 1; i <= 20; i++) {
        if (feed(s, kind)) {
            return i;
        }
    }
    return 0;
}

/* After 20 quiet frames. */
static struct session usual_session(void)
{
    struct session s = quiet_session();
    ck_assert_int_eq(told_after(&s, ALERT_KINDS), 0);
    return s;
}

static int cloud_after(double lost_mag, double stars)
{
    struct session s = quiet_session();
    if (isnan(lost_mag)) {
        s.frame.health.zero_mag = (double)NAN;
    }
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 0);
    s.frame.health.zero_mag -= lost_mag;
    s.frame.detected = (int)(200 * stars);
    return told_after(&s, ALERT_CLOUD);
}

START_TEST(half_a_magnitude_is_a_cloud)
{
    ck_assert_int_eq(cloud_after(0.46, 1), 0);
    ck_assert_int_eq(cloud_after(0.54, 1), 2);
    /* Where light is not known, half of the stars. */
    ck_assert_int_eq(cloud_after((double)NAN, 0.53), 0);
    ck_assert_int_eq(cloud_after((double)NAN, 0.47), 2);
}
END_TEST

static int clear_after(double lost_mag, double stars)
{
    struct session s = quiet_session();
    bool known = !isnan(lost_mag);
    s.frame.health.zero_mag = known ? 16 : (double)NAN;
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 0);
    s.frame.health.zero_mag -= 1;
    s.frame.detected = 60;
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 2);
    s.frame.health.zero_mag += 1 - lost_mag;
    s.frame.detected = (int)(200 * stars);
    return told_after(&s, ALERT_CLEAR);
}

START_TEST(three_frames_within_a_quarter_of_a_magnitude_are_clear)
{
    ck_assert_int_eq(clear_after(0.27, 1), 0);
    ck_assert_int_eq(clear_after(0.23, 1), 3);
    ck_assert_int_eq(clear_after((double)NAN, 0.67), 0);
    ck_assert_int_eq(clear_after((double)NAN, 0.73), 3);
}
END_TEST

/* The air gets worse at a steady rate, through a polar night of 20 hours with a frame every 6
 * minutes. */
static bool clouds_up(double mag_h)
{
    struct session s = usual_session();
    bool told = false;
    for (int i = 0; i < 200; i++) {
        s.time_s += 360 - 2;
        s.frame.health.zero_mag -= mag_h / 10;
        told = feed(&s, ALERT_CLOUD) || told;
    }
    return told;
}

START_TEST(of_the_best_air_0_4_magnitudes_an_hour_are_forgiven)
{
    ck_assert(!clouds_up(0.36));
    ck_assert(clouds_up(0.44));
}
END_TEST

/* The third clouded frame of a night is told of if three were clear before it: five make a usual
 * one, by their median. */
START_TEST(five_frames_tell_what_is_usual)
{
    struct session s = quiet_session();
    for (int i = 0; i < 3; i++) {
        feed(&s, ALERT_KINDS);
    }
    s.frame.health.zero_mag -= 2;
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 3);
}
END_TEST

static int told_if_wider(double ratio, double lost_mag, enum alert_kind kind)
{
    struct session s = usual_session();
    s.frame.health.fwhm_px *= ratio;
    s.frame.health.zero_mag -= lost_mag;
    return told_after(&s, kind);
}

START_TEST(a_quarter_wider_is_soft)
{
    ck_assert_int_eq(told_if_wider(1.23, 0, ALERT_FOCUS), 0);
    ck_assert_int_eq(told_if_wider(1.27, 0, ALERT_FOCUS), 3);
}
END_TEST

static int sharp_after(double ratio)
{
    struct session s = usual_session();
    s.frame.health.fwhm_px = 2.8 * 1.5;
    ck_assert_int_eq(told_after(&s, ALERT_FOCUS), 3);
    s.frame.health.fwhm_px = 2.8 * ratio;
    return told_after(&s, ALERT_SHARP);
}

START_TEST(within_12_percent_of_the_best_is_sharp_again)
{
    ck_assert_int_eq(sharp_after(1.14), 0);
    ck_assert_int_eq(sharp_after(1.10), 3 + 2); /* three, once the median of five is */
}
END_TEST

START_TEST(dew_widens_by_15_percent_and_takes_0_3_magnitudes)
{
    ck_assert_int_eq(told_if_wider(1.13, 0.4, ALERT_DEW), 0);
    ck_assert_int_ne(told_if_wider(1.17, 0.4, ALERT_DEW), 0);
    ck_assert_int_eq(told_if_wider(1.20, 0.28, ALERT_DEW), 0);
    ck_assert_int_ne(told_if_wider(1.20, 0.32, ALERT_DEW), 0);
}
END_TEST

/* Eight frames, once the median of five is. */
START_TEST(dew_has_dried_after_eight_sharp_frames)
{
    struct session s = usual_session();
    s.frame.health.fwhm_px = 2.8 * 1.4;
    s.frame.health.zero_mag = 15.4;
    ck_assert_int_ne(told_after(&s, ALERT_DEW), 0);
    s.frame = usual_session().frame;
    ck_assert_int_eq(told_after(&s, ALERT_SHARP), 8 + 2);
}
END_TEST

static int told_if_brighter(double ratio, bool linear, bool black_known)
{
    struct session s = quiet_session();
    s.frame.health.linear = linear;
    s.frame.health.black_known = black_known;
    ck_assert_int_eq(told_after(&s, ALERT_SKY), 0);
    s.frame.health.sky_share *= ratio;
    return told_after(&s, ALERT_SKY);
}

START_TEST(a_sky_half_as_bright_again_is_bright)
{
    ck_assert_int_eq(told_if_brighter(1.45, true, true), 0);
    ck_assert_int_eq(told_if_brighter(1.55, true, true), 3);
    /* Over an unknown black level, and on the curve of a JPEG, it grows less. */
    ck_assert_int_eq(told_if_brighter(1.27, true, false), 0);
    ck_assert_int_eq(told_if_brighter(1.33, true, false), 3);
    ck_assert_int_eq(told_if_brighter(1.17, false, false), 0);
    ck_assert_int_eq(told_if_brighter(1.23, false, false), 3);
}
END_TEST

static int told_if_longer(double focal_ratio)
{
    struct session s = usual_session();
    s.frame.scale_arcsec /= focal_ratio;
    return told_after(&s, ALERT_FOCAL);
}

START_TEST(a_focal_length_off_by_0_4_percent_has_changed)
{
    ck_assert_int_eq(told_if_longer(1.0037), 0);
    ck_assert_int_eq(told_if_longer(1.0043), 2);
    ck_assert_int_eq(told_if_longer(1 / 1.0037), 0);
    ck_assert_int_eq(told_if_longer(1 / 1.0043), 2);
}
END_TEST

static int told_if_set(double exposure_s)
{
    struct session s = usual_session();
    s.frame.exposure_s = exposure_s;
    return told_after(&s, ALERT_EXPOSURE);
}

START_TEST(settings_off_by_2_percent_have_changed)
{
    ck_assert_int_eq(told_if_set(1.018), 0);
    ck_assert_int_eq(told_if_set(1.022), 2);
}
END_TEST

START_TEST(three_unsolved_frames_are_told_of)
{
    struct session s = usual_session();
    s.frame.solved = false;
    ck_assert_int_eq(told_after(&s, ALERT_UNSOLVED), 3);
}
END_TEST

START_TEST(three_shaken_frames_are_told_of_and_eight_steady_ones)
{
    struct session s = usual_session();
    s.frame.health.faults = 1U << HEALTH_MOTION;
    ck_assert_int_eq(told_after(&s, ALERT_TRAILS), 3);
    s.frame.health.faults = 0;
    ck_assert_int_eq(told_after(&s, ALERT_STEADY), 8);
}
END_TEST

/* Moves the camera, so that so many frames of 200 possible ones are left. */
static bool told_of_move(struct session *s, double left, enum alert_kind kind)
{
    s->step.touched = true;
    s->step.moved_deg = 1;
    s->step.drift.change_s = 2 * left;
    feed(s, kind);
    s->step.touched = false;
    s->step.longest = 200;
    return feed(s, kind);
}

/* After a batch came to its end. */
static bool told_after_move(double left, enum alert_kind kind)
{
    struct session s = usual_session();
    s.alerts.wish.batch = 0;
    s.step.drift.change_s = 2;
    ck_assert_int_eq(told_after(&s, ALERT_RECENTRE), 1);
    return told_of_move(&s, left, kind);
}

START_TEST(three_quarters_of_the_longest_batch_are_well_aimed)
{
    ck_assert(told_after_move(155, ALERT_CENTRED));
    ck_assert(told_after_move(145, ALERT_STILL_OFF));
}
END_TEST

/* The camera moves unasked, 50 frames before the end of a batch of 100. */
static bool knocked_if_left(double left)
{
    struct session s = usual_session();
    s.step.drift.change_s = 100;
    ck_assert_int_eq(told_after(&s, ALERT_KNOCKED), 0);
    return told_of_move(&s, left, ALERT_KNOCKED);
}

START_TEST(a_move_that_gains_a_quarter_of_a_batch_was_meant)
{
    ck_assert(knocked_if_left(50 + 22));
    ck_assert(!knocked_if_left(50 + 28));
}
END_TEST

static bool recentre_if_left(double left)
{
    struct session s = usual_session();
    s.step.drift.change_s = 2 * left;
    return feed(&s, ALERT_RECENTRE);
}

START_TEST(with_less_than_two_frames_left_it_is_now)
{
    ck_assert(!recentre_if_left(2.2));
    ck_assert(recentre_if_left(1.8));
}
END_TEST

static struct alert ticked;

static bool told_of_disk(struct session *s, double free_frames)
{
    struct alert told[ALERTS_MOST];
    const struct alert_watch watch = {.quiet_s = 60, .free_frames = free_frames};
    bool any = alerts_tick(told, &s->alerts, &watch) > 0 && told[0].kind == ALERT_DISK;
    ticked = told[0];
    return any;
}

START_TEST(room_for_200_frames_is_little_and_for_300_enough)
{
    struct session s = quiet_session();
    ck_assert(!told_of_disk(&s, 215));
    ck_assert(told_of_disk(&s, 185));
    ck_assert(!told_of_disk(&s, 275));
    ck_assert(!told_of_disk(&s, 100));
    ck_assert(!told_of_disk(&s, 325));
    ck_assert(told_of_disk(&s, 100));
}
END_TEST

START_TEST(a_disk_is_told_of_whenever_half_of_the_room_is_gone)
{
    struct session s = quiet_session();
    ck_assert(told_of_disk(&s, 185));
    ck_assert_int_eq(ticked.again, 0);
    ck_assert(!told_of_disk(&s, 105));
    ck_assert(told_of_disk(&s, 95));
    ck_assert_int_eq(ticked.again, 1);
    ck_assert(!told_of_disk(&s, 52));
    ck_assert(told_of_disk(&s, 48));
    ck_assert(told_of_disk(&s, 10)); /* three steps at once are one message */
    ck_assert(!told_of_disk(&s, 9));
    ck_assert(told_of_disk(&s, 0.5));
    ck_assert_ptr_nonnull(strstr(ticked.text, "is lost"));
    ck_assert(!told_of_disk(&s, 0.2));
    ck_assert(!told_of_disk(&s, 325));
    ck_assert(told_of_disk(&s, 185));
}
END_TEST

static bool told_of_silence(struct session *s, double waited_s)
{
    struct alert told[ALERTS_MOST];
    const struct alert_watch watch = {
        .waited_s = waited_s, .quiet_s = 60, .free_frames = -1, .cadence_s = 2};
    bool any = alerts_tick(told, &s->alerts, &watch) > 0 && told[0].kind == ALERT_SILENCE;
    ticked = told[0];
    return any;
}

START_TEST(a_silence_is_told_of_after_three_times_as_long_each)
{
    struct session s = quiet_session();
    ck_assert(!told_of_silence(&s, 58));
    ck_assert(told_of_silence(&s, 62));
    ck_assert_int_eq(ticked.again, 0);
    ck_assert(!told_of_silence(&s, 175));
    ck_assert(told_of_silence(&s, 186));
    ck_assert_int_eq(ticked.again, 1);
    ck_assert_str_eq(ticked.text,
                     "check battery, card, cable and timer: none for 3 min, 93 frames missed");
    ck_assert(!told_of_silence(&s, 530));
    ck_assert(told_of_silence(&s, 550));
    feed(&s, ALERT_KINDS);
    ck_assert(!told_of_silence(&s, 58));
    ck_assert(told_of_silence(&s, 62));
}
END_TEST

/* Four of a cadence of 10 s are 40 s; of 2 s, half a minute. */
START_TEST(frames_are_late_after_four_of_them_or_half_a_minute)
{
    static const double cases[][3] = {{10, 38, 42}, {2, 28.5, 31.5}};
    for (int i = 0; i < 2; i++) {
        struct session s = quiet_session();
        s.step.cadence_s = cases[i][0];
        s.step.late_s = cases[i][1];
        ck_assert(!feed(&s, ALERT_SLOW));
        s.step.late_s = cases[i][2];
        ck_assert(feed(&s, ALERT_SLOW));
        ck_assert(!feed(&s, ALERT_SLOW));
        ck_assert(alerts_hold(&s.alerts, ALERT_SLOW));
    }
}
END_TEST

/* 0.4 of 40 s. */
START_TEST(frames_are_in_time_again_well_below_that)
{
    struct session s = quiet_session();
    s.step.cadence_s = 10;
    s.step.late_s = 60;
    ck_assert(feed(&s, ALERT_SLOW));
    s.step.late_s = 17;
    ck_assert_int_eq(told_after(&s, ALERT_PROMPT), 0);
    s.step.late_s = 15;
    ck_assert_int_eq(told_after(&s, ALERT_PROMPT), 3);
    ck_assert(!alerts_hold(&s.alerts, ALERT_SLOW));
}
END_TEST

/* Reading that takes more than half of a cadence is what is slow. */
START_TEST(what_is_slow_is_named)
{
    static const double readings[] = {4.7, 5.3};
    static const char *const cures[] = {
        "check cable, card reader and network; frames come 60 s late, and so do alerts",
        "use a faster card or disk: reading a frame takes 5.3 s; frames come 60 s late, and so do "
        "alerts"};
    for (int i = 0; i < 2; i++) {
        struct session s = quiet_session();
        struct alert told[ALERTS_MOST];
        s.step.cadence_s = 10;
        s.step.late_s = 60;
        s.step.reading_s = readings[i];
        ck_assert_int_ge(alerts_feed(told, &s.alerts, &s.frame, &s.step), 1);
        ck_assert_int_eq((int)told[0].kind, ALERT_SLOW);
        ck_assert_str_eq(told[0].text, cures[i]);
    }
}
END_TEST

/* With how many more frames like the present one it is told again, 0: not with 120. */
static int again_after(struct session *s, enum alert_kind kind)
{
    struct alert told[ALERTS_MOST];
    for (int i = 1; i <= 120; i++) {
        s->step.time_s = s->time_s += 2;
        int count = alerts_feed(told, &s->alerts, &s->frame, &s->step);
        for (int k = 0; k < count; k++) {
            if (told[k].kind == kind && told[k].again) {
                ticked = told[k];
                return i;
            }
        }
    }
    return 0;
}

START_TEST(frames_that_stay_late_are_told_of_again_with_what_it_costs)
{
    struct session s = usual_session();
    s.alerts.wish.batch = 100000;
    s.step.late_s = 150;
    ck_assert(feed(&s, ALERT_SLOW));
    ck_assert_int_eq(again_after(&s, ALERT_SLOW), 25);
    ck_assert_int_eq(ticked.again, 1);
    ck_assert_str_eq(ticked.text, "check cable, card reader and network; each alert comes 2 min "
                                  "late by now, 75 frames after what it is about");
    ck_assert_int_eq(again_after(&s, ALERT_SLOW), 50);
}
END_TEST

START_TEST(a_cloud_that_stays_is_told_of_again_with_what_it_takes)
{
    struct session s = usual_session();
    s.alerts.wish.batch = 100000;
    s.frame.health.zero_mag -= 1;
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 2);
    ck_assert_int_eq(again_after(&s, ALERT_CLOUD), 25);
    ck_assert_str_eq(ticked.text,
                     "wait, or aim where it is clear: 25 frames since with 40 % of the light");
    ck_assert_int_eq(again_after(&s, ALERT_CLOUD), 50);
    ck_assert_int_eq(ticked.again, 2);
    s.frame.health.zero_mag += 1;
    ck_assert_int_eq(told_after(&s, ALERT_CLEAR), 3);
    s.frame.health.zero_mag -= 1;
    ck_assert_int_eq(told_after(&s, ALERT_CLOUD), 2);
    ck_assert_int_eq(again_after(&s, ALERT_CLOUD), 25);
}
END_TEST

START_TEST(read_errors_that_go_on_are_told_of_again_after_five)
{
    struct session s = usual_session();
    s.alerts.wish.batch = 100000;
    s.frame.read_errors = 1;
    ck_assert_int_eq(told_after(&s, ALERT_CARD), 1);
    ck_assert_int_eq(again_after(&s, ALERT_CARD), 5);
    ck_assert_int_eq(again_after(&s, ALERT_CARD), 10);
    ck_assert_int_eq(again_after(&s, ALERT_CARD), 30);
}
END_TEST

/* The target goes behind a roof in so many frames. */
static void roof_in(struct session *s, double frames)
{
    s->step.hiding = (struct hiding){.known = true,
                                     .hidden = frames <= 0,
                                     .changes = frames > 0,
                                     .change_s = 2 * frames,
                                     .azimuth_deg = 225};
}

START_TEST(a_roof_is_told_of_before_and_when_it_hides_the_target_and_nothing_else_then)
{
    struct session s = usual_session();
    s.alerts.wish.batch = 30; /* 20 are over */
    roof_in(&s, 12.5);
    ck_assert(!feed(&s, ALERT_SKYLINE));
    roof_in(&s, 11.5);
    struct session copy = s;
    ck_assert(feed(&copy, ALERT_SKYLINE));
    struct alert told[ALERTS_MOST];
    s.step.time_s = s.time_s += 2;
    ck_assert_int_eq(alerts_feed(told, &s.alerts, &s.frame, &s.step), 1);
    ck_assert_str_eq(told[0].text, "choose what comes next: the target goes behind the skyline in "
                                   "the south-west in 11 frames");
    for (int i = 10; i > 0; i--) { /* the batch ends, but nobody need turn the camera for that */
        roof_in(&s, i);
        s.step.time_s = s.time_s += 2;
        ck_assert_int_eq(alerts_feed(told, &s.alerts, &s.frame, &s.step), 0);
    }
    roof_in(&s, 0);
    s.step.time_s = s.time_s += 2;
    ck_assert_int_eq(alerts_feed(told, &s.alerts, &s.frame, &s.step), 1);
    ck_assert_int_eq(told[0].kind, ALERT_SKYLINE);
    ck_assert_int_eq(again_after(&s, ALERT_SKYLINE), 25);
    ck_assert_int_eq(again_after(&s, ALERT_SKYLINE), 50);
    roof_in(&s, 500);
    ck_assert(feed(&s, ALERT_RECENTRE)); /* it is out again, and the batch is long over */
}
END_TEST

Suite *alert_thresholds_suite(void)
{
    Suite *suite = suite_create("alert thresholds");
    TCase *tests = tcase_create("light");
    tcase_add_test(tests, half_a_magnitude_is_a_cloud);
    tcase_add_test(tests, three_frames_within_a_quarter_of_a_magnitude_are_clear);
    tcase_add_test(tests, of_the_best_air_0_4_magnitudes_an_hour_are_forgiven);
    tcase_add_test(tests, five_frames_tell_what_is_usual);
    tcase_add_test(tests, a_quarter_wider_is_soft);
    tcase_add_test(tests, within_12_percent_of_the_best_is_sharp_again);
    tcase_add_test(tests, dew_widens_by_15_percent_and_takes_0_3_magnitudes);
    tcase_add_test(tests, dew_has_dried_after_eight_sharp_frames);
    tcase_add_test(tests, a_sky_half_as_bright_again_is_bright);
    suite_add_tcase(suite, tests);
    TCase *camera = tcase_create("camera");
    tcase_add_test(camera, a_focal_length_off_by_0_4_percent_has_changed);
    tcase_add_test(camera, settings_off_by_2_percent_have_changed);
    tcase_add_test(camera, three_unsolved_frames_are_told_of);
    tcase_add_test(camera, three_shaken_frames_are_told_of_and_eight_steady_ones);
    tcase_add_test(camera, three_quarters_of_the_longest_batch_are_well_aimed);
    tcase_add_test(camera, a_move_that_gains_a_quarter_of_a_batch_was_meant);
    tcase_add_test(camera, with_less_than_two_frames_left_it_is_now);
    tcase_add_test(camera, room_for_200_frames_is_little_and_for_300_enough);
    tcase_add_test(camera, a_disk_is_told_of_whenever_half_of_the_room_is_gone);
    tcase_add_test(camera, a_silence_is_told_of_after_three_times_as_long_each);
    tcase_add_test(camera, frames_are_late_after_four_of_them_or_half_a_minute);
    tcase_add_test(camera, frames_are_in_time_again_well_below_that);
    tcase_add_test(camera, what_is_slow_is_named);
    tcase_add_test(camera, frames_that_stay_late_are_told_of_again_with_what_it_costs);
    tcase_add_test(camera, a_cloud_that_stays_is_told_of_again_with_what_it_takes);
    tcase_add_test(camera, read_errors_that_go_on_are_told_of_again_after_five);
    tcase_add_test(camera,
                   a_roof_is_told_of_before_and_when_it_hides_the_target_and_nothing_else_then);
    suite_add_tcase(suite, camera);
    return suite;
}
