#include "jobs/watch_block.h"

#include "base/file.h"
#include "base/parallel.h"
#include "base/path.h"
#include "base/stopwatch.h"

#include <pthread.h>
#include <stdlib.h>
#include <sys/stat.h>

/* Each frame is expected where the last one of the block before says. */
enum { BLOCK = 8, MOST_TRIES = 3 };

struct job {
    char *path;
    struct folder_file file; /* as it was when it was taken; name borrowed from path */
    struct solved_frame solved;
    struct error err;
    int code;
    bool begun, ready;
};

struct block {
    struct watch_folder *folder;
    struct watch_session *session;
    const struct job_control *control;
    struct solve_before before;
    struct job job[BLOCK];
    int jobs;

    pthread_mutex_t lock; /* guards what follows, ready, and the session */
    int next;
};

/* Whether it is the file that was taken, unchanged. */
static bool is_as_taken(const struct job *job)
{
    struct stat info;
    return stat(job->path, &info) == 0 && (int64_t)info.st_size == job->file.size &&
           file_modified_ns(&info) == job->file.changed_ns;
}

/* A file that has vanished or was written to meanwhile says nothing: in the latter case it will be
 * ready anew. One that cannot be read may not be complete; it is tried again before that is told.
 */
static bool is_to_be_told(const struct job *job, struct watch_folder *folder)
{
    return is_as_taken(job) &&
           (job->code != ERROR_INPUT ||
            !folder_put_back(folder, job->file.name, MOST_TRIES, stopwatch_s()));
}

static void finish(struct job *job, const struct block *block)
{
    struct night_frame frame = {0};
    struct error err = {0};
    if (job->begun && is_to_be_told(job, block->folder)) {
        if (solved_frame_note(&frame, &job->solved, job->code ? &job->err : NULL, &err)) {
            session_complain(block->session, &err);
        } else {
            frame.bytes = job->file.size;
            frame.modified_ns = job->file.changed_ns;
            session_take(block->session, &frame, job->code ? NULL : &job->solved);
        }
    }
    night_frame_free(&frame);
    solved_frame_free(&job->solved);
}

static void work(int item, void *context)
{
    struct block *block = context;
    struct job *job = &block->job[item];
    if (job->ready) {
        return;
    }
    job->begun = !job_is_cancelled(block->control);
    if (job->begun) {
        solved_frame_free(&job->solved);
        job->err = (struct error){0};
        job->code = frame_solve_after(&job->solved, job->path, &block->session->context->solver,
                                      &block->before, &job->err);
    }
    pthread_mutex_lock(&block->lock);
    job->ready = !job->begun || !solver_is_stale(&block->session->context->solver);
    while (block->next < block->jobs && block->job[block->next].ready) {
        finish(&block->job[block->next++], block);
    }
    pthread_mutex_unlock(&block->lock);
}

/* Returns how many were taken, those that are known included. */
static int fill(struct block *block, struct error *err)
{
    const struct folder_file *taken[BLOCK];
    int count = folder_take(taken, BLOCK, block->folder);
    for (int i = 0; i < count; i++) {
        if (session_knows(block->session, taken[i])) {
            continue;
        }
        struct job *job = &block->job[block->jobs];
        job->path = path_join(block->folder->path, taken[i]->name);
        if (!job->path) {
            error_memory(err);
            break;
        }
        job->file = *taken[i];
        job->file.name = (char *)path_base(job->path);
        block->jobs++;
    }
    return count;
}

/* Solutions name stars by their numbers in the index, so none outlives it. */
static void solve_all(struct block *block, int threads, struct error *err)
{
    parallel_each(block->jobs, threads, work, block);
    while (block->next < block->jobs &&
           session_renew_index(block->session, block->control, err) == 0) {
        for (int i = block->next; i < block->jobs; i++) {
            block->job[i].ready = false;
        }
        parallel_each(block->jobs, threads, work, block);
    }
}

int watch_block_do(bool *any, struct watch_folder *folder, struct watch_session *session,
                   const struct job_control *control, struct error *err)
{
    struct block *block = calloc(1, sizeof *block);
    int threads = session->wish->threads > 0 ? session->wish->threads : parallel_processors();
    if (!block) {
        return error_memory(err);
    }
    block->folder = folder;
    block->session = session;
    block->control = control;
    block->before = session->guide.before;
    *any = fill(block, err) > 0;
    pthread_mutex_init(&block->lock, NULL);
    solve_all(block, threads, err);
    pthread_mutex_destroy(&block->lock);
    if (block->jobs) {
        session_sync(session);
    }
    for (int i = 0; i < block->jobs; i++) {
        solved_frame_free(&block->job[i].solved);
        free(block->job[i].path);
    }
    free(block);
    return err->code;
}
