#include "jobs/review_measure.h"

#include "base/parallel.h"
#include "base/text.h"
#include "night/night_known.h"
#include "night/night_log.h"
#include "night/night_unite.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

/* A file, and what the log says of it. */
struct file {
    const char *name;
    struct night_file file;
    const struct night_frame *known; /* NULL: nothing */
    int frame;                       /* in the list; -1: a copy of one that is there */
};

struct measuring {
    const struct review_work *work;
    struct night_list *list; /* one for each file that is no copy */
    struct night_known known;
    struct night_log log;
    struct file *file;
    int *to_do; /* files that the log does not settle */
    int jobs;

    pthread_mutex_t lock; /* guards what follows, and the log */
    int done;
    bool log_failed;
    struct error failure;
    int code;
};

static void show_progress(const struct measuring *m)
{
    job_progress(m->work->control, m->done, m->jobs);
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

/* Whether the log says the same already: that a file still cannot be read. */
static bool is_told(const struct night_frame *note, const struct night_frame *known)
{
    return !note->read && known && !known->read && known->unread == note->unread &&
           strcmp(known->name, note->name) == 0;
}

static void measure_item(int item, void *context)
{
    struct measuring *m = context;
    struct file *file = &m->file[m->to_do[item]];
    struct night_frame *note = &m->list->frame[file->frame];
    struct solved_frame solved = {0};
    struct night_file after;
    struct error unread = {0}, err = {0};
    if (has_failed(m) || job_is_cancelled(m->work->control)) {
        return;
    }
    night_file_look(&file->file, file->name);
    const struct picture_source picture = picture_source_file(file->name);
    int code = job_solve(&solved, m->work->engine, &picture, m->work->solve, NULL, &unread);
    night_file_glance(&after, file->name);
    bool steady = night_file_is_unchanged(&file->file, &after);
    bool stale = code == ERROR_INPUT && job_engine_stale(m->work->engine) != NULL;
    int failed = stale ? error_set(&err, code, "%s; review the frames again", unread.text)
                       : solved_frame_note(note, &solved, &file->file, code ? &unread : NULL, &err);
    solved_frame_free(&solved);
    pthread_mutex_lock(&m->lock);
    m->done++;
    if (!failed && steady && !is_told(note, file->known)) {
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

static void look_item(int item, void *context)
{
    struct measuring *m = context;
    struct file *file = &m->file[item];
    night_file_look(&file->file, file->name);
    file->known = night_known_find(&m->known, file->name, &file->file);
}

/* Files of the same content, or places of the same file, follow each other. */
static int compare_files(const void *left, const void *right)
{
    const struct file *const *a = left, *const *b = right;
    const struct night_file *x = &(*a)->file, *y = &(*b)->file;
    const uint64_t pair[][2] = {{x->digest, y->digest},
                                {(uint64_t)x->bytes, (uint64_t)y->bytes},
                                {x->digest ? 0 : x->device, y->digest ? 0 : y->device},
                                {x->digest ? 0 : x->inode, y->digest ? 0 : y->inode}};
    for (size_t i = 0; i < sizeof pair / sizeof *pair; i++) {
        if (pair[i][0] != pair[i][1]) {
            return pair[i][0] < pair[i][1] ? -1 : 1;
        }
    }
    return (*a > *b) - (*a < *b);
}

static bool are_one(const struct file *a, const struct file *b)
{
    return night_file_is_copy(&a->file, &b->file) || night_file_is_same(&a->file, &b->file);
}

/* Only the first file of a run is measured; *places: how many files on the disk the run is. */
static void join_run(struct file **run, int length, int *places)
{
    *places = 1;
    for (int i = 1; i < length; i++) {
        bool met = false;
        for (int k = 0; k < i && !met; k++) {
            met = night_file_is_same(&run[k]->file, &run[i]->file);
        }
        *places += !met;
        run[i]->frame = -1;
    }
}

static int join_copies(struct measuring *m, int files, struct error *err)
{
    struct file **file = calloc((size_t)files + 1, sizeof *file);
    int code = file ? 0 : error_memory(err);
    for (int i = 0; i < files && !code; i++) {
        file[i] = &m->file[i];
    }
    if (!code) {
        qsort(file, (size_t)files, sizeof *file, compare_files);
    }
    for (int i = 0, next; i < files && !code; i = next) {
        int places = 1;
        for (next = i + 1; next < files && are_one(file[i], file[next]);) {
            next++;
        }
        join_run(file + i, next - i, &places);
        code = places > 1 ? night_copies_add(&m->list->copies, file[i]->name, places, err) : 0;
    }
    free(file);
    return code;
}

static int compare_known(const void *left, const void *right)
{
    const struct file *const *a = left, *const *b = right;
    return ((*a)->known > (*b)->known) - ((*a)->known < (*b)->known);
}

/* A line that does not tell the content is of one file; if two claim it, none has it. */
static int settle_claims(struct measuring *m, int files, struct error *err)
{
    struct file **file = calloc((size_t)files + 1, sizeof *file);
    int claims = 0;
    if (!file) {
        return error_memory(err);
    }
    for (int i = 0; i < files; i++) {
        const struct night_frame *known = m->file[i].known;
        if (m->file[i].frame >= 0 && known && !known->digest) {
            file[claims++] = &m->file[i];
        }
    }
    qsort(file, (size_t)claims, sizeof *file, compare_known);
    for (int i = 0, next; i < claims; i = next) {
        const struct night_frame *known = file[i]->known;
        for (next = i + 1; next < claims && file[next]->known == known;) {
            next++;
        }
        for (int k = i; next - i > 1 && k < next; k++) {
            file[k]->known = NULL;
        }
    }
    free(file);
    return 0;
}

/* What is known goes to its place, under the name that the file has now. */
static int take_known(struct night_frame *to, const struct file *file, struct error *err)
{
    int code = night_frame_copy(to, file->known, file->name, err);
    to->digest = to->digest ? to->digest : file->file.digest;
    return code;
}

static int make_room(struct measuring *m, struct error *err)
{
    size_t files = (size_t)m->work->files->count + 1;
    m->file = calloc(files, sizeof *m->file);
    m->list->frame = calloc(files, sizeof *m->list->frame);
    m->to_do = calloc(files, sizeof *m->to_do);
    return m->file && m->list->frame && m->to_do ? 0 : error_memory(err);
}

/* Finds out which files are to be measured. */
static int sort_files(struct measuring *m, int threads, struct error *err)
{
    const int files = m->work->files->count;
    int code = make_room(m, err);
    for (int i = 0; i < files && !code; i++) {
        m->file[i].name = m->work->files->name[i];
    }
    if (!code) {
        parallel_each(files, threads, look_item, m);
        code = join_copies(m, files, err);
    }
    code = code ? code : settle_claims(m, files, err);
    for (int i = 0; i < files && !code; i++) {
        struct file *file = &m->file[i];
        if (file->frame < 0) {
            continue;
        }
        file->frame = m->list->count++;
        m->list->capacity = m->list->count;
        if (file->known && night_frame_is_settled(file->known)) {
            code = take_known(&m->list->frame[file->frame], file, err);
        } else {
            m->to_do[m->jobs++] = i;
        }
    }
    return code;
}

int review_measure(struct night_list *list, int *measured, const struct review_work *work,
                   struct error *err)
{
    struct night_list known = {0};
    struct measuring m = {.work = work, .list = list};
    int threads = work->threads > 0 ? work->threads : parallel_processors();
    int code = open_log(&m, &known, err);
    code = code ? code : night_known_index(&m.known, &known, err);
    code = code ? code : sort_files(&m, threads, err);
    if (!code) {
        pthread_mutex_init(&m.lock, NULL);
        parallel_each(m.jobs, threads, measure_item, &m);
        pthread_mutex_destroy(&m.lock);
        keep_safe(&m);
        code = m.code ? error_set(err, m.code, "%s", m.failure.text) : 0;
    }
    *measured = m.jobs;
    night_log_close(&m.log);
    night_list_free(&known);
    night_known_free(&m.known);
    free(m.file);
    free(m.to_do);
    return code;
}
