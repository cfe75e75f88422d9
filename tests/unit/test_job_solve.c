/* Solving as a call: from a file and from memory, with a hand on it. */
#include "base/parallel.h"
#include "job_fixture.h"
#include "jobs/job_solve.h"
#include "near.h"
#include "sky/vector.h"
#include "stamps.h"

#include <math.h>

Suite *job_solve_suite(void);

static const struct solve_wish plain = {.want_health = true};

static void solve(struct solved_frame *solved, const struct picture_source *picture)
{
    struct error err = {0};
    job_fixture_hush();
    int code = job_solve(solved, job_fixture_engine(), picture, &plain, NULL, &err);
    job_fixture_unhush();
    ck_assert_msg(code == 0, "%s", err.text);
}

static void check_same(const struct solved_frame *a, const struct solved_frame *b)
{
    ck_assert(a->solution.solved && b->solution.solved);
    ck_assert(a->solution.wcs.ra_deg == b->solution.wcs.ra_deg);
    ck_assert(a->solution.wcs.dec_deg == b->solution.wcs.dec_deg);
    ck_assert_mem_eq(a->solution.wcs.cd, b->solution.wcs.cd, sizeof a->solution.wcs.cd);
    ck_assert_int_eq(a->solution.detected, b->solution.detected);
    ck_assert(a->solution.chance_log10 == b->solution.chance_log10);
    ck_assert(a->has_health && b->has_health && a->health.fwhm_px == b->health.fwhm_px);
    assert_same_stamp(a->frame.facts.start_local, b->frame.facts.start_local);
    ck_assert_str_eq(a->name, b->name);
}

/* The renderer's truth: its camera model knows nothing of how a frame is solved. */
static void check_truth(const struct solved_frame *solved, const struct wcs *truth)
{
    double ra, dec, x, y;
    wcs_radec(&ra, &dec, truth, 750, 500);
    ck_assert(wcs_pixel_radec(&x, &y, &solved->solution.wcs, ra, dec));
    ck_assert_double_le(hypot(x - 750, y - 500), 0.5);
}

START_TEST(memory_says_what_the_file_says)
{
    static const char *const names[] = {"a.jpg", "a.png", "a.fits", "a.dng"};
    struct solved_frame from_file = {0}, from_memory = {0};
    struct wcs truth;
    const char *path = job_fixture_frame(names[_i], 0, &truth);
    const struct picture_source file = picture_source_file(path);
    const struct picture_source memory = job_fixture_memory(path);
    solve(&from_file, &file);
    unlink(path);
    solve(&from_memory, &memory);
    check_same(&from_file, &from_memory);
    check_truth(&from_memory, &truth);
    solved_frame_free(&from_file);
    solved_frame_free(&from_memory);
    free((void *)memory.bytes);
}
END_TEST

START_TEST(each_step_is_told)
{
    struct solved_frame solved = {0};
    struct job_watchman man;
    const struct picture_source file = picture_source_file(job_fixture_frame("a.jpg", 0, NULL));
    job_watchman_start(&man, -1);
    ck_assert_int_eq(job_solve(&solved, job_fixture_engine(), &file, &plain, &man.control, NULL),
                     0);
    ck_assert_int_eq(man.calls, 3);
    ck_assert(man.last_done == 3 && man.last_all == 3);
    solved_frame_free(&solved);
}
END_TEST

/* After none, one or two of its steps. */
START_TEST(a_cancelled_job_ends_before_its_next_step)
{
    struct solved_frame solved = {0};
    struct job_watchman man;
    struct error err = {0};
    const char *path = job_fixture_frame("a.jpg", 0, NULL);
    const struct picture_source file = picture_source_file(path);
    job_watchman_start(&man, _i);
    int code = job_solve(&solved, job_fixture_engine(), &file, &plain, &man.control, &err);
    ck_assert_int_eq(code, ERROR_CANCELLED);
    ck_assert_int_eq(err.code, ERROR_CANCELLED);
    ck_assert_ptr_nonnull(strstr(err.text, path));
    ck_assert_int_eq(man.calls, _i);
    ck_assert(!solved.has_health && !solved.solution.solved);
    solved_frame_free(&solved);
}
END_TEST

