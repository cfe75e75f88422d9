/* Many frames on many threads, whose answers come in the order of the frames. */
#include "job_fixture.h"
#include "jobs/frame_queue.h"

#include <time.h>

Suite *frame_queue_suite(void);

enum { FRAMES = 40 };

struct log {
    atomic_int worked;
    int order[FRAMES], handed, stop_at;
    bool done[FRAMES];
};

static void work(int item, void *context)
{
    struct log *log = context;
    const struct timespec nap = {.tv_nsec = (item * 7 % 5) * 300000};
    nanosleep(&nap, NULL);
    log->done[item] = true;
    atomic_fetch_add(&log->worked, 1);
}

static bool hand_out(int item, void *context)
{
    struct log *log = context;
    ck_assert(log->done[item]);
    log->order[log->handed++] = item;
    return item != log->stop_at;
}

static void check_order(const struct log *log)
{
    for (int i = 0; i < log->handed; i++) {
        ck_assert_int_eq(log->order[i], i);
    }
}

START_TEST(answers_come_in_the_order_of_the_frames)
{
    struct log log = {.stop_at = -1};
    struct job_watchman man;
    const struct frame_queue queue = {FRAMES, 1 + _i, work, hand_out, &log};
    job_watchman_start(&man, -1);
    ck_assert_int_eq(frame_queue_run(&queue, &man.control, NULL), 0);
    ck_assert_int_eq(log.handed, FRAMES);
    check_order(&log);
    ck_assert(man.calls == FRAMES && man.last_done == FRAMES && man.last_all == FRAMES);
}
END_TEST

START_TEST(the_rest_is_left_where_nobody_wants_it)
{
    struct log log = {.stop_at = 5};
    const struct frame_queue queue = {FRAMES, 1 + _i, work, hand_out, &log};
    ck_assert_int_eq(frame_queue_run(&queue, NULL, NULL), 0);
    ck_assert_int_eq(log.handed, 6);
    check_order(&log);
    ck_assert_int_lt(atomic_load(&log.worked), FRAMES);
}
END_TEST

START_TEST(a_cancelled_queue_says_so)
{
    struct log log = {.stop_at = -1};
    struct job_watchman man;
    struct error err = {0};
    const struct frame_queue queue = {FRAMES, 1 + _i, work, hand_out, &log};
    job_watchman_start(&man, 3);
    ck_assert_int_eq(frame_queue_run(&queue, &man.control, &err), ERROR_CANCELLED);
    ck_assert_ptr_nonnull(strstr(err.text, "of 40 frames"));
    ck_assert(log.handed >= 3 && log.handed < FRAMES);
    check_order(&log);
}
END_TEST

Suite *frame_queue_suite(void)
{
    Suite *s = suite_create("frame_queue");
    TCase *c = tcase_create("queue");
    tcase_add_loop_test(c, answers_come_in_the_order_of_the_frames, 0, 4);
    tcase_add_loop_test(c, the_rest_is_left_where_nobody_wants_it, 0, 4);
    tcase_add_loop_test(c, a_cancelled_queue_says_so, 0, 4);
    suite_add_tcase(s, c);
    return s;
}
