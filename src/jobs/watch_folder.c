#include "jobs/watch_folder.h"

#include "base/file.h"
#include "base/text.h"
#include "image/frame_name.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#ifdef __has_include
#if __has_include(<sys/inotify.h>)
#include <sys/inotify.h>
#define HAS_INOTIFY
#endif
#endif

/* How long a file must not change if nobody says that it was closed; and how old it must be to
 * count as complete at the first sight of it. */
static const double settle_s = 1, old_s = 10;
/* Copies come in writes that follow each other closely; looking after each would be a waste. */
static const struct timespec breath = {0, 50 * 1000 * 1000};

static void close_reports(struct watch_folder *folder)
{
    if (folder->reports >= 0) {
        close(folder->reports);
    }
    folder->reports = -1;
}

static void forget_closed(struct watch_folder *folder)
{
    for (int i = 0; i < folder->closed_count; i++) {
        free(folder->closed[i]);
    }
    free(folder->closed);
    folder->closed = NULL;
    folder->closed_count = 0;
}

#ifdef HAS_INOTIFY

static void open_reports(struct watch_folder *folder)
{
    folder->reports = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (folder->reports >= 0 && inotify_add_watch(folder->reports, folder->path,
                                                  IN_CLOSE_WRITE | IN_MOVED_TO | IN_ONLYDIR) < 0) {
        close_reports(folder);
    }
}

/* Without memory for a name the file is left to settle. */
static void note_closed(struct watch_folder *folder, const char *name)
{
    char **more = realloc(folder->closed, (size_t)(folder->closed_count + 1) * sizeof *more);
    if (more) {
        folder->closed = more;
        more[folder->closed_count] = text_copy(name);
        folder->closed_count += more[folder->closed_count] != NULL;
    }
}

static void read_reports(struct watch_folder *folder)
{
    _Alignas(struct inotify_event) char buffer[16384];
    ssize_t length;
    while (folder->reports >= 0 && (length = read(folder->reports, buffer, sizeof buffer)) > 0) {
        for (char *at = buffer; at < buffer + length;) {
            struct inotify_event event;
            memcpy(&event, at, sizeof event);
            if (event.mask & (IN_CLOSE_WRITE | IN_MOVED_TO) && event.len > 0) {
                note_closed(folder, at + sizeof event);
            }
            at += sizeof event + event.len;
        }
    }
}

#else

static void open_reports(struct watch_folder *folder)
{
    folder->reports = -1;
}

static void read_reports(struct watch_folder *folder)
{
    (void)folder;
}

#endif

static void free_files(struct folder_file *file, int count)
{
    for (int i = 0; i < count; i++) {
        free(file[i].name);
    }
    free(file);
}

int folder_open(struct watch_folder *folder, const char *path, bool poll, struct error *err)
{
    *folder = (struct watch_folder){.poll = poll, .reports = -1, .path = text_copy(path)};
    if (!folder->path) {
        return error_memory(err);
    }
    struct stat info;
    if (stat(path, &info) != 0) {
        return error_set(err, ERROR_INPUT, "%s: cannot be opened: %s", path, strerror(errno));
    }
    if (!S_ISDIR(info.st_mode)) {
        return error_set(err, ERROR_INPUT,
                         "%s: not a folder: watch needs the folder where frames arrive", path);
    }
    if (!poll) {
        open_reports(folder);
    }
    return 0;
}

void folder_close(struct watch_folder *folder)
{
    if (folder->path) { /* else it was never opened, and reports is 0 */
        close_reports(folder);
    }
    forget_closed(folder);
    free_files(folder->file, folder->count);
    free(folder->path);
    memset(folder, 0, sizeof *folder);
}

static int compare_files(const void *a, const void *b)
{
    const struct folder_file *one = a, *two = b;
    return frame_name_compare(one->name, two->name);
}

static struct folder_file *find_file(const struct folder_file *file, int count, const char *name)
{
    const struct folder_file key = {.name = (char *)name};
    return count ? bsearch(&key, file, (size_t)count, sizeof *file, compare_files) : NULL;
}

/* A list of what the folder holds now, unsorted. */
struct listing {
    struct folder_file *file;
    int count, room;
};

static int add_file(struct listing *list, int descriptor, const char *name, struct error *err)
{
    struct stat info;
    if (!frame_name_is_frame(name) || fstatat(descriptor, name, &info, 0) != 0 ||
        !S_ISREG(info.st_mode)) {
        return 0; /* what has vanished meanwhile was never there */
    }
    if (list->count == list->room) {
        int room = 2 * list->room + 64;
        struct folder_file *more = realloc(list->file, (size_t)room * sizeof *more);
        if (!more) {
            return error_memory(err);
        }
        list->file = more;
        list->room = room;
    }
    struct folder_file file = {.name = text_copy(name),
                               .size = (int64_t)info.st_size,
                               .changed_ns = file_modified_ns(&info)};
    if (!file.name) {
        return error_memory(err);
    }
    list->file[list->count++] = file;
    return 0;
}

static int list_files(struct listing *list, const char *path, struct error *err)
{
    DIR *stream = opendir(path);
    int code = 0;
    if (!stream) {
        return error_set(err, ERROR_INPUT, "%s: the folder cannot be read: %s", path,
                         strerror(errno));
    }
    struct dirent *entry;
    while (!code && (errno = 0, entry = readdir(stream)) != NULL) {
        code = add_file(list, dirfd(stream), entry->d_name, err);
    }
    if (!code && errno) {
        code =
            error_set(err, ERROR_INPUT, "%s: the folder cannot be read: %s", path, strerror(errno));
    }
    closedir(stream);
    return code;
}

