/* A night's review as a call. */
#include "draw/night_page.h"
#include "job_fixture.h"
#include "jobs/job_review.h"
#include "night/night_log.h"

Suite *job_review_suite(void);

enum { FRAMES = 5 };

/* The frames of a night in the scratch folder, and where their lines are kept. */
struct watched_night {
    struct review_files files;
    char log[600];
};

static struct job_review_result result;

static void take_frames(void)
{
    for (int i = 0; i < FRAMES; i++) {
        char name[20];
        snprintf(name, sizeof name, "f-%d.jpg", i);
        job_fixture_frame(name, 10 * i, NULL);
    }
}

static void find(struct watched_night *night)
{
    char *folder[] = {scratch_folder};
    memset(night, 0, sizeof *night);
    ck_assert_int_eq(job_review_find(&night->files, night->log, sizeof night->log, folder, 1, NULL),
                     0);
}

static int review(struct watched_night *night, const struct job_control *control, struct error *err)
{
    const struct job_review_wish wish = {.log = night->log, .threads = 1};
    job_fixture_hush();
    int code = job_review(&result, job_fixture_engine(), &night->files, &wish, control, err);
    job_fixture_unhush();
    return code;
}

START_TEST(frames_are_measured_once)
{
    struct watched_night night;
    struct job_watchman man;
    take_frames();
    find(&night);
    ck_assert_int_eq(night.files.count, FRAMES);
    ck_assert_str_eq(night.log, scratch_path(NIGHT_LOG_NAME));
    job_watchman_start(&man, -1);
    ck_assert_int_eq(review(&night, &man.control, NULL), 0);
    ck_assert_int_eq(result.measured, FRAMES);
    ck_assert(man.calls == FRAMES && man.last_done == FRAMES && man.last_all == FRAMES);
    for (int i = 0; i < FRAMES; i++) {
        ck_assert(result.list.frame[i].read && result.list.frame[i].solved);
    }
    double centre = result.list.frame[2].ra_deg;
    job_review_free(&result);
    ck_assert_int_eq(review(&night, NULL, NULL), 0);
    ck_assert_int_eq(result.measured, 0);
    ck_assert(result.list.count == FRAMES && result.list.frame[2].ra_deg == centre);
    job_review_free(&result);
    review_files_free(&night.files);
}
END_TEST

START_TEST(a_cancelled_review_goes_on_where_it_was)
{
    struct watched_night night;
    struct job_watchman man;
    struct error err = {0};
    take_frames();
    find(&night);
    job_watchman_start(&man, 2);
    ck_assert_int_eq(review(&night, &man.control, &err), ERROR_CANCELLED);
    ck_assert_int_eq(man.calls, 2);
    job_review_free(&result);
    ck_assert_int_eq(review(&night, NULL, NULL), 0);
    ck_assert_int_eq(result.measured, FRAMES - 2);
    ck_assert_int_eq(result.list.count, FRAMES);
    job_review_free(&result);
    review_files_free(&night.files);
}
END_TEST

static void count_trouble(void *context, const struct error *err)
{
    ck_assert_ptr_nonnull(strstr(err->text, "1 line could not be read, the first is line 6"));
    ++*(int *)context;
}

START_TEST(lines_say_what_the_frames_said)
{
    struct watched_night night;
    int troubles = 0;
    const struct job_review_wish wish = {.trouble = count_trouble, .context = &troubles};
    struct file_bytes page = {0};
    const struct file_target target = {"the page", &page};
    take_frames();
    find(&night);
    ck_assert_int_eq(review(&night, NULL, NULL), 0);
    int frames = result.review.frames, kept = result.review.usual.frames;
    job_review_free(&result);
    FILE *log = fopen(night.log, "a");
    fputs("{\"frame\": 7\n", log);
    fclose(log);
    char *name[] = {night.log};
    job_fixture_hush();
    ck_assert_int_eq(job_review_lines(&result, name, 1, &wish, NULL), 0);
    ck_assert_int_eq(night_page_write(&target, &result.review, NULL, NULL, NULL, NULL), 0);
    job_fixture_unhush();
    ck_assert(result.review.frames == frames && result.review.usual.frames == kept);
    ck_assert_int_eq(troubles, 1);
    ck_assert(page.size > 5000 && memcmp(page.bytes, "<!doctype html>", 15) == 0);
    ck_assert_ptr_nonnull(strstr(page.bytes, "</body></html>"));
    file_bytes_free(&page);
    job_review_free(&result);
    review_files_free(&night.files);
}
END_TEST