static void check_error(const struct picture_source *picture, const char *reason)
{
    struct solved_frame solved = {0};
    struct error err = {0};
    job_fixture_hush();
    int code = job_solve(&solved, job_fixture_engine(), picture, &plain, NULL, &err);
    job_fixture_unhush();
    ck_assert_int_eq(code, ERROR_INPUT);
    ck_assert_msg(strstr(err.text, reason) && strstr(err.text, picture->name) == err.text, "%s",
                  err.text);
    solved_frame_free(&solved);
}

START_TEST(what_is_no_picture_is_an_error_with_a_sentence)
{
    const struct picture_source missing = picture_source_file(scratch_path("none.jpg"));
    const struct picture_source empty = picture_source_bytes("", 0, "frame 7 of the camera");
    const struct picture_source text =
        picture_source_bytes("not a picture", 13, "frame 8 of the camera");
    struct picture_source half = job_fixture_memory(job_fixture_frame("a.jpg", 0, NULL));
    check_error(&missing, "cannot be opened");
    check_error(&empty, "holds no bytes");
    check_error(&text, "not a picture format known here");
    half.size /= 2;
    check_error(&half, "the file ends early");
    free((void *)half.bytes);
}
END_TEST

START_TEST(no_solution_is_no_error)
{
    struct solved_frame solved = {0};
    const struct picture_source grey = picture_source_file(job_fixture_grey("grey.png"));
    solve(&solved, &grey);
    ck_assert(!solved.solution.solved && solved.solution.why[0]);
    solved_frame_free(&solved);
}
END_TEST

struct shared {
    struct picture_source memory;
    struct solved_frame solved[6];
};

static void solve_item(int item, void *context)
{
    struct shared *shared = context;
    job_solve(&shared->solved[item], job_fixture_engine(), &shared->memory, &plain, NULL, NULL);
}

START_TEST(threads_share_an_engine_and_a_picture)
{
    static struct shared shared;
    shared.memory = job_fixture_memory(job_fixture_frame("a.jpg", 0, NULL));
    parallel_each(6, 3, solve_item, &shared);
    for (int i = 0; i < 6; i++) {
        check_same(&shared.solved[0], &shared.solved[i]);
    }
    for (int i = 0; i < 6; i++) {
        solved_frame_free(&shared.solved[i]);
    }
    free((void *)shared.memory.bytes);
}
END_TEST

START_TEST(an_engine_says_what_it_cannot_open)
{
    struct job_engine none = {0};
    struct error err = {0};
    ck_assert_int_eq(job_engine_open(&none, scratch_path("no.alidx"), NULL, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "no.alidx"));
    memset(&err, 0, sizeof err);
    ck_assert_int_eq(job_engine_open(&none, NULL, scratch_path("no"), &err), ERROR_INPUT);
    ck_assert(!none.has_atlas && !none.has_objects);
}
END_TEST

Suite *job_solve_suite(void)
{
    Suite *s = suite_create("job_solve");
    TCase *c = job_fixture_case(s, "solve");
    tcase_add_loop_test(c, memory_says_what_the_file_says, 0, 4);
    tcase_add_test(c, each_step_is_told);
    tcase_add_loop_test(c, a_cancelled_job_ends_before_its_next_step, 0, 2);
    tcase_add_test(c, what_is_no_picture_is_an_error_with_a_sentence);
    tcase_add_test(c, no_solution_is_no_error);
    tcase_add_test(c, threads_share_an_engine_and_a_picture);
    tcase_add_test(c, an_engine_says_what_it_cannot_open);
    return s;
}
