#define _XOPEN_SOURCE 700 /* realpath */

#include "base/file.h"

#include "base/leftovers.h"
#include "base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

/* Says what the system said; number is errno at the time. */
static int system_error(struct error *err, int code, const char *name, const char *what, int number)
{
    char reason[128];
    if (strerror_r(number, reason, sizeof reason) != 0) {
        snprintf(reason, sizeof reason, "error %d", number);
    }
    return error_because(err, error_set(err, code, "%s: %s: %s", name, what, reason),
                         error_cause_of(number));
}

static int check_plain(const struct stat *info, const char *name, struct error *err)
{
    if (S_ISDIR(info->st_mode)) {
        return error_set(err, ERROR_INPUT, "%s: is a folder, expected a file", name);
    }
    if (!S_ISREG(info->st_mode)) {
        return error_set(err, ERROR_INPUT, "%s: is not a plain file", name);
    }
    if (info->st_size == 0) {
        return error_because(err, error_set(err, ERROR_INPUT, "%s: the file is empty", name),
                             CAUSE_SHORT);
    }
    if ((uintmax_t)info->st_size > SIZE_MAX) {
        return error_set(err, ERROR_INPUT, "%s: the file is too large for this machine", name);
    }
    return 0;
}

/* Returns a descriptor of a plain file with something in it, or -1. */
static int open_plain(const char *name, size_t *size, struct error *err)
{
    /* Without O_NONBLOCK a named pipe would hang here, before it can be refused. */
    int descriptor = open(name, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0) {
        system_error(err, ERROR_INPUT, name, "cannot be opened", errno);
        return -1;
    }
    struct stat info;
    int code = fstat(descriptor, &info) == 0
                   ? check_plain(&info, name, err)
                   : system_error(err, ERROR_INPUT, name, "cannot be examined", errno);
    if (code) {
        close(descriptor);
        return -1;
    }
    *size = (size_t)info.st_size;
    return descriptor;
}

FILE *file_stream_open(const char *name, size_t *size, struct error *err)
{
    int descriptor = open_plain(name, size, err);
    if (descriptor < 0) {
        return NULL;
    }
    FILE *stream = fdopen(descriptor, "rb");
    if (!stream) {
        system_error(err, ERROR_INPUT, name, "cannot be opened", errno);
        close(descriptor);
    }
    return stream;
}

int file_check_readable(const char *name, struct error *err)
{
    size_t size;
    char piece[65536];
    int descriptor = open_plain(name, &size, err);
    if (descriptor < 0) {
        return ERROR_INPUT;
    }
    ssize_t got;
    do {
        got = read(descriptor, piece, sizeof piece);
    } while (got > 0 || (got < 0 && errno == EINTR));
    int code = got < 0 ? file_tell_unreadable(name, errno, err) : 0;
    close(descriptor);
    return code;
}

int file_tell_unreadable(const char *name, int number, struct error *err)
{
    return system_error(err, ERROR_INPUT, name, "cannot be read", number);
}

long long file_modified_ns(const struct stat *info)
{
    return (long long)info->st_mtim.tv_sec * 1000000000 + (long long)info->st_mtim.tv_nsec;
}

int file_map_open(struct file_map *map, const char *name, struct error *err)
{
    memset(map, 0, sizeof *map);
    size_t size;
    int descriptor = open_plain(name, &size, err);
    if (descriptor < 0) {
        return ERROR_INPUT;
    }
    struct stat info;
    void *mapping = mmap(NULL, size, PROT_READ, MAP_SHARED, descriptor, 0);
    if (mapping == MAP_FAILED || fstat(descriptor, &info) != 0) {
        int number = errno;
        close(descriptor);
        if (mapping != MAP_FAILED) {
            munmap(mapping, size);
        }
        return system_error(err, ERROR_INPUT, name, "cannot be mapped into memory", number);
    }
    *map = (struct file_map){mapping, size, mapping, descriptor, file_modified_ns(&info)};
    return 0;
}

void file_map_close(struct file_map *map)
{
    if (map->mapping) {
        munmap(map->mapping, map->size);
        close(map->descriptor);
    }
    memset(map, 0, sizeof *map);
}

bool file_map_changed(const struct file_map *map)
{
    struct stat info;
    return map->mapping &&
           (fstat(map->descriptor, &info) != 0 || (uintmax_t)info.st_size != map->size ||
            file_modified_ns(&info) != map->modified_ns);
}

static void file_out_clear(struct file_out *out)
{
    free(out->name);
    free(out->temporary);
    memset(out, 0, sizeof *out);
}

/* Creates a file of its own in the folder of out->name; returns its descriptor or -1 with errno.
 * Unlike mkstemp this leaves the permissions to the umask, as for any new file. */
