/* Watching a folder as a call. */
#include "job_fixture.h"
#include "jobs/job_watch.h"

Suite *job_watch_suite(void);

enum { FRAMES = 4 };

/* What the listener heard. */
struct heard {
    int began, ended, frames, troubles, cancel_after;
    char last[200];
    atomic_bool cancelled;
};

static void began(void *context, const struct watch_session *session)
{
    ck_assert_str_eq(session->path, scratch_folder);
    ((struct heard *)context)->began++;
}

static void ended(void *context, const struct watch_session *session)
{
    struct heard *heard = context;
    ck_assert_int_eq(session->frames, heard->frames);
    heard->ended++;
}

static void frame(void *context, const struct night_frame *frame, const struct night_step *step,
                  const char *lasting)
{
    struct heard *heard = context;
    (void)step;
    (void)lasting;
    snprintf(heard->last, sizeof heard->last, "%s", frame->name);
    if (++heard->frames == heard->cancel_after) {
        atomic_store(&heard->cancelled, true);
    }
}

static void trouble(void *context, const struct error *err)
{
    (void)err;
    ((struct heard *)context)->troubles++;
}

/* Another target, and another batch, from the third frame on. */
static bool change(void *context, struct watch_change *change)
{
    struct heard *heard = context;
    if (heard->frames != 2) {
        return false;
    }
    ck_assert_str_eq(change->target.name, "M 42 (Orion Nebula)");
    ck_assert_int_eq(job_aim_find_target(&change->target, job_fixture_engine(), "89.5,-5.4", NULL),
                     0);
    change->batch = 7;
    return true;
}

static void aimed_frame(void *context, const struct night_frame *now, const struct night_step *step,
                        const char *lasting)
{
    struct heard *heard = context;
    ck_assert_int_eq(strcmp(now->target.name, "M 42 (Orion Nebula)") == 0, heard->frames < 2);
    ck_assert(heard->frames < 2 || now->target.share == 1);
    ck_assert(heard->frames < 2 || (step->has_batch && step->batch.frames == 7));
    ck_assert(heard->frames != 2 || step->left == 7); /* the batch begins with it */
    frame(context, now, step, lasting);
}

static void take_frames(void)
{
    for (int i = 0; i < FRAMES; i++) {
        char name[20];
        snprintf(name, sizeof name, "f-%d.jpg", i);
        job_fixture_frame(name, 10 * i, NULL);
    }
}

static int watch_as(struct job_watch_result *result, struct heard *heard,
                    const struct watch_listener *listener, const char *folder, bool once,
                    struct error *err)
{
    struct job_watch_wish wish = {
        .aim = AIM_WISH_USUAL, .watch = {.warn = 12, .threads = 1}, .once = once, .poll = true};
    const struct job_control control = {.cancelled = &heard->cancelled};
    ck_assert_int_eq(job_aim_find_target(&wish.target, job_fixture_engine(), "Orion Nebula", NULL),
                     0);
    job_fixture_hush();
    int code = job_watch(result, job_fixture_engine(), folder, &wish, listener, &control, err);
    job_fixture_unhush();
    return code;
}

static int watch(struct job_watch_result *result, struct heard *heard, const char *folder,
                 bool once, struct error *err)
{
    const struct watch_listener listener = {
        .context = heard, .began = began, .ended = ended, .frame = frame, .trouble = trouble};
    return watch_as(result, heard, &listener, folder, once, err);
}

START_TEST(another_target_counts_from_the_next_frame_on)
{
    struct job_watch_result result;
    struct heard heard = {0};
    const struct watch_listener listener = {
        .context = &heard, .frame = aimed_frame, .change = change};
    take_frames();
    ck_assert_int_eq(watch_as(&result, &heard, &listener, scratch_folder, true, NULL), 0);
    ck_assert_int_eq(heard.frames, FRAMES);
}
END_TEST

START_TEST(frames_that_are_there_are_told_once)
{
    struct job_watch_result result;
    struct heard heard = {0}, again = {0};
    take_frames();
    ck_assert_int_eq(watch(&result, &heard, scratch_folder, true, NULL), 0);
    ck_assert(result.frames == FRAMES && result.solved == FRAMES && heard.frames == FRAMES);
    ck_assert(heard.began == 1 && heard.ended == 1 && heard.troubles == 0);
    ck_assert_ptr_nonnull(strstr(heard.last, "f-3.jpg"));
    ck_assert_int_eq(watch(&result, &again, scratch_folder, true, NULL), 0);
    ck_assert(result.frames == 0 && again.frames == 0 && again.ended == 1);
}
END_TEST

START_TEST(a_watch_ends_when_it_is_cancelled)
{
    struct job_watch_result result;
    struct heard heard = {.cancel_after = 2}, rest = {0};
    take_frames();
    ck_assert_int_eq(watch(&result, &heard, scratch_folder, false, NULL), 0);
    ck_assert_int_eq(heard.ended, 1);
    ck_assert(result.frames >= 2 && result.frames < FRAMES);
    long first = result.frames;
    ck_assert_int_eq(watch(&result, &rest, scratch_folder, true, NULL), 0);
    ck_assert_int_eq(result.frames, FRAMES - first);
}
END_TEST

START_TEST(a_folder_that_is_not_there_is_an_error)
{
    struct job_watch_result result;
    struct heard heard = {0};
    struct error err = {0};
    ck_assert_int_eq(watch(&result, &heard, scratch_path("none"), true, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "none"));
    ck_assert(heard.began == 0 && heard.ended == 0);
}
END_TEST

START_TEST(what_is_no_frame_gets_a_line_all_the_same)
{
    struct job_watch_result result;
    struct heard heard = {0};
    scratch_write("bad.jpg", "text", 4);
    ck_assert_int_eq(watch(&result, &heard, scratch_folder, true, NULL), 0);
    ck_assert(result.frames == 1 && result.solved == 0 && heard.frames == 1);
}
END_TEST

Suite *job_watch_suite(void)
{
    Suite *s = suite_create("job_watch");
    TCase *c = job_fixture_case(s, "watch");
    tcase_add_test(c, frames_that_are_there_are_told_once);
    tcase_add_test(c, a_watch_ends_when_it_is_cancelled);
    tcase_add_test(c, a_folder_that_is_not_there_is_an_error);
    tcase_add_test(c, another_target_counts_from_the_next_frame_on);
    tcase_add_test(c, what_is_no_frame_gets_a_line_all_the_same);
    return s;
}
