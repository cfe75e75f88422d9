#include "jobs/watch_block.h"

#include "base/parallel.h"
#include "base/path.h"
#include "base/stopwatch.h"

#include <pthread.h>
#include <stdlib.h>

/* Each frame is expected where the last one of the block before says. */
enum { BLOCK = 8, MOST_TRIES = 3 };
/* From one try to the next at what could not be read for a reason that may pass. */
static const double retry_s = 60;

struct job {
    char *path;
    const char *name;       /* in path */
    struct night_file file; /* as it was when it was taken */
    int read_errors;        /* of earlier tries */
    bool told;              /* that it could not be read */
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
    int jobs, most;

    pthread_mutex_t lock; /* guards what follows, ready, and the session */
    int next;
};

/* Whether it is the file that was taken, unchanged. */
static bool is_as_taken(const struct job *job)
{
    struct night_file now;
    night_file_glance(&now, job->path);
    return now.inode && night_file_is_unchanged(&job->file, &now);
}

/* A file that has vanished or was written to meanwhile says nothing: in the latter case it will be
 * ready anew. One that cannot be read may not be complete; it is tried again before that is told.
 * Another copy of a frame that came meanwhile is no new one. */
static bool is_to_be_told(const struct job *job, const struct block *block)
{
    if (!is_as_taken(job) || session_knows(block->session, job->path, &job->file)) {
        return false;
    }
    return job->code != ERROR_INPUT ||
           !folder_put_back(block->folder, job->name, MOST_TRIES, stopwatch_s());
}

/* What may pass is tried again once in a while, and not told twice. */
static bool is_told(const struct job *job, const struct block *block)
{
    if (!job->code || job->err.cause == CAUSE_CONTENT) {
        return false;
    }
    folder_retry_later(block->folder, job->name, stopwatch_s() + retry_s);
    return job->told || session_knows_unread(block->session, job->path, &job->file, job->err.cause);
}

static void tell(struct job *job, const struct block *block)
{
    struct night_frame frame = {0};
    struct error err = {0};
    if (solved_frame_note(&frame, &job->solved, &job->file, job->code ? &job->err : NULL, &err)) {
        session_complain(block->session, &err);
    } else {
        frame.read_errors += job->read_errors;
        session_take(block->session, &frame, job->code ? NULL : &job->solved);
    }
    night_frame_free(&frame);
}

static void finish(struct job *job, const struct block *block)
{
    if (job->code && job->err.cause == CAUSE_DEVICE) {
        folder_note_read_error(block->folder, job->name);
    }
    if (job->begun && is_to_be_told(job, block) && !is_told(job, block)) {
        tell(job, block);
    }
    solved_frame_free(&job->solved);
}

static void work(int item, void *context)
{
    struct block *block = context;
    struct job *job = &block->job[item];
    if (job->ready) {
        return;
    }
    const struct picture_source picture = picture_source_file(job->path);
    struct solve_wish wish = *block->session->solve;
    wish.before = &block->before;
    job->begun = !job_is_cancelled(block->control);
    if (job->begun) {
        solved_frame_free(&job->solved);
        job->err = (struct error){0};
        job->code =
            job_solve(&job->solved, block->session->engine, &picture, &wish, NULL, &job->err);
    }
    pthread_mutex_lock(&block->lock);
    job->ready = !job->begun || !job_engine_stale(block->session->engine);
    while (block->next < block->jobs && block->job[block->next].ready) {
        finish(&block->job[block->next++], block);
    }
    pthread_mutex_unlock(&block->lock);
}

/* Returns how many were taken, those that are known included. */
static int fill(struct block *block, struct error *err)
{
    const struct folder_file *taken[BLOCK];
    int count = folder_take(taken, block->most, block->folder);
    for (int i = 0; i < count; i++) {
        struct job *job = &block->job[block->jobs];
        job->path = path_join(block->folder->path, taken[i]->name);
        if (!job->path) {
            error_memory(err);
            break;
        }
        night_file_look(&job->file, job->path);
        if (session_knows(block->session, job->path, &job->file)) {
            free(job->path);
            continue;
        }
        job->name = path_base(job->path);
        job->read_errors = taken[i]->read_errors;
        job->told = taken[i]->told;
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
    struct error why = {0};
    int threads = session->wish->threads > 0 ? session->wish->threads : parallel_processors();
    if (!block) {
        return error_memory(err);
    }
    block->folder = folder;
    block->session = session;
    block->control = control;
    block->before = session->advice.before;
    /* Frames for the stack keep their planes until it is their turn. */
    block->most = session->stack.wish && threads < BLOCK ? threads : BLOCK;
    *any = fill(block, &why) > 0;
    session->stack.threads = parallel_share(threads, block->jobs);
    pthread_mutex_init(&block->lock, NULL);
    solve_all(block, threads, &why);
    pthread_mutex_destroy(&block->lock);
    if (block->jobs) {
        session_sync(session);
    }
    for (int i = 0; i < block->jobs; i++) {
        solved_frame_free(&block->job[i].solved);
        free(block->job[i].path);
    }
    free(block);
    return why.code ? error_set(err, why.code, "%s", why.text) : 0;
}
