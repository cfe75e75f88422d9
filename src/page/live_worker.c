#include "page/live_worker.h"

#include <signal.h>
#include <string.h>
#include <sys/resource.h>

enum { HUMBLE = 10 }; /* nice */

void live_worker_be_humble(void)
{
    sigset_t all;
    sigfillset(&all);
    pthread_sigmask(SIG_BLOCK, &all, NULL);
#ifdef __linux__ /* elsewhere it would be the whole program */
    setpriority(PRIO_PROCESS, 0, HUMBLE);
#endif
}

static void finish(struct live_worker *worker)
{
    worker->task[0]->done = true;
    worker->tasks--;
    memmove(&worker->task[0], &worker->task[1], (size_t)worker->tasks * sizeof *worker->task);
}

/* With the lock, which is let go for the work. */
static void do_task(struct live_worker *worker)
{
    const struct job_control control = {.cancelled = &worker->cancelled};
    struct live_task *task = worker->task[0];
    pthread_mutex_unlock(&worker->lock);
    task->work(task, &control);
    pthread_mutex_lock(&worker->lock);
    finish(worker);
    worker->told(worker->context);
}

static void do_refresh(struct live_worker *worker)
{
    worker->stale = false;
    pthread_mutex_unlock(&worker->lock);
    worker->refresh(worker->context);
    pthread_mutex_lock(&worker->lock);
}

static void *run(void *context)
{
    struct live_worker *worker = context;
    live_worker_be_humble();
    pthread_mutex_lock(&worker->lock);
    while (!worker->stop) {
        if (worker->tasks > 0) {
            do_task(worker);
        } else if (worker->stale) {
            do_refresh(worker);
        } else {
            pthread_cond_wait(&worker->news, &worker->lock);
        }
    }
    while (worker->tasks > 0) {
        finish(worker);
    }
    pthread_mutex_unlock(&worker->lock);
    return NULL;
}

int live_worker_start(struct live_worker *worker, struct error *err)
{
    atomic_init(&worker->cancelled, false);
    pthread_mutex_init(&worker->lock, NULL);
    pthread_cond_init(&worker->news, NULL);
    if (pthread_create(&worker->thread, NULL, run, worker)) {
        pthread_mutex_destroy(&worker->lock);
        pthread_cond_destroy(&worker->news);
        return error_memory(err);
    }
    worker->running = true;
    return 0;
}

void live_worker_stop(struct live_worker *worker)
{
    if (!worker->running) {
        return;
    }
    atomic_store(&worker->cancelled, true);
    pthread_mutex_lock(&worker->lock);
    worker->stop = true;
    pthread_cond_signal(&worker->news);
    pthread_mutex_unlock(&worker->lock);
    pthread_join(worker->thread, NULL);
    worker->running = false;
}

bool live_worker_give(struct live_worker *worker, struct live_task *task)
{
    pthread_mutex_lock(&worker->lock);
    bool taken = worker->tasks < LIVE_TASKS && !worker->stop;
    if (taken) {
        worker->task[worker->tasks++] = task;
        pthread_cond_signal(&worker->news);
    }
    pthread_mutex_unlock(&worker->lock);
    return taken;
}

bool live_worker_is_done(struct live_worker *worker, const struct live_task *task)
{
    pthread_mutex_lock(&worker->lock);
    bool done = task->done;
    pthread_mutex_unlock(&worker->lock);
    return done;
}

void live_worker_refresh(struct live_worker *worker)
{
    pthread_mutex_lock(&worker->lock);
    worker->stale = true;
    pthread_cond_signal(&worker->news);
    pthread_mutex_unlock(&worker->lock);
}
