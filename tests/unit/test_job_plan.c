/* A night's plan as a call. */
#include "job_fixture.h"
#include "jobs/job_plan.h"
#include "plan/night_plan.h"
#include "stamps.h"

#include <math.h>

Suite *job_plan_suite(void);

/* A garden at 50 degrees north, 250 mm, the evening of 2026-01-18. */
static struct job_plan_wish usual(void)
{
    struct job_plan_wish wish = JOB_PLAN_USUAL;
    wish.gear.focal_mm = 250;
    wish.evening.date = (struct plan_date){true, 2026, 1, 18};
    wish.evening.own_offset_min = 60;
    return wish;
}

static int plan(struct job_plan_result *result, const struct job_plan_wish *wish, struct error *err)
{
    job_fixture_hush();
    int code = job_plan(result, job_fixture_engine(), wish, NULL, err);
    job_fixture_unhush();
    return code;
}

/* What a plan is made for, night, hours and sky, without making one: it is cancelled before the
 * work. */
static void settle(struct job_plan_result *result, const struct job_plan_wish *wish)
{
    struct job_watchman man;
    struct error err = {0};
    job_watchman_start(&man, 0);
    int code = job_plan(result, job_fixture_engine(), wish, &man.control, &err);
    ck_assert_msg(code == ERROR_CANCELLED, "%s", err.text);
}

START_TEST(a_night_has_targets)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    wish.most = 5;
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert_int_eq(result.plan.count, 5);
    ck_assert_str_eq(result.place, "50.00° N, 10.00° E");
    ck_assert_str_eq(result.camera, "crop sensor, 250 mm f/4");
    ck_assert(result.sheet.utc_offset_min == 60 && result.night.dark.any);
    job_plan_free(&result);
}
END_TEST

START_TEST(one_target_gets_a_card_in_a_file_and_in_memory)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    struct file_bytes bytes = {0};
    const char *path = scratch_path("card.pdf");
    size_t size;
    wish.target = "Orion Nebula";
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert(result.item.window.span.any && result.sheet.item == &result.item);
    for (int i = 0; i < 2; i++) {
        const struct file_target target = {path, i ? &bytes : NULL};
        ck_assert_int_eq(
            job_plan_card(&result, job_fixture_engine(), PAGE_PDF, false, &target, NULL), 0);
    }
    unsigned char *file = scratch_read(path, &size);
    ck_assert_uint_eq(size, bytes.size);
    ck_assert_mem_eq(file, bytes.bytes, size);
    free(file);
    file_bytes_free(&bytes);
    job_plan_free(&result);
}
END_TEST

START_TEST(a_position_is_a_target_too)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    wish.target = "83.8,-5.4";
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert_double_eq_tol(result.item.member[0].object->ra_deg, 83.8, 1e-9);
    ck_assert(result.item.member[0].object == &result.own);
    job_plan_free(&result);
}
END_TEST

/* While it is still dark the evening before is meant, later that of the day: by the clock chosen.
 */
START_TEST(without_a_date_the_clock_says_which_evening)
{
    static struct job_plan_result result;
    static const struct {
        const char *now;
        double offset_min;
        const char *date;
    } samples[] = {{"2026-01-18T03:00:00Z", 60, "17 January 2026"},
                   {"2026-01-18T10:59:00Z", 60, "18 January 2026"},
                   {"2026-01-18T11:01:00Z", 60, "18 January 2026"},
                   {"2026-01-17T11:01:00Z", 0, "17 January 2026"}};
    for (int i = 0; i < 4; i++) {
        struct job_plan_wish wish = usual();
        char date[40];
        wish.evening.date.given = false;
        wish.evening.own_offset_min = samples[i].offset_min;
        time_read(&wish.evening.now, samples[i].now);
        settle(&result, &wish);
        plan_write_date(date, sizeof date, &result.night, samples[i].offset_min);
        ck_assert_str_eq(date, samples[i].date);
        job_plan_free(&result);
    }
}
END_TEST