/* A file that is as it was keeps what is known of it; else it begins anew. */
static void recall(struct folder_file *file, const struct folder_file *before, double now_s)
{
    bool same = before && before->size == file->size && before->changed_ns == file->changed_ns;
    file->steady_since_s = now_s;
    file->state = FOLDER_FILE_GROWING;
    if (same) {
        file->steady_since_s = before->steady_since_s;
        file->state = before->state;
        file->tries = before->tries;
        file->read_errors = before->read_errors;
        file->again_s = before->again_s;
        file->told = before->told;
    }
}

/* What is new, or has changed, begins to settle; the rest stays as it was. */
static void carry_over(struct folder_file *file, const struct folder_file *before, double now_s)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    recall(file, before, now_s);
    if (file->state == FOLDER_FILE_LATER && now_s >= file->again_s) {
        file->state = FOLDER_FILE_READY;
    }
    double age_s = (double)now.tv_sec - (double)file->changed_ns * 1e-9;
    bool settled = now_s - file->steady_since_s >= settle_s || (!before && age_s > old_s);
    if (file->state == FOLDER_FILE_GROWING && settled) {
        file->state = file->size > 0 ? FOLDER_FILE_READY : FOLDER_FILE_EMPTY;
    }
}

int folder_look(struct watch_folder *folder, double now_s, struct error *err)
{
    struct listing list = {0};
    if (folder->reports < 0 && !folder->poll) {
        open_reports(folder);
    }
    read_reports(folder);
    int code = list_files(&list, folder->path, err);
    if (code) {
        free_files(list.file, list.count);
        close_reports(folder); /* of a folder that may come back as another one */
        return code;
    }
    if (list.count) {
        qsort(list.file, (size_t)list.count, sizeof *list.file, compare_files);
    }
    for (int i = 0; i < list.count; i++) {
        carry_over(&list.file[i], find_file(folder->file, folder->count, list.file[i].name), now_s);
    }
    for (int i = 0; i < folder->closed_count; i++) {
        struct folder_file *file = find_file(list.file, list.count, folder->closed[i]);
        if (file && file->state == FOLDER_FILE_GROWING && file->size > 0) {
            file->state = FOLDER_FILE_READY;
        }
    }
    forget_closed(folder);
    free_files(folder->file, folder->count);
    folder->file = list.file;
    folder->count = list.count;
    folder->next = 0;
    return 0;
}

/* Another file of the same picture that goes before this one, or may do so: it was taken, or it is
 * the raw file of a JPEG. */
static const struct folder_file *find_better_twin(const struct watch_folder *folder, int item)
{
    const struct folder_file *file = &folder->file[item];
    for (int step = -1; step <= 1; step += 2) {
        for (int i = item + step; i >= 0 && i < folder->count; i += step) {
            const struct folder_file *other = &folder->file[i];
            if (!frame_name_same_stem(file->name, other->name)) {
                break;
            }
            bool after_raw = frame_name_is_raw(other->name) && !frame_name_is_raw(file->name) &&
                             other->state != FOLDER_FILE_EMPTY;
            if (other->state == FOLDER_FILE_TAKEN || after_raw) {
                return other;
            }
        }
    }
    return NULL;
}

/* Ready, and not waiting for its twin. */
static bool is_next(struct watch_folder *folder, int item)
{
    struct folder_file *file = &folder->file[item];
    if (file->state != FOLDER_FILE_READY) {
        return false;
    }
    const struct folder_file *twin = find_better_twin(folder, item);
    if (twin && twin->state == FOLDER_FILE_TAKEN) {
        file->state = FOLDER_FILE_TWIN;
    }
    return !twin;
}

int folder_take(const struct folder_file **taken, int most, struct watch_folder *folder)
{
    int count = 0;
    while (count < most && folder->next < folder->count) {
        int item = folder->next++;
        if (is_next(folder, item)) {
            folder->file[item].state = FOLDER_FILE_TAKEN;
            folder->file[item].tries++;
            taken[count++] = &folder->file[item];
        }
    }
    return count;
}

bool folder_put_back(struct watch_folder *folder, const char *name, int most_tries, double now_s)
{
    struct folder_file *file = find_file(folder->file, folder->count, name);
    if (!file || file->tries >= most_tries) {
        return false;
    }
    file->state = FOLDER_FILE_GROWING;
    file->steady_since_s = now_s;
    return true;
}

void folder_note_read_error(struct watch_folder *folder, const char *name)
{
    struct folder_file *file = find_file(folder->file, folder->count, name);
    if (file) {
        file->read_errors++;
    }
}

void folder_retry_later(struct watch_folder *folder, const char *name, double again_s)
{
    struct folder_file *file = find_file(folder->file, folder->count, name);
    if (file && file->state == FOLDER_FILE_TAKEN) {
        file->state = FOLDER_FILE_LATER;
        file->again_s = again_s;
        file->told = true;
    }
}

bool folder_is_growing(const struct watch_folder *folder)
{
    for (int i = 0; i < folder->count; i++) {
        if (folder->file[i].state == FOLDER_FILE_GROWING) {
            return true;
        }
    }
    return false;
}

void folder_wait(struct watch_folder *folder, double timeout_s)
{
    struct pollfd reports = {.fd = folder->reports, .events = POLLIN}; /* -1: only the time */
    if (poll(&reports, 1, (int)(timeout_s * 1e3)) > 0) {
        nanosleep(&breath, NULL);
        read_reports(folder);
    }
}
