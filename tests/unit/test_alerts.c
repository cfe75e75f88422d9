#include <check.h>

#include "night/alerts.h"
#include "night/night_log.h"
#include "scratch.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A quiet frame, and a session that is fed with it. */
struct session {
    struct alerts alerts;
    struct night_frame frame;
    struct night_step step;
    struct alert told[ALERTS_MOST];
    int at, count;
};

static struct session quiet_session(void)
{
    struct session s = {.alerts.wish = {.warn_frames = 12, .batch = 100}};
    s.frame.read = s.frame.solved = true;
    s.frame.detected = 200;
    s.frame.exposure_s = 1;
    s.frame.scale_arcsec = 20;
    s.frame.health.linear = true;
    s.frame.health.fwhm_px = 2.8;
    s.frame.health.zero_mag = 16;
    s.frame.health.sky_share = 0.05;
    s.step.cadence_s = 2;
    s.step.on_target = true;
    s.step.drift = (struct drift){.inside = true, .changes = true, .change_s = 2000};
    return s;
}

static void feed(struct session *s)
{
    s->step.time_s = 2.0 * s->at++;
    s->step.compared = s->at > 1;
    s->step.drift.change_s -= 2;
    s->count = alerts_feed(s->told, &s->alerts, &s->frame, &s->step);
}

/* Feeds so many frames; the number of the first that told something of a kind, from 1, or 0. */
static int feed_until(struct session *s, int frames, enum alert_kind kind)
{
    int first = 0;
    for (int i = 1; i <= frames; i++) {
        feed(s);
        for (int k = 0; k < s->count; k++) {
            first = s->told[k].kind == kind && !first ? i : first;
        }
    }
    return first;
}

static void feed_quietly(struct session *s, int frames)
{
    for (int i = 0; i < frames; i++) {
        feed(s);
        ck_assert_msg(s->count == 0, "frame %d: %s", s->at, s->count ? s->told[0].text : "");
    }
}

START_TEST(nothing_is_said_of_a_quiet_night)
{
    struct session s = quiet_session();
    s.alerts.wish.batch = 1000;
    feed_quietly(&s, 500);
}
END_TEST

START_TEST(one_bad_frame_does_not_nag)
{
    struct session s = quiet_session();
    const struct night_frame good = s.frame;
    struct night_frame bad[6] = {good, good, good, good, good, good};
    bad[0].health.zero_mag = 14;
    bad[1].health.fwhm_px = 6;
    bad[2].health.sky_share = 0.5;
    bad[3].health.faults = 1U << HEALTH_MOTION;
    bad[4].solved = false;
    bad[4].health.look.kind = KIND_DARK;
    bad[5].exposure_s = 4;
    feed_quietly(&s, 20);
    for (int i = 0; i < 6; i++) {
        s.frame = bad[i];
        feed_quietly(&s, 1);
        s.frame = good;
        feed_quietly(&s, 10);
    }
}
END_TEST

START_TEST(a_cloud_comes_and_goes_once)
{
    struct session s = quiet_session();
    s.alerts.wish.batch = 1000;
    feed_quietly(&s, 20);
    s.frame.health.zero_mag = 15;
    ck_assert_int_eq(feed_until(&s, 40, ALERT_CLOUD), 2);
    ck_assert(alerts_hold(&s.alerts, ALERT_CLOUD) && !alerts_hold(&s.alerts, ALERT_DEW));
    ck_assert_int_eq(feed_until(&s, 24, ALERT_CLOUD), 0); /* the 25th says it again */
    s.frame.health.zero_mag = 16;
    ck_assert_int_eq(feed_until(&s, 10, ALERT_CLEAR), 3);
    ck_assert(!alerts_hold(&s.alerts, ALERT_CLOUD));
    feed_quietly(&s, 50);
}
END_TEST

