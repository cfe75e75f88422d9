/* A night's plan as a call. */
#include "job_fixture.h"
#include "jobs/job_plan.h"

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

/* At 11 in the morning the evening before is meant, at 13 that of the day: by the clock chosen. */
START_TEST(without_a_date_the_clock_says_which_evening)
{
    static struct job_plan_result result;
    static const struct {
        const char *now;
        double offset_min;
        const char *date;
    } samples[] = {{"2026-01-18T10:59:00Z", 60, "17 January 2026"},
                   {"2026-01-18T11:01:00Z", 60, "18 January 2026"},
                   {"2026-01-18T11:01:00Z", 0, "17 January 2026"}};
    for (int i = 0; i < 3; i++) {
        struct job_plan_wish wish = usual();
        char date[40];
        wish.evening.date.given = false;
        wish.evening.own_offset_min = samples[i].offset_min;
        wish.most = 1;
        time_read(&wish.evening.now, samples[i].now);
        ck_assert_int_eq(plan(&result, &wish, NULL), 0);
        plan_write_date(date, sizeof date, &result.night, samples[i].offset_min);
        ck_assert_str_eq(date, samples[i].date);
        job_plan_free(&result);
    }
}
END_TEST

/* 10 degrees east are 40 minutes of the Sun: a clock three hours off is not that of the place. */
START_TEST(a_clock_that_is_not_the_places_is_not_used)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    wish.most = 1;
    wish.evening.own_offset_min = 40 + 179;
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert(result.sheet.utc_offset_min == 219);
    job_plan_free(&result);
    wish.evening.own_offset_min = 40 + 181;
    ck_assert_int_eq(plan(&result, &wish, NULL), 0);
    ck_assert(result.sheet.utc_offset_min == 60);
    job_plan_free(&result);
}
END_TEST

START_TEST(the_sky_is_as_dark_as_is_told)
{
    static struct job_plan_result result;
    struct job_plan_wish wish = usual();
    wish.most = 1;
    plan(&result, &wish, NULL);
    ck_assert(result.settings.sky_mag == 19.2);
    job_plan_free(&result);
    wish.bortle = 4;
    plan(&result, &wish, NULL);
    ck_assert(result.settings.sky_mag == signal_bortle_mag(4));
    job_plan_free(&result);
    wish.sky_mag = 21;
    plan(&result, &wish, NULL);
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
    tcase_add_test(c, a_clock_that_is_not_the_places_is_not_used);
    tcase_add_test(c, the_sky_is_as_dark_as_is_told);
    tcase_add_test(c, what_is_missing_or_cannot_be_is_refused);
    tcase_add_test(c, a_plan_is_told_and_cancelled);
    return s;
}
