#define _GNU_SOURCE /* sched_getaffinity: a container or taskset may leave fewer processors */

#include "base/parallel.h"

#include <pthread.h>
#include <sched.h>
#include <stdatomic.h>
#include <unistd.h>

enum { MAX_THREADS = 256 };

struct task {
    atomic_int next;
    int items;
    void (*work)(int item, void *context);
    void *context;
};

int parallel_processors(void)
{
#ifdef CPU_COUNT
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) == 0 && CPU_COUNT(&set) > 0) {
        return CPU_COUNT(&set);
    }
#endif
    long online = sysconf(_SC_NPROCESSORS_ONLN);
    return online < 1 ? 1 : online > MAX_THREADS ? MAX_THREADS : (int)online;
}

int parallel_share(int threads, int items)
{
    int all = threads > 0 ? threads : parallel_processors();
    return items > 0 && all > items ? all / items : 1;
}

/* Takes from the shared counter until it runs out; stops before it could overflow. */
static void *run(void *data)
{
    struct task *task = data;
    int item = atomic_load(&task->next);
    while (item < task->items) {
        if (atomic_compare_exchange_weak(&task->next, &item, item + 1)) {
            task->work(item, task->context);
            item = atomic_load(&task->next);
        }
    }
    return NULL;
}

/* The calling thread is one of the workers, so the work gets done even if no other starts. */
void parallel_each(int items, int threads, void (*work)(int item, void *context), void *context)
{
    struct task task = {.items = items, .work = work, .context = context};
    atomic_init(&task.next, 0);
    pthread_t helper[MAX_THREADS];
    int started = 0;
    threads = threads < items ? threads : items;
    threads = threads < MAX_THREADS ? threads : MAX_THREADS;
    while (started < threads - 1 && pthread_create(&helper[started], NULL, run, &task) == 0) {
        started++;
    }
    run(&task);
    for (int i = 0; i < started; i++) {
        pthread_join(helper[i], NULL);
    }
}
