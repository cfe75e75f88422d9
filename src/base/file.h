/* base/file.h: whole files in, whole files out. */
#ifndef ALIDADE_BASE_FILE_H
#define ALIDADE_BASE_FILE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <sys/stat.h>

/* Opens for reading; *size gets the length, which is above 0. Refuses directories, things that are
 * not plain files, and empty files. NULL and ERROR_INPUT with a sentence that names the file.
 * Inverse: fclose. */
FILE *file_stream_open(const char *name, size_t *size, struct error *err);

/* Reads a file to its end and forgets it: 0 if it can be read. Refuses the same things as
 * file_stream_open; ERROR_INPUT with the cause. */
int file_check_readable(const char *name, struct error *err);
/* Fills err with what the system said (a number of errno) when a file was read, and the cause.
 * Returns ERROR_INPUT. */
int file_tell_unreadable(const char *name, int number, struct error *err);

/* When the file was last written, nanoseconds since 1970 UTC. */
long long file_modified_ns(const struct stat *info);

/* A file mapped read-only. Starts as all zeros. */
struct file_map {
    const unsigned char *bytes; /* NULL for an empty file */
    size_t size;
    void *mapping;
    int descriptor;        /* of the mapped file, whatever has its name now */
    long long modified_ns; /* when it was mapped */
};

/* Maps the file; refuses the same things as file_stream_open. ERROR_INPUT. Inverse: file_map_close.
 * Where another program has cut the file short since, a touch ends the program by SIGBUS, but for
 * lost_pages_read_as_zeros (base/lost_pages.h). */
int file_map_open(struct file_map *map, const char *name, struct error *err);
void file_map_close(struct file_map *map);

/* Whether the file was written to since it was mapped, so that what was read from it may be worth
 * nothing. One that took over its name, as by rename, leaves it as it was. */
bool file_map_changed(const struct file_map *map);

/* What an output became that was wanted in memory. Starts as all zeros; free with file_bytes_free.
 */
struct file_bytes {
    char *bytes;
    size_t size;
};

void file_bytes_free(struct file_bytes *bytes);

/* Where an output goes. All borrowed. */
struct file_target {
    const char *name;          /* of the file; else what messages call it */
    struct file_bytes *memory; /* empty before; NULL: the file of that name is written */
};

/* A file being written under a temporary name in the target's folder. Starts as all zeros. */
struct file_out {
    FILE *stream;
    char *name;
    char *temporary;
    struct file_bytes *memory; /* NULL: it is a file */
};

/* Opens; the target is not touched before file_out_commit. ERROR_OUTPUT. */
int file_out_open(struct file_out *out, const char *name, struct error *err);

/* The same, to a file or to memory, which holds what was written after file_out_commit.
 * ERROR_OUTPUT, ERROR_MEMORY. */
int file_out_open_to(struct file_out *out, const struct file_target *target, struct error *err);

/* Flushes to disk and renames over the target; on failure the temporary is removed. ERROR_OUTPUT.
 * The object is empty afterwards either way. */
int file_out_commit(struct file_out *out, struct error *err);

/* Gives up: removes the temporary. Accepts an empty object. */
void file_out_abandon(struct file_out *out);

#endif
