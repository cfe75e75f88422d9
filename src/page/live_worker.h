/* page/live_worker.h: what pages ask for that takes long, done by one thread that lets frames go
 * first. */
#ifndef ALIDADE_PAGE_LIVE_WORKER_H
#define ALIDADE_PAGE_LIVE_WORKER_H

#include "base/error.h"
#include "base/json.h"
#include "jobs/job_control.h"

#include <pthread.h>
#include <stdbool.h>

struct live_worker;

/* Something to be done. Lives with whoever asks until it is done. */
struct live_task {
    /* Fills answer; called on the worker's thread. */
    void (*work)(struct live_task *task, const struct job_control *control);
    void *context;        /* of work */
    unsigned char *bytes; /* of a picture; owned by whoever asks */
    size_t size;
    struct json answer; /* whoever asks frees it */
    bool done;          /* guarded by the worker */
};

enum { LIVE_TASKS = 2 }; /* that are waiting or being done; more are refused */

/* Starts as all zeros. */
struct live_worker {
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t news;
    bool running, stop;
    atomic_bool cancelled;
    struct live_task *task[LIVE_TASKS]; /* in their order */
    int tasks;
    /* What is to be done again whenever it was asked for since, between tasks. */
    void (*refresh)(void *context);
    bool stale;
    void (*told)(void *context); /* after a task; on the worker's thread */
    void *context;
};

/* refresh, told and context are set before. ERROR_MEMORY if no thread can be started. Inverse:
 * live_worker_stop, which ends when the task at work has, and calls the others done. */
int live_worker_start(struct live_worker *worker, struct error *err);
void live_worker_stop(struct live_worker *worker);

/* False: too much is waiting already, or the worker has stopped. */
bool live_worker_give(struct live_worker *worker, struct live_task *task);
bool live_worker_is_done(struct live_worker *worker, const struct live_task *task);
/* Has refresh be called soon. */
void live_worker_refresh(struct live_worker *worker);

/* The calling thread gives way to all others of this computer from now on, and takes no signals. */
void live_worker_be_humble(void);

#endif