static struct job_plan_wish in_hours(const char *from, const char *until)
{
    struct job_plan_wish wish = usual();
    wish.most = 1;
    ck_assert(!from || plan_clock_read(&wish.evening.from, from));
    ck_assert(!until || plan_clock_read(&wish.evening.until, until));
    return wish;
}

static void check_hours(const char *from, const char *until, const char *words)
{
    static struct job_plan_result result;
    const struct job_plan_wish wish = in_hours(from, until);
    char text[100];
    settle(&result, &wish);
    plan_write_hours(text, sizeof text, &result.night, result.sheet.utc_offset_min);
    ck_assert_str_eq(text, words);
    job_plan_free(&result);
}

/* The Sun is below -18 degrees from 18:46 to 06:14 by a clock an hour ahead of UTC: astropy 5.2.1,
 * get_sun and AltAz, by the minute. */
START_TEST(own_hours_are_kept)
{
    check_hours("22:00", "01:30", "22:00-01:30, 3.5 h of dark");
    check_hours("23:00+02:00", "00:30Z", "22:00-01:30, 3.5 h of dark");
    check_hours(NULL, "20:43", "18:46-20:43, 1.9 h of dark");
    check_hours("05:15", NULL, "05:15-06:14, 1.0 h of dark");
    check_hours("14:00", "16:00", "14:00-16:00: it is not dark then");
    check_hours("07:00", "08:00", "07:00-08:00: it is not dark then, only until 06:14");
}
END_TEST

/* What is planned lies in them, and the night plan says the same words to all. */
START_TEST(targets_are_planned_within_own_hours)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = in_hours("22:00", "23:30");
    static struct night_plan night;
    struct utc from, until;
    wish.target = "M 42";
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    time_read(&from, "2026-01-18T21:00:00Z");
    time_read(&until, "2026-01-18T22:30:00Z");
    const struct dark_span *span = &result.item.window.span;
    ck_assert_double_eq_tol(time_between(from, span->start), 0, 0.01);
    ck_assert(span->any && time_between(span->end, until) >= -0.01);
    ck_assert(time_between(from, result.item.begin) >= -0.01);
    night_plan_make(&night, &result.sheet);
    night_plan_note_hours(&night, &result.sheet);
    char clock[24], words[40];
    plan_write_span(clock, sizeof clock, span, result.sheet.utc_offset_min);
    snprintf(words, sizeof words, "%s UTC+01:00", clock);
    ck_assert_str_eq(night.hours, words);
    assert_stamp(night.from, "2026-01-18T21:00:00Z");
    ck_assert_str_eq(night_plan_place_in_hours(&night, time_add(from, -60)), "this is before them");
    ck_assert_str_eq(night_plan_place_in_hours(&night, time_add(from, 60)), "");
    ck_assert_str_eq(night_plan_place_in_hours(&night, time_add(span->end, 60)),
                     "this is after them");
    job_plan_free(&result);
}
END_TEST

START_TEST(of_a_night_that_has_begun_the_rest_is_planned)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = in_hours(NULL, NULL);
    char text[100];
    wish.evening.date.given = false;
    time_read(&wish.evening.now, "2026-01-19T03:15:00Z");
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    plan_write_hours(text, sizeof text, &result.night, 60);
    ck_assert_str_eq(text, "04:15-06:14, 2.0 h of dark");
    ck_assert(time_between(wish.evening.now, result.plan.item[0].begin) >= 0);
    job_plan_free(&result);
    time_read(&wish.evening.now, "2026-01-18T16:00:00Z"); /* before dusk: all of it */
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert(!result.night.own.any);
    job_plan_free(&result);
}
END_TEST

START_TEST(hours_that_are_none_are_refused)
{
    static struct job_plan_result result;
    static const char *const bad[] = {"", "7", "25:00", "12:60", "12:5", "-1:30", "noon", "12:00+"};
    struct plan_clock clock;
    struct error err = {0};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_msg(!plan_clock_read(&clock, bad[i]), "%s", bad[i]);
    }
    struct job_plan_wish wish = in_hours("23:00", "21:00");
    ck_assert_int_eq(plan(&result, &wish, &err), ERROR_USAGE);
    ck_assert(strstr(err.text, "the hours end before they begin") != NULL);
    wish = in_hours("now", NULL);
    time_read(&wish.evening.now, "2026-06-18T16:00:00Z");
    ck_assert_int_eq(plan(&result, &wish, &err), ERROR_USAGE);
    ck_assert(strstr(err.text, "the hours cannot begin now: it is not now the night") != NULL);
}
END_TEST