START_TEST(a_report_takes_an_engine_along)
{
    static const char whole[] = "<p><!--ENGINE--><b>engine</b><!--/ENGINE--></p>";
    static const char torn[] = "<!--/ENGINE--><p><!--ENGINE--><b>engine</b>";
    struct watched_night night;
    struct file_bytes page = {0};
    const struct file_target target = {"the page", &page};
    struct night_page_engine engine;
    ck_assert(!night_page_engine_find(&engine, torn, sizeof torn - 1));
    ck_assert(!night_page_engine_find(&engine, "<", 1));
    ck_assert(!night_page_engine_find(&engine, "", 0));
    ck_assert(night_page_engine_find(&engine, whole, sizeof whole - 1));
    take_frames();
    find(&night);
    ck_assert_int_eq(review(&night, NULL, NULL), 0);
    ck_assert_int_eq(night_page_write(&target, &result.review, NULL, NULL, &engine, NULL), 0);
    const char *lines = strstr(page.bytes, "id=\"night-lines\">{\"");
    ck_assert_ptr_nonnull(lines);
    int written = 0;
    for (const char *at = lines; *at != '<'; at++) {
        written += *at == '\n';
    }
    ck_assert_int_eq(written, result.review.frames);
    ck_assert_ptr_nonnull(strstr(page.bytes, "<b>engine</b><script>"));
    ck_assert_ptr_nonnull(
        strstr(page.bytes, "stars\t70,40\nwidth\t125,160\n")); /* as README says */
    file_bytes_free(&page);
    job_review_free(&result);
    review_files_free(&night.files);
}
END_TEST

START_TEST(what_holds_no_frame_is_an_error)
{
    struct review_files files = {0};
    const struct job_review_wish wish = {0};
    struct error err = {0};
    char log[600], missing[600];
    char *folder[] = {scratch_folder};
    ck_assert_int_eq(job_review_find(&files, log, sizeof log, folder, 1, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "holds no frame"));
    snprintf(missing, sizeof missing, "%s", scratch_path("none.jsonl"));
    char *lines[] = {missing};
    ck_assert_int_eq(job_review_lines(&result, lines, 1, &wish, &err), ERROR_INPUT);
    job_review_free(&result);
    review_files_free(&files);
}
END_TEST

START_TEST(a_log_that_was_named_must_be_writable)
{
    struct watched_night night;
    struct error err = {0};
    job_fixture_frame("a.jpg", 0, NULL);
    find(&night);
    const struct job_review_wish wish = {.log = scratch_path("no/a.jsonl"), .log_wanted = true};
    int code = job_review(&result, job_fixture_engine(), &night.files, &wish, NULL, &err);
    ck_assert_int_eq(code, ERROR_OUTPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "no/a.jsonl"));
    job_review_free(&result);
    review_files_free(&night.files);
}
END_TEST

Suite *job_review_suite(void)
{
    Suite *s = suite_create("job_review");
    TCase *c = job_fixture_case(s, "review");
    tcase_add_test(c, frames_are_measured_once);
    tcase_add_test(c, a_cancelled_review_goes_on_where_it_was);
    tcase_add_test(c, lines_say_what_the_frames_said);
    tcase_add_test(c, a_report_takes_an_engine_along);
    tcase_add_test(c, what_holds_no_frame_is_an_error);
    tcase_add_test(c, a_log_that_was_named_must_be_writable);
    return s;
}
