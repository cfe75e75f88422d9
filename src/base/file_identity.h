/* base/file_identity.h: whether two names are one file, by whatever way they lead to it. */
#ifndef ALIDADE_BASE_FILE_IDENTITY_H
#define ALIDADE_BASE_FILE_IDENTITY_H

#include <stdbool.h>
#include <sys/types.h>

/* A file that exists is known by its device and inode; one that doesn't, by those of its folder and
 * its name there, links followed. Starts as all zeros; free with file_identity_free. */
struct file_identity {
    bool known; /* false: nothing can be there, as in a folder that is missing */
    dev_t device;
    ino_t inode;
    char *last; /* NULL if the file exists; owned */
};

/* Follows links, hard and symbolic. False only when memory is short. */
bool file_identity_find(struct file_identity *identity, const char *name);
void file_identity_free(struct file_identity *identity);

/* False if either is not known. */
bool file_identity_same(const struct file_identity *a, const struct file_identity *b);

#endif