START_TEST(dew_is_told_from_a_turned_ring)
{
    struct session dew = quiet_session(), ring = quiet_session();
    feed_quietly(&dew, 20);
    feed_quietly(&ring, 20);
    dew.frame.health.fwhm_px = ring.frame.health.fwhm_px = 4;
    dew.frame.health.zero_mag = 15.4;
    ck_assert_int_ne(feed_until(&dew, 8, ALERT_DEW), 0);
    ck_assert(!dew.alerts.focus.raised);
    ck_assert_int_eq(feed_until(&ring, 8, ALERT_FOCUS), 3);
    ck_assert(!ring.alerts.dew.raised);
}
END_TEST

START_TEST(a_batch_is_warned_of_ended_and_confirmed)
{
    struct session s = quiet_session();
    s.step.drift.change_s = 2 * 31;
    ck_assert_int_eq(feed_until(&s, 20, ALERT_NEAR_EDGE), 19); /* 12 frames before the 31st */
    ck_assert(alerts_hold(&s.alerts, ALERT_NEAR_EDGE) && !alerts_hold(&s.alerts, ALERT_RECENTRE));
    ck_assert_int_eq(feed_until(&s, 10, ALERT_RECENTRE), 11 - 1);
    ck_assert(!alerts_hold(&s.alerts, ALERT_NEAR_EDGE) && alerts_hold(&s.alerts, ALERT_RECENTRE));
    s.step.touched = true;
    s.step.moved_deg = 1;
    s.step.drift.change_s = 2 * 150;
    feed_quietly(&s, 1);
    s.step.touched = false;
    s.step.longest = 200;
    ck_assert_int_eq(feed_until(&s, 1, ALERT_CENTRED), 1);
    ck_assert(!alerts_hold(&s.alerts, ALERT_RECENTRE));
    s.step.longest = 0;
    feed_quietly(&s, 50);
}
END_TEST

/* However long the target would stay: the stars of a longer batch smear. */
START_TEST(a_batch_ends_after_its_frames)
{
    struct session s = quiet_session();
    ck_assert_int_eq(feed_until(&s, 120, ALERT_NEAR_EDGE), 89);
    struct session t = quiet_session();
    ck_assert_int_eq(feed_until(&t, 120, ALERT_RECENTRE), 100);
    struct session centre = quiet_session();
    centre.alerts.wish.centre = true;
    feed_quietly(&centre, 500);
    struct session planned = quiet_session();
    planned.alerts.wish.batch = 0;
    planned.step.has_batch = true;
    planned.step.batch.frames = 57;
    ck_assert_int_eq(feed_until(&planned, 70, ALERT_RECENTRE), 57);
}
END_TEST

/* Frames of the session at which a kind was told again, the text of the last one in last. */
static int tell_again(int at[], char *last, struct session *s, int frames, enum alert_kind kind)
{
    int count = 0;
    for (int i = 0; i < frames; i++) {
        feed(s);
        for (int k = 0; k < s->count; k++) {
            if (s->told[k].kind == kind && s->told[k].again) {
                ck_assert_int_gt(s->told[k].again, count);
                at[count++] = s->at;
                snprintf(last, ALERT_TEXT_SIZE, "%s", s->told[k].text);
            }
        }
    }
    return count;
}

START_TEST(what_nobody_does_is_said_again_with_its_cost)
{
    struct session s = quiet_session();
    char last[ALERT_TEXT_SIZE];
    int at[8];
    s.step.has_batch = true;
    s.step.batch = (struct batch_length){.frames = 100, .has_smear = true, .sigma_px = 2};
    s.step.batch.smear_px[s.step.batch.align] = 4;
    s.step.drift.change_s = 2 * 130;
    ck_assert_int_eq(feed_until(&s, 130, ALERT_RECENTRE), 100);
    s = (struct session){.alerts = s.alerts, .frame = s.frame, .step = s.step, .at = s.at};
    s.step.drift.inside = false;
    ck_assert_int_eq(tell_again(at, last, &s, 250, ALERT_RECENTRE), 2);
    ck_assert_int_eq(at[0], 175); /* the first was at frame 125, then three times as many */
    ck_assert_int_eq(at[1], 325);
    /* Frames 131 to 325 do not show it; 225 beyond a batch of 100, so 4 px have become 12.96,
     * 6.5 deviations. */
    ck_assert_str_eq(last, "due for 225 frames; 195 of them do not show the whole target; stars at "
                           "the edge of the stack are now 85 % wider");
}
END_TEST

