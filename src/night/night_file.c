#include "night/night_file.h"

#include "base/file.h"
#include "base/fingerprint.h"

#include <sys/stat.h>

void night_file_glance(struct night_file *file, const char *name)
{
    struct stat state;
    *file = (struct night_file){0};
    if (stat(name, &state) == 0) {
        file->bytes = (long long)state.st_size;
        file->modified_ns = file_modified_ns(&state);
        file->device = (uint64_t)state.st_dev;
        file->inode = (uint64_t)state.st_ino;
    }
}

void night_file_look(struct night_file *file, const char *name)
{
    long long bytes;
    uint64_t digest;
    night_file_glance(file, name);
    if (fingerprint_read(&digest, &bytes, name, NULL) == 0 && bytes == file->bytes) {
        file->digest = digest;
    }
}

bool night_file_is_copy(const struct night_file *a, const struct night_file *b)
{
    return a->digest && a->digest == b->digest && a->bytes == b->bytes;
}

bool night_file_is_same(const struct night_file *a, const struct night_file *b)
{
    return a->inode && a->inode == b->inode && a->device == b->device;
}

bool night_file_is_unchanged(const struct night_file *before, const struct night_file *after)
{
    return before->bytes == after->bytes && before->modified_ns == after->modified_ns;
}
