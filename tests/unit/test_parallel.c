#include "base/parallel.h"
#include "near.h"

#include <stdatomic.h>
#include <time.h>

Suite *parallel_suite(void);

enum { ITEMS = 1000 };

struct tally {
    atomic_int seen[ITEMS];
    atomic_int inside, most_inside;
    atomic_int rising; /* the last item started; only kept with one thread */
};

static void count(int item, void *context)
{
    struct tally *tally = context;
    int inside = atomic_fetch_add(&tally->inside, 1) + 1;
    int most = atomic_load(&tally->most_inside);
    while (inside > most && !atomic_compare_exchange_weak(&tally->most_inside, &most, inside)) {
    }
    atomic_fetch_add(&tally->seen[item], 1);
    const struct timespec pause = {0, 20000};
    nanosleep(&pause, NULL);
    atomic_fetch_sub(&tally->inside, 1);
}

START_TEST(test_each_once)
{
    static const int threads[] = {-1, 0, 1, 2, 7, 300};
    for (size_t k = 0; k < sizeof threads / sizeof *threads; k++) {
        struct tally tally = {0};
        parallel_each(ITEMS, threads[k], count, &tally);
        for (int i = 0; i < ITEMS; i++) {
            ck_assert_int_eq(tally.seen[i], 1);
        }
        ck_assert_int_eq(tally.inside, 0);
        ck_assert_int_le(tally.most_inside, threads[k] < 1 ? 1 : threads[k]);
    }
}
END_TEST

START_TEST(test_really_parallel)
{
    struct tally tally = {0};
    parallel_each(ITEMS, 4, count, &tally);
    ck_assert_int_gt(tally.most_inside, 1);
}
END_TEST

START_TEST(test_nothing_to_do)
{
    struct tally tally = {0};
    parallel_each(0, 4, count, &tally);
    parallel_each(-3, 4, count, &tally);
    ck_assert_int_eq(tally.most_inside, 0);
}
END_TEST

static void check_order(int item, void *context)
{
    struct tally *tally = context;
    ck_assert_int_eq(item, tally->rising);
    tally->rising++;
}

START_TEST(test_order_alone)
{
    struct tally tally = {0};
    parallel_each(ITEMS, 1, check_order, &tally);
    ck_assert_int_eq(tally.rising, ITEMS);
}
END_TEST

START_TEST(test_processors)
{
    ck_assert_int_ge(parallel_processors(), 1);
}
END_TEST

START_TEST(test_share)
{
    ck_assert_int_eq(parallel_share(8, 1), 8);
    ck_assert_int_eq(parallel_share(8, 3), 2);
    ck_assert_int_eq(parallel_share(8, 9), 1);
    ck_assert_int_eq(parallel_share(8, 0), 1);
    ck_assert_int_eq(parallel_share(0, 1), parallel_processors());
}
END_TEST

Suite *parallel_suite(void)
{
    Suite *suite = suite_create("parallel");
    TCase *c = tcase_create("parallel");
    tcase_add_test(c, test_each_once);
    tcase_add_test(c, test_really_parallel);
    tcase_add_test(c, test_nothing_to_do);
    tcase_add_test(c, test_order_alone);
    tcase_add_test(c, test_share);
    tcase_add_test(c, test_processors);
    suite_add_tcase(suite, c);
    return suite;
}