START_TEST(a_lost_focus_is_said_again)
{
    struct session s = quiet_session();
    char last[ALERT_TEXT_SIZE];
    int at[8];
    s.alerts.wish.batch = 1000;
    feed_quietly(&s, 20);
    s.frame.health.fwhm_px = 4;
    ck_assert_int_eq(feed_until(&s, 3, ALERT_FOCUS), 3);
    ck_assert_int_eq(tell_again(at, last, &s, 200, ALERT_FOCUS), 2);
    ck_assert_int_eq(at[0], 23 + 25);
    ck_assert_int_eq(at[1], 23 + 75);
    ck_assert_ptr_nonnull(strstr(last, "75 frames since with stars 4.0 px wide instead of 2.8"));
}
END_TEST

START_TEST(a_poor_move_is_still_off_and_an_idle_one_a_knock)
{
    struct session s = quiet_session(), idle = quiet_session();
    s.step.drift.change_s = 2 * 4;
    ck_assert_int_ne(feed_until(&s, 5, ALERT_RECENTRE), 0);
    s.step.touched = true;
    s.step.moved_deg = idle.step.moved_deg = 0.2;
    s.step.drift.change_s = 2 * 30;
    feed_quietly(&s, 1);
    s.step.touched = false;
    ck_assert_int_eq(feed_until(&s, 1, ALERT_STILL_OFF), 1);

    feed_quietly(&idle, 20);
    idle.step.touched = true;
    feed_quietly(&idle, 1);
    idle.step.touched = false;
    ck_assert_int_eq(feed_until(&idle, 1, ALERT_KNOCKED), 1);
    feed_quietly(&idle, 50);
}
END_TEST

START_TEST(changed_settings_begin_a_new_comparison)
{
    struct session s = quiet_session();
    s.alerts.wish.batch = 1000;
    feed_quietly(&s, 20);
    s.frame.exposure_s = 4;
    s.frame.health.sky_share = 0.2;
    s.frame.health.zero_mag = 17;
    s.frame.health.fwhm_px = 3.9;
    ck_assert_int_eq(feed_until(&s, 2, ALERT_EXPOSURE), 2);
    ck_assert_str_eq(s.told[0].text, "set it back, unless you meant it: exposure 4 s, was 1 s");
    feed_quietly(&s, 50);
    s.frame.scale_arcsec = 19.5;
    ck_assert_int_eq(feed_until(&s, 2, ALERT_FOCAL), 2);
    feed_quietly(&s, 50);
}
END_TEST

START_TEST(a_doubtful_clock_is_told_once)
{
    struct session s = quiet_session();
    feed_quietly(&s, 5);
    s.step.clock_doubt = (struct clock_doubt){CLOCK_DOUBT_LEVEL, 3600, 8};
    ck_assert_int_eq(feed_until(&s, 1, ALERT_CLOCK), 1);
    ck_assert_ptr_nonnull(strstr(s.told[0].text, "seems an hour ahead"));
    feed_quietly(&s, 50);
}
END_TEST

/* The first one is told, what follows is not; after eight good frames another one is news. */
START_TEST(read_errors_are_told_at_once)
{
    struct session s = quiet_session();
    const struct night_frame good = s.frame;
    const struct night_frame lost = {.unread = CAUSE_DEVICE, .read_errors = 3};
    const struct night_frame locked = {.unread = CAUSE_PERMISSION};
    feed_quietly(&s, 10);
    s.frame = locked;
    feed_quietly(&s, 1);
    s.frame = lost;
    ck_assert_int_eq(feed_until(&s, 1, ALERT_CARD), 1);
    ck_assert_ptr_nonnull(strstr(s.told[0].text, "change the card now"));
    ck_assert(alert_is_loud(ALERT_CARD));
    feed_quietly(&s, 1);
    s.frame = good;
    feed_quietly(&s, 7);
    s.frame = lost;
    feed_quietly(&s, 1);
    s.frame = good;
    feed_quietly(&s, 8);
    s.frame.read_errors = 1; /* it was read in the end */
    ck_assert_int_eq(feed_until(&s, 1, ALERT_CARD), 1);
    /* Another frame that was taken before the last one. */
    s = quiet_session();
    feed_quietly(&s, 3);
    s.frame = lost;
    s.step.late = true;
    ck_assert_int_eq(feed_until(&s, 1, ALERT_CARD), 1);
}
END_TEST

