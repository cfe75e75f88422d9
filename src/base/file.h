/* base/file.h: whole files in, whole files out. */
#ifndef ALIDADE_BASE_FILE_H
#define ALIDADE_BASE_FILE_H

#include "base/error.h"

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
};

/* Maps the file; refuses the same things as file_stream_open. ERROR_INPUT. Inverse: file_map_close.
 * The bytes must not be touched any more if another program may have cut the file short. */
int file_map_open(struct file_map *map, const char *name, struct error *err);
void file_map_close(struct file_map *map);

/* A file being written under a temporary name in the target's folder. Starts as all zeros. */
struct file_out {
    FILE *stream;
    char *name;
    char *temporary;
};

/* Opens; the target is not touched before file_out_commit. ERROR_OUTPUT. */
int file_out_open(struct file_out *out, const char *name, struct error *err);

/* Flushes to disk and renames over the target; on failure the temporary is removed. ERROR_OUTPUT.
 * The object is empty afterwards either way. */
int file_out_commit(struct file_out *out, struct error *err);

/* Gives up: removes the temporary. Accepts an empty object. */
void file_out_abandon(struct file_out *out);

#endif
