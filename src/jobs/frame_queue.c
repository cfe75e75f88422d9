#include "jobs/frame_queue.h"

#include "base/parallel.h"

#include <pthread.h>
#include <stdlib.h>

struct run {
    const struct frame_queue *queue;
    const struct job_control *control;

    pthread_mutex_t lock; /* guards what follows */
    bool *ready;
    int next; /* first that is not handed out yet */
    bool left;
};

static void hand_in(struct run *run, int item)
{
    const struct frame_queue *queue = run->queue;
    pthread_mutex_lock(&run->lock);
    run->ready[item] = true;
    while (!run->left && run->next < queue->frames && run->ready[run->next]) {
        run->left = !queue->hand_out(run->next++, queue->context);
        job_progress(run->control, run->next, queue->frames);
    }
    pthread_mutex_unlock(&run->lock);
}

static bool is_left(struct run *run)
{
    pthread_mutex_lock(&run->lock);
    bool left = run->left;
    pthread_mutex_unlock(&run->lock);
    return left || job_is_cancelled(run->control);
}

static void work_on(int item, void *context)
{
    struct run *run = context;
    if (!is_left(run)) {
        run->queue->work(item, run->queue->context);
        hand_in(run, item);
    }
}

int frame_queue_run(const struct frame_queue *queue, const struct job_control *control,
                    struct error *err)
{
    struct run run = {.queue = queue, .control = control};
    int threads = queue->threads > 0 ? queue->threads : parallel_processors();
    run.ready = calloc((size_t)queue->frames + 1, sizeof *run.ready);
    if (!run.ready) {
        return error_memory(err);
    }
    pthread_mutex_init(&run.lock, NULL);
    parallel_each(queue->frames, threads, work_on, &run);
    pthread_mutex_destroy(&run.lock);
    free(run.ready);
    if (run.next < queue->frames && !run.left) {
        return error_set(err, ERROR_CANCELLED, "cancelled after %d of %d frames", run.next,
                         queue->frames);
    }
    return 0;
}
