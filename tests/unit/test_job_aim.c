/* Aiming as a call: how the camera is to be turned to a target. */
#include "job_fixture.h"
#include "jobs/aim_series.h"
#include "jobs/job_aim.h"
#include "sky/vector.h"

#include <math.h>

Suite *job_aim_suite(void);

static struct job_aim_wish wish_for(const char *target)
{
    struct job_aim_wish wish = {.aim = AIM_WISH_USUAL};
    struct error err = {0};
    ck_assert_msg(job_aim_find_target(&wish.target, job_fixture_engine(), target, &err) == 0, "%s",
                  err.text);
    time_read(&wish.aim.occasion.today, "2026-01-18T21:00:00Z");
    return wish;
}

static void aim(struct job_aim_result *result, const struct picture_source *picture,
                const struct job_aim_wish *wish)
{
    struct error err = {0};
    job_fixture_hush();
    int code = job_aim(result, job_fixture_engine(), picture, wish, NULL, &err);
    job_fixture_unhush();
    ck_assert_msg(code == 0, "%s", err.text);
}

/* How far the target is from the middle follows from the renderer's truth and the target's place.
 */
START_TEST(the_move_leads_to_the_target)
{
    static struct job_aim_result result;
    const struct job_aim_wish wish = wish_for("83.8,-5.4");
    double middle[3], target[3], ra, dec;
    struct wcs truth;
    const struct picture_source file = picture_source_file(job_fixture_frame("a.fits", 0, &truth));
    aim(&result, &file, &wish);
    wcs_radec(&ra, &dec, &truth, (truth.width - 1) / 2.0, (truth.height - 1) / 2.0);
    vector_from_radec(middle, ra, dec);
    vector_from_radec(target, 83.8, -5.4);
    const struct aim *found = &result.answer.advice.aim;
    ck_assert_double_eq_tol(found->separation_deg, vector_angle_deg(middle, target), 0.01);
    ck_assert(result.answer.occasion.has_utc && result.answer.occasion.has_place);
    job_aim_free(&result);
}
END_TEST

START_TEST(memory_says_what_the_file_says)
{
    static struct job_aim_result from_file, from_memory;
    struct job_aim_wish wish = wish_for("Orion Nebula");
    wish.aim.stack = 100;
    const char *path = job_fixture_frame("a.dng", 0, NULL);
    const struct picture_source file = picture_source_file(path);
    const struct picture_source memory = job_fixture_memory(path);
    aim(&from_file, &file, &wish);
    unlink(path);
    aim(&from_memory, &memory, &wish);
    const struct aim_answer *a = &from_file.answer, *b = &from_memory.answer;
    ck_assert(a->advice.aim.right_deg == b->advice.aim.right_deg);
    ck_assert(a->advice.aim.up_deg == b->advice.aim.up_deg);
    ck_assert(a->advice.aim.verdict == b->advice.aim.verdict);
    ck_assert(a->has_cue == b->has_cue && a->cue.to_x == b->cue.to_x);
    ck_assert(a->has_depth && b->has_depth && a->limit_mag == b->limit_mag);
    job_aim_free(&from_file);
    job_aim_free(&from_memory);
    free((void *)memory.bytes);
}
END_TEST

START_TEST(what_is_no_target_is_refused)
{
    static const struct {
        const char *name, *reason;
    } samples[] = {{"xyzzy", "xyzzy"}, {"Sun", "the Sun is no target"}, {"12", "one word"}};
    const struct job_engine bare = {0};
    struct aim_target target;
    for (int i = 0; i < 3; i++) {
        struct error err = {0};
        ck_assert_int_eq(job_aim_find_target(&target, job_fixture_engine(), samples[i].name, &err),
                         ERROR_USAGE);
        ck_assert_msg(strstr(err.text, samples[i].reason) != NULL, "%s", err.text);
    }
    ck_assert_int_eq(job_aim_find_target(&target, &bare, "83.8,-5.4", NULL), 0);
    ck_assert_double_eq_tol(target.shape.ra_deg, 83.8, 1e-9);
}
END_TEST