/* 10 degrees east are 40 minutes of the Sun: a clock three hours off is not that of the place. */
START_TEST(a_clock_that_is_not_the_places_is_not_used)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    wish.evening.own_offset_min = 40 + 179;
    settle(&result, &wish);
    ck_assert(result.sheet.utc_offset_min == 219);
    job_plan_free(&result);
    wish.evening.own_offset_min = 40 + 181;
    settle(&result, &wish);
    ck_assert(result.sheet.utc_offset_min == 60);
    job_plan_free(&result);
}
END_TEST

START_TEST(the_sky_is_as_dark_as_is_told)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    settle(&result, &wish);
    ck_assert(result.settings.sky_mag == 19.2);
    job_plan_free(&result);
    wish.bortle = 4;
    settle(&result, &wish);
    ck_assert(result.settings.sky_mag == signal_bortle_mag(4));
    job_plan_free(&result);
    wish.sky_mag = 21;
    settle(&result, &wish);
    ck_assert(result.settings.sky_mag == 21);
    job_plan_free(&result);
}
END_TEST

static void check_refused(const struct job_plan_wish *wish, const char *reason)
{
    static struct job_plan_result result;
    struct error err = {0};
    ck_assert_int_eq(plan(&result, wish, &err), ERROR_USAGE);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s", err.text);
    job_plan_free(&result);
}

START_TEST(what_is_missing_or_cannot_be_is_refused)
{
    static struct job_plan_result result;
    const struct job_engine bare = {0};
    struct error err = {0};
    struct job_plan_wish wish = usual();
    wish.gear.focal_mm = 0;
    check_refused(&wish, "a plan needs a lens");
    wish = usual();
    wish.evening.date.month = 13;
    check_refused(&wish, "2026-13-18 cannot be computed");
    wish = usual();
    wish.target = "xyzzy";
    check_refused(&wish, "xyzzy");
    wish = usual();
    ck_assert_int_eq(job_plan(&result, &bare, &wish, NULL, &err), ERROR_USAGE);
    ck_assert_ptr_nonnull(strstr(err.text, "a plan needs a place"));
}
END_TEST

START_TEST(a_plan_is_told_and_cancelled)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    struct job_watchman man;
    struct error err = {0};
    job_watchman_start(&man, 0);
    ck_assert_int_eq(job_plan(&result, job_fixture_engine(), &wish, &man.control, &err),
                     ERROR_CANCELLED);
    ck_assert(result.plan.count == 0 && man.calls == 0);
    job_plan_free(&result);
    job_watchman_start(&man, -1);
    ck_assert_int_eq(job_plan(&result, job_fixture_engine(), &wish, &man.control, &err), 0);
    ck_assert_int_eq(man.calls, 1);
    job_plan_free(&result);
}
END_TEST

Suite *job_plan_suite(void)
{
    Suite *s = suite_create("job_plan");
    TCase *c = job_fixture_case(s, "plan");
    tcase_add_test(c, a_night_has_targets);
    tcase_add_test(c, one_target_gets_a_card_in_a_file_and_in_memory);
    tcase_add_test(c, a_position_is_a_target_too);
    tcase_add_test(c, without_a_date_the_clock_says_which_evening);
    tcase_add_test(c, own_hours_are_kept);
    tcase_add_test(c, targets_are_planned_within_own_hours);
    tcase_add_test(c, of_a_night_that_has_begun_the_rest_is_planned);
    tcase_add_test(c, hours_that_are_none_are_refused);
    tcase_add_test(c, a_clock_that_is_not_the_places_is_not_used);
    tcase_add_test(c, the_sky_is_as_dark_as_is_told);
    tcase_add_test(c, what_is_missing_or_cannot_be_is_refused);
    tcase_add_test(c, a_plan_is_told_and_cancelled);
    return s;
}
