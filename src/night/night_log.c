#include "night/night_log.h"

#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static int refuse_busy(const char *name, long holder, struct error *err)
{
    return error_set(err, ERROR_NO,
                     "%s: process %ld keeps this log already, so it follows the frames; stop it "
                     "first, or give this one another log",
                     name, holder);
}

static int lock(const struct night_log *log, struct error *err)
{
    struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    if (fcntl(log->descriptor, F_SETLK, &all) == 0) {
        return 0;
    }
    if (errno == EACCES || errno == EAGAIN) {
        bool told = fcntl(log->descriptor, F_GETLK, &all) == 0 && all.l_type != F_UNLCK;
        return refuse_busy(log->name, told ? (long)all.l_pid : 0, err);
    }
    return 0; /* a network drive without locks: go on without */
}

static int open_file(struct night_log *log, const char *name, struct error *err)
{
    memset(log, 0, sizeof *log);
    log->name = text_copy(name);
    if (!log->name) {
        return error_memory(err);
    }
    log->descriptor = open(name, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0666);
    if (log->descriptor < 0) {
        return error_set(err, ERROR_OUTPUT, "%s: the log cannot be written: %s", name,
                         strerror(errno));
    }
    log->open = true;
    struct stat info;
    if (fstat(log->descriptor, &info) != 0 || !S_ISREG(info.st_mode)) {
        return error_set(err, ERROR_OUTPUT, "%s: is no plain file, which the log must be", name);
    }
    return 0;
}

/* Whether the file begins like a log, or is empty. */
static bool is_log(const struct night_log *log)
{
    char head[16];
    ssize_t length = pread(log->descriptor, head, sizeof head, 0);
    static const char sign[] = "{\"frame\": ";
    size_t compared = length < (ssize_t)sizeof sign - 1 ? (size_t)length : sizeof sign - 1;
    return length >= 0 && memcmp(head, sign, compared) == 0;
}

/* Cuts off what follows the last newline. */
static bool remove_torn_line(const struct night_log *log)
{
    char piece[4096];
    struct stat info;
    if (fstat(log->descriptor, &info) != 0) {
        return false;
    }
    for (off_t end = info.st_size; end > 0;) {
        off_t start = end > (off_t)sizeof piece ? end - (off_t)sizeof piece : 0;
        ssize_t length = pread(log->descriptor, piece, (size_t)(end - start), start);
        if (length <= 0) {
            return false;
        }
        for (ssize_t i = length; i > 0; i--) {
            if (piece[i - 1] == '\n') {
                return start + i == info.st_size || ftruncate(log->descriptor, start + i) == 0;
            }
        }
        end = start;
    }
    return info.st_size == 0 || ftruncate(log->descriptor, 0) == 0;
}

static int read_known(const struct night_log *log, struct night_list *known, struct error *err)
{
    struct night_lines lines;
    if (!is_log(log)) {
        return error_set(err, ERROR_INPUT, "%s: is no log of a session; it is left as it is",
                         log->name);
    }
    if (!remove_torn_line(log)) {
        return error_set(err, ERROR_OUTPUT, "%s: the torn last line cannot be removed: %s",
                         log->name, strerror(errno));
    }
    return night_list_read(known, &lines, log->name, err);
}

int night_log_open(struct night_log *log, struct night_list *known, const char *name,
                   struct error *err)
{
    int code = open_file(log, name, err);
    if (!code) {
        code = lock(log, err);
    }
    if (!code) {
        code = read_known(log, known, err);
    }
    if (!code) {
        /* Reading closed the file once, and with that POSIX takes all locks back. */
        code = lock(log, err);
    }
    if (code) {
        night_log_close(log);
    }
    return code;
}

void night_log_close(struct night_log *log)
{
    if (log->open) {
        close(log->descriptor);
    }
    free(log->name);
    free(log->waiting);
    memset(log, 0, sizeof *log);
}

/* All or nothing. */
static bool append(int descriptor, const char *text, size_t length)
{
    struct stat before;
    size_t written = 0;
    if (fstat(descriptor, &before) != 0) {
        return false;
    }
    while (written < length) {
        ssize_t more = write(descriptor, text + written, length - written);
        if (more < 0 && errno == EINTR) {
            continue;
        }
        if (more <= 0) {
            break;
        }
        written += (size_t)more;
    }
    if (written == length) {
        return true;
    }
    int number = errno ? errno : ENOSPC;
    if (written && ftruncate(descriptor, before.st_size) != 0) {
        number = errno; /* a torn line stays */
    }
    errno = number;
    return false;
}

/* Tries to write what waits. */
static int night_log_retry(struct night_log *log, struct error *err)
{
    if (!log->waiting_length) {
        return 0;
    }
    if (!append(log->descriptor, log->waiting, log->waiting_length)) {
        return error_set(err, ERROR_OUTPUT, "%s: the log cannot be written: %s", log->name,
                         strerror(errno));
    }
    free(log->waiting);
    log->waiting = NULL;
    log->waiting_length = 0;
    log->unsafe = true;
    return 0;
}

int night_log_sync(struct night_log *log, struct error *err)
{
    int code = night_log_retry(log, err);
    /* Where a disk cannot be told to write (EINVAL) the system is trusted. */
    if (!code && log->unsafe && fdatasync(log->descriptor) != 0 && errno != EINVAL) {
        return error_set(err, ERROR_OUTPUT, "%s: the log cannot be written: %s", log->name,
                         strerror(errno));
    }
    log->unsafe = log->unsafe && code;
    return code;
}

static int let_wait(struct night_log *log, const struct json *line, struct error *err)
{
    char *more = realloc(log->waiting, log->waiting_length + line->length + 1);
    if (!more) {
        return error_memory(err);
    }
    log->waiting = more;
    memcpy(more + log->waiting_length, line->text, line->length);
    more[log->waiting_length + line->length] = '\n';
    log->waiting_length += line->length + 1;
    return 0;
}

int night_log_add(struct night_log *log, const struct night_frame *frame, struct error *err)
{
    struct json line = {0};
    int code = night_frame_write(&line, frame, err);
    if (!code) {
        code = let_wait(log, &line, err);
    }
    json_free(&line);
    return code ? code : night_log_retry(log, err);
}
