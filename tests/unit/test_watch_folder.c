/* When a file of a watched folder counts as complete, and how often one that ends early is tried:
 * just short of each limit and just beyond. */
#include "base/stopwatch.h"
#include "job_fixture.h"
#include "jobs/watch_block.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <time.h>

Suite *watch_folder_suite(void);

static struct watch_folder folder;

/* The state of the only file at a time of any clock. */
static enum folder_file_state state_at(double now_s)
{
    struct error err = {0};
    ck_assert_msg(folder_look(&folder, now_s, &err) == 0, "%s", err.text);
    ck_assert_int_eq(folder.count, 1);
    return folder.file[0].state;
}

static void open_folder(void)
{
    struct error err = {0};
    ck_assert_msg(folder_open(&folder, scratch_folder, true, &err) == 0, "%s", err.text);
}

START_TEST(a_file_settles_for_a_second)
{
    scratch_write("f.jpg", "text", 4);
    open_folder();
    ck_assert_int_eq(state_at(100), FOLDER_FILE_GROWING);
    ck_assert_int_eq(state_at(100.93), FOLDER_FILE_GROWING);
    ck_assert_int_eq(state_at(101.07), FOLDER_FILE_READY);
    folder_close(&folder);
}
END_TEST

/* At the first sight of a file that was changed so many whole seconds ago; once more if a second
 * ended meanwhile. */
static enum folder_file_state state_of_age(int age_s)
{
    enum folder_file_state state;
    time_t now;
    do {
        const char *path = scratch_write("f.jpg", "text", 4);
        now = time(NULL);
        const struct timespec changed[2] = {{.tv_sec = now - age_s}, {.tv_sec = now - age_s}};
        ck_assert_int_eq(utimensat(AT_FDCWD, path, changed, 0), 0);
        open_folder();
        state = state_at(100);
        folder_close(&folder);
    } while (time(NULL) != now);
    return state;
}

START_TEST(what_is_ten_seconds_old_is_complete)
{
    ck_assert_int_eq(state_of_age(9), FOLDER_FILE_GROWING);
    ck_assert_int_eq(state_of_age(11), FOLDER_FILE_READY);
}
END_TEST

static int told;

static void hear(void *context, const struct night_frame *frame, const struct night_step *step,
                 const char *lasting)
{
    (void)context;
    (void)step;
    (void)lasting;
    ck_assert(!frame->read);
    told++;
}

/* How often a file was tried until it was told of. */
static int tries_until_told(struct watch_session *session)
{
    const struct job_control control = {0};
    struct error err = {0};
    int tries = 0;
    state_at(stopwatch_s());
    for (told = 0; told == 0; tries++) {
        bool any;
        ck_assert_int_eq(state_at(stopwatch_s() + 2), FOLDER_FILE_READY);
        ck_assert_msg(watch_block_do(&any, &folder, session, &control, &err) == 0, "%s", err.text);
        ck_assert(any && tries < 10);
    }
    return tries;
}

/* Half of a picture may still be copied: it is told of at the third try, and tried again a minute
 * later. */
START_TEST(half_a_file_is_tried_three_times_and_again_each_minute)
{
    static struct watch_session session;
    static const struct aim_wish aim = AIM_WISH_USUAL;
    static const struct watch_wish wish = {.warn = 12, .threads = 1};
    static const struct solve_wish solve = {.want_health = true};
    const struct aim_context context = {.wish = &aim, .engine = job_fixture_engine()};
    const struct watch_task task = {&wish, &context, &solve, job_fixture_engine()};
    const struct watch_listener listener = {.frame = hear};
    struct error err = {0};
    struct stat info;
    const char *path = job_fixture_grey("f.png");
    ck_assert_int_eq(stat(path, &info), 0);
    ck_assert_int_eq(truncate(path, info.st_size / 2), 0);
    open_folder();
    ck_assert_msg(session_open(&session, &task, &listener, scratch_folder, &err) == 0, "%s",
                  err.text);
    ck_assert_int_eq(tries_until_told(&session), 3);
    double now_s = stopwatch_s();
    ck_assert_int_eq(state_at(now_s + 55), FOLDER_FILE_LATER);
    ck_assert_int_eq(state_at(now_s + 65), FOLDER_FILE_READY);
    session_close(&session);
    folder_close(&folder);
}
END_TEST

Suite *watch_folder_suite(void)
{
    Suite *s = suite_create("watch_folder");
    TCase *c = scratch_case(s, "folder");
    tcase_add_test(c, a_file_settles_for_a_second);
    tcase_add_test(c, what_is_ten_seconds_old_is_complete);
    TCase *tries = job_fixture_case(s, "tries");
    tcase_add_test(tries, half_a_file_is_tried_three_times_and_again_each_minute);
    return s;
}