static int create_temporary(struct file_out *out)
{
    size_t size = strlen(out->name) + 64;
    out->temporary = malloc(size);
    if (!out->temporary) {
        errno = ENOMEM;
        return -1;
    }
    leftovers_sweep(out->name);
    for (int attempt = 0; attempt < 10000; attempt++) {
        leftovers_name(out->temporary, size, out->name, (long)getpid(), attempt);
        int descriptor = open(out->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (descriptor >= 0) {
            leftovers_hold(descriptor);
            return descriptor;
        }
        if (errno != EEXIST) {
            return -1;
        }
    }
    return -1;
}

/* Finds where to write. Through a symbolic link the file behind it is meant; a device or a pipe
 * is written to directly, since a rename would put a plain file in its place. */
static int open_target(struct file_out *out, int *descriptor, struct error *err)
{
    struct stat info;
    if (out->name[0] == '\0') {
        return error_set(err, ERROR_OUTPUT, "expected the name of a file to write, found nothing");
    }
    if (stat(out->name, &info) != 0) {
        *descriptor = create_temporary(out);
        return 0;
    }
    if (S_ISDIR(info.st_mode)) {
        return error_set(err, ERROR_OUTPUT, "%s: is a folder, expected a file name", out->name);
    }
    if (!S_ISREG(info.st_mode)) {
        *descriptor = open(out->name, O_WRONLY | O_CLOEXEC);
        return 0;
    }
    char *real = realpath(out->name, NULL);
    if (real) {
        free(out->name);
        out->name = real;
    }
    *descriptor = create_temporary(out);
    if (*descriptor >= 0 && fchmod(*descriptor, info.st_mode & 0777) != 0) {
        errno = 0; /* some file systems have no permissions to keep */
    }
    return 0;
}

int file_out_open(struct file_out *out, const char *name, struct error *err)
{
    memset(out, 0, sizeof *out);
    out->name = text_copy(name);
    if (!out->name) {
        return error_memory(err);
    }
    int descriptor = -1;
    int code = open_target(out, &descriptor, err);
    if (code) {
        file_out_clear(out);
        return code;
    }
    if (descriptor >= 0) {
        out->stream = fdopen(descriptor, "wb");
    }
    if (!out->stream) {
        int number = errno;
        if (descriptor >= 0) {
            close(descriptor);
            if (out->temporary) {
                unlink(out->temporary);
            }
        }
        file_out_clear(out);
        return system_error(err, ERROR_OUTPUT, name, "cannot be written", number);
    }
    return 0;
}

void file_bytes_free(struct file_bytes *bytes)
{
    free(bytes->bytes);
    memset(bytes, 0, sizeof *bytes);
}

int file_out_open_to(struct file_out *out, const struct file_target *target, struct error *err)
{
    if (!target->memory) {
        return file_out_open(out, target->name, err);
    }
    memset(out, 0, sizeof *out);
    out->memory = target->memory;
    out->stream = open_memstream(&out->memory->bytes, &out->memory->size);
    return out->stream ? 0 : error_memory(err);
}

static int commit_memory(struct file_out *out, struct error *err)
{
    bool failed = ferror(out->stream) != 0;
    failed = fclose(out->stream) != 0 || failed;
    if (failed) {
        file_bytes_free(out->memory);
    }
    file_out_clear(out);
    return failed ? error_memory(err) : 0;
}

/* A stream forgets why a write failed earlier. Whoever writes again is told: a full disk stays
 * full, a closed pipe closed. What is written is lost with the rest. */
static int why_failed(const struct file_out *out)
{
    static const char nothing[8192];
    if (out->temporary && lseek(fileno(out->stream), 0, SEEK_END) < 0) {
        return errno;
    }
    errno = 0;
    if (write(fileno(out->stream), nothing, sizeof nothing) < (ssize_t)sizeof nothing) {
        return errno ? errno : ENOSPC; /* a short write is all that a full disk says */
    }
    return EIO;
}

int file_out_commit(struct file_out *out, struct error *err)
{
    int number = 0;
    if (out->memory) {
        return commit_memory(out, err);
    }
    if (fflush(out->stream) != 0) {
        number = errno;
    } else if (ferror(out->stream)) {
        number = why_failed(out);
    } else if (out->temporary && fsync(fileno(out->stream)) != 0 && errno != EINVAL) {
        number = errno;
    }
    if (fclose(out->stream) != 0 && !number) {
        number = errno;
    }
    out->stream = NULL;
    if (!number && out->temporary && rename(out->temporary, out->name) != 0) {
        number = errno;
    }
    int code = 0;
    if (number) {
        code = system_error(err, ERROR_OUTPUT, out->name, "cannot be written", number);
        if (out->temporary) {
            unlink(out->temporary);
        }
    }
    file_out_clear(out);
    return code;
}

void file_out_abandon(struct file_out *out)
{
    if (out->stream) {
        fclose(out->stream);
    }
    if (out->temporary) {
        unlink(out->temporary);
    }
    if (out->memory) {
        file_bytes_free(out->memory);
    }
    file_out_clear(out);
}