/* Never to a nebula that is named after it; the renderer's frame tells its time. */
START_TEST(a_planet_is_aimed_at_where_it_stands_then)
{
    static struct job_aim_result result;
    struct job_aim_wish wish = wish_for("Jupiter");
    double middle[3], planet[3], ra, dec;
    struct wcs truth;
    struct utc utc;
    const struct picture_source file = picture_source_file(job_fixture_frame("a.fits", 0, &truth));
    aim(&result, &file, &wish);
    wcs_radec(&ra, &dec, &truth, (truth.width - 1) / 2.0, (truth.height - 1) / 2.0);
    vector_from_radec(middle, ra, dec);
    utc = result.answer.occasion.mid;
    ck_assert(planet_among_stars(planet, PLANET_JUPITER, NULL, utc));
    ck_assert(!result.answer.no_when);
    ck_assert_double_eq_tol(result.answer.advice.aim.separation_deg,
                            vector_angle_deg(middle, planet), 0.01);
    /* Where astropy has it that evening, from the Earth's centre: 5.2.1, built-in ephemeris. */
    ck_assert_double_eq_tol(result.answer.target.shape.ra_deg, 110.1770, 0.02);
    ck_assert_double_eq_tol(result.answer.target.shape.dec_deg, 22.4230, 0.02);
    job_aim_free(&result);
}
END_TEST

START_TEST(a_planet_without_a_time_is_no_target)
{
    static struct job_aim_result result;
    const struct job_aim_wish wish = wish_for("Saturn");
    const struct picture_source file = picture_source_file(job_fixture_frame("a.png", 0, NULL));
    aim(&result, &file, &wish);
    ck_assert(result.solved.solution.solved && result.answer.no_when);
    ck_assert(aim_answer_is_refused(&result.answer));
    ck_assert_str_eq(result.answer.target.name, "Saturn");
    job_aim_free(&result);
}
END_TEST

START_TEST(no_solution_no_picture_and_a_cancelled_job)
{
    static struct job_aim_result result;
    const struct job_aim_wish wish = wish_for("M 42");
    struct job_watchman man;
    struct error err = {0};
    const struct picture_source grey = picture_source_file(job_fixture_grey("grey.png"));
    aim(&result, &grey, &wish);
    ck_assert(!result.solved.solution.solved && result.answer.cadence_s == 0);
    job_aim_free(&result);
    const struct picture_source text = picture_source_bytes("text", 4, "a text");
    ck_assert_int_eq(job_aim(&result, job_fixture_engine(), &text, &wish, NULL, &err), ERROR_INPUT);
    job_aim_free(&result);
    job_watchman_start(&man, 1);
    ck_assert_int_eq(job_aim(&result, job_fixture_engine(), &grey, &wish, &man.control, &err),
                     ERROR_CANCELLED);
    ck_assert_int_eq(man.calls, 1);
    job_aim_free(&result);
}
END_TEST

/* Six frames, ten seconds apart: they tell the interval and that the tripod stood. */
START_TEST(a_series_tells_its_interval)
{
    static struct job_aim_result result;
    struct job_aim_wish wish = wish_for("M 42");
    struct aim_context context = job_aim_context(job_fixture_engine(), &wish);
    struct aim_series series;
    struct aim_series_answer found;
    static char name[6][600];
    char *names[6];
    ck_assert_int_eq(aim_series_open(&series, 6, NULL), 0);
    for (int i = 0; i < 6; i++) {
        char base[20];
        snprintf(base, sizeof base, "f-%d.jpg", i);
        snprintf(name[i], sizeof name[i], "%s", job_fixture_frame(base, 10 * i, NULL));
        names[i] = name[i];
        const struct picture_source file = picture_source_file(name[i]);
        aim(&result, &file, &wish);
        aim_series_add(&series, &result.solved, &context);
        job_aim_free(&result);
    }
    ck_assert_int_eq(aim_series_find(&found, &series, names, 6, &context, NULL), 0);
    ck_assert_double_eq_tol(found.measured.cadence_s, 10, 0.51); /* EXIF has whole seconds */
    ck_assert(found.steady && found.answer != NULL);
    aim_series_answer_free(&found);
    aim_series_free(&series);
}
END_TEST

Suite *job_aim_suite(void)
{
    Suite *s = suite_create("job_aim");
    TCase *c = job_fixture_case(s, "aim");
    tcase_add_test(c, the_move_leads_to_the_target);
    tcase_add_test(c, memory_says_what_the_file_says);
    tcase_add_test(c, what_is_no_target_is_refused);
    tcase_add_test(c, a_planet_is_aimed_at_where_it_stands_then);
    tcase_add_test(c, a_planet_without_a_time_is_no_target);
    tcase_add_test(c, no_solution_no_picture_and_a_cancelled_job);
    tcase_add_test(c, a_series_tells_its_interval);
    return s;
}
