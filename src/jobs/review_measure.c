#include "jobs/review_measure.h"

#include "base/file.h"
#include "base/parallel.h"
#include "base/text.h"
#include "night/night_known.h"
#include "night/night_log.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

struct measuring {
    const struct review_work *work;
    struct night_list *list; /* one for each file */
    struct night_known known;
    struct night_log log;
    int *to_do; /* files that no log knows */
    int jobs;

    pthread_mutex_t lock; /* guards what follows, and the log */
    int done;
    bool log_failed;
    struct error failure;
    int code;
};

static const struct night_frame *find_known(const struct measuring *m, const char *name)
{
    struct stat info;
    if (stat(name, &info) != 0) {
        return NULL;
    }
    return night_known_find(&m->known, name, (long long)info.st_size, file_modified_ns(&info));
}

static void show_progress(const struct measuring *m)
{
    const struct job_control *control = m->work->control;
    if (control && control->progress) {
        control->progress(control->context, m->done, m->jobs);
    }
}

static void complain(const struct review_work *work, const struct error *err)
{
    if (work->trouble) {
        work->trouble(work->context, err);
    }
}

/* The night goes on without its log; that is said once. */
static void tell_log(struct measuring *m, int code, const struct error *err)
{
    if (code && !m->log_failed) {
        m->log_failed = true;
        complain(m->work, err);
    }
}

static void keep_line(struct measuring *m, const struct night_frame *frame)
{
    struct error err = {0};
    if (m->log.open) {
        tell_log(m, night_log_add(&m->log, frame, &err), &err);
    }
}

static void keep_safe(struct measuring *m)
{
    struct error err = {0};
    if (m->log.open && m->jobs) {
        tell_log(m, night_log_sync(&m->log, &err), &err);
    }
}

/* What is kept is rounded; so that an answer does not depend on what was measured when, a frame
 * that was just measured is rounded likewise. */
static int round_frame(struct night_frame *note, struct error *err)
{
    struct json json = {0};
    struct night_frame read = {0};
    int code = night_frame_write(&json, note, err);
    if (!code) {
        code = night_frame_read(&read, json.text, json.length, err);
    }
    json_free(&json);
    if (!code) {
        night_frame_free(note);
        *note = read;
    }
    return code;
}

static bool has_failed(struct measuring *m)
{
    pthread_mutex_lock(&m->lock);
    bool failed = m->code != 0;
    pthread_mutex_unlock(&m->lock);
    return failed;
}

static void measure_item(int item, void *context)
{
    struct measuring *m = context;
    int file = m->to_do[item];
    struct night_frame *note = &m->list->frame[file];
    struct solved_frame solved = {0};
    struct error unread = {0}, err = {0};
    if (has_failed(m) || job_is_cancelled(m->work->control)) {
        return;
    }
    int code = frame_solve(&solved, m->work->files->name[file], m->work->solver, &unread);
    bool stale = code == ERROR_INPUT && solver_is_stale(m->work->solver);
    int failed = stale ? error_set(&err, code, "%s; review the frames again", unread.text)
                       : solved_frame_note(note, &solved, code ? &unread : NULL, &err);
    solved_frame_free(&solved);
    pthread_mutex_lock(&m->lock);
    m->done++;
    if (!failed && code != ERROR_MEMORY) { /* another try may find more room */
        keep_line(m, note);
    }
    failed = failed ? failed : round_frame(note, &err);
    if (failed) {
        m->code = failed;
        m->failure = err;
    }
    show_progress(m);
    pthread_mutex_unlock(&m->lock);
}

static int open_log(struct measuring *m, struct night_list *known, struct error *err)
{
    struct error reason = {0};
    int code = night_log_open(&m->log, known, m->work->log, &reason);
    if (code == ERROR_OUTPUT && !m->work->log_wanted) {
        /* A card that is write-protected may still have a log to read. */
        struct night_lines lines;
        text_append(reason.text, sizeof reason.text, "; nothing will be kept for the next time");
        complain(m->work, &reason);
        code =
            night_list_read(known, &lines, m->work->log, NULL) == ERROR_MEMORY ? ERROR_MEMORY : 0;
    }
    return code ? error_set(err, code, "%s", reason.text) : 0;
}

/* Puts what is known in its place, under the name that the file has now. */
static int sort_files(struct measuring *m, struct error *err)
{
    const struct review_files *files = m->work->files;
    m->list->frame = calloc((size_t)files->count + 1, sizeof *m->list->frame);
    m->to_do = calloc((size_t)files->count + 1, sizeof *m->to_do);
    if (!m->list->frame || !m->to_do) {
        return error_memory(err);
    }
    m->list->count = m->list->capacity = files->count;
    for (int i = 0; i < files->count; i++) {
        const struct night_frame *known = find_known(m, files->name[i]);
        struct night_frame *to = &m->list->frame[i];
        if (!known) {
            m->to_do[m->jobs++] = i;
            continue;
        }
        *to = *known;
        to->name = text_copy(files->name[i]);
        if (!to->name) {
            return error_memory(err);
        }
    }
    return 0;
}

int review_measure(struct night_list *list, int *measured, const struct review_work *work,
                   struct error *err)
{
    struct night_list known = {0};
    struct measuring m = {.work = work, .list = list};
    int code = open_log(&m, &known, err);
    code = code ? code : night_known_index(&m.known, &known, err);
    code = code ? code : sort_files(&m, err);
    if (!code) {
        pthread_mutex_init(&m.lock, NULL);
        parallel_each(m.jobs, work->threads > 0 ? work->threads : parallel_processors(),
                      measure_item, &m);
        pthread_mutex_destroy(&m.lock);
        keep_safe(&m);
        code = m.code ? error_set(err, m.code, "%s", m.failure.text) : 0;
    }
    *measured = m.jobs;
    night_log_close(&m.log);
    night_list_free(&known);
    night_known_free(&m.known);
    free(m.to_do);
    return code;
}