START_TEST(the_watcher_tells_of_silence_and_a_full_disk_once)
{
    struct session s = quiet_session();
    struct alert_watch watch = {.waited_s = 30, .quiet_s = 60, .free_frames = 1000};
    ck_assert_int_eq(alerts_tick(s.told, &s.alerts, &watch), 0);
    watch.waited_s = 61;
    watch.free_frames = 150;
    ck_assert_int_eq(alerts_tick(s.told, &s.alerts, &watch), 2);
    ck_assert_int_eq(s.told[0].kind, ALERT_SILENCE);
    ck_assert_int_eq(s.told[1].kind, ALERT_DISK);
    watch.free_frames = 250;
    ck_assert_int_eq(alerts_tick(s.told, &s.alerts, &watch), 0);
}
END_TEST

static void add_named(struct night_log *log, const char *name)
{
    char text[40];
    snprintf(text, sizeof text, "%s", name);
    const struct night_frame frame = {.name = text, .bytes = 7};
    struct error err = {0};
    ck_assert_int_eq(night_log_add(log, &frame, &err), 0);
}

START_TEST(a_log_comes_back_without_its_torn_line)
{
    const char *name = scratch_path("night.jsonl");
    struct night_log log;
    struct night_list known = {0};
    struct error err = {0};
    ck_assert_int_eq(night_log_open(&log, &known, name, &err), 0);
    add_named(&log, "a.jpg");
    add_named(&log, "b.jpg");
    night_log_close(&log);
    FILE *torn = fopen(name, "ab");
    ck_assert_ptr_nonnull(torn);
    fputs("{\"frame\": \"c.jp", torn);
    fclose(torn);
    ck_assert_int_eq(night_log_open(&log, &known, name, &err), 0);
    ck_assert_int_eq(known.count, 2);
    add_named(&log, "c.jpg");
    night_log_close(&log);
    night_list_free(&known);
    ck_assert_int_eq(night_log_open(&log, &known, name, &err), 0);
    ck_assert_int_eq(known.count, 3);
    ck_assert_str_eq(known.frame[2].name, "c.jpg");
    night_log_close(&log);
    night_list_free(&known);
}
END_TEST

Suite *alerts_suite(void);
Suite *alerts_suite(void)
{
    Suite *suite = suite_create("alerts");
    TCase *tests = tcase_create("alerts");
    tcase_add_checked_fixture(tests, scratch_make, scratch_remove);
    tcase_add_test(tests, nothing_is_said_of_a_quiet_night);
    tcase_add_test(tests, one_bad_frame_does_not_nag);
    tcase_add_test(tests, a_cloud_comes_and_goes_once);
    tcase_add_test(tests, dew_is_told_from_a_turned_ring);
    tcase_add_test(tests, a_batch_is_warned_of_ended_and_confirmed);
    tcase_add_test(tests, a_batch_ends_after_its_frames);
    tcase_add_test(tests, what_nobody_does_is_said_again_with_its_cost);
    tcase_add_test(tests, a_lost_focus_is_said_again);
    tcase_add_test(tests, a_poor_move_is_still_off_and_an_idle_one_a_knock);
    tcase_add_test(tests, changed_settings_begin_a_new_comparison);
    tcase_add_test(tests, a_doubtful_clock_is_told_once);
    tcase_add_test(tests, read_errors_are_told_at_once);
    tcase_add_test(tests, the_watcher_tells_of_silence_and_a_full_disk_once);
    tcase_add_test(tests, a_log_comes_back_without_its_torn_line);
    suite_add_tcase(suite, tests);
    return suite;
}
