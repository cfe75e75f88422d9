#define _XOPEN_SOURCE 700 /* readlink */

#include "base/file_identity.h"

#include "base/path.h"
#include "base/text.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_SIZE = 4096, MOST_LINKS = 40 };

static bool set(struct file_identity *identity, const char *existing)
{
    struct stat info;
    identity->known = stat(existing, &info) == 0;
    if (identity->known) {
        identity->device = info.st_dev;
        identity->inode = info.st_ino;
    }
    return identity->known;
}

/* The folder of a name; "." for one without. NULL when memory is short. */
static char *folder_of(const char *name)
{
    size_t length = (size_t)(path_base(name) - name);
    char *folder = text_copy(length ? name : ".");
    if (folder && length) {
        folder[length] = '\0';
    }
    return folder;
}

/* Where a symbolic link leads that ends at nothing yet; name itself for all else. NULL when memory
 * is short. */
static char *follow(const char *name)
{
    char *at = text_copy(name);
    for (int i = 0; at && i < MOST_LINKS; i++) {
        char target[PATH_SIZE];
        ssize_t length = readlink(at, target, sizeof target - 1);
        if (length < 0) {
            break;
        }
        target[length] = '\0';
        char *folder = folder_of(at);
        char *next = !folder            ? NULL
                     : target[0] == '/' ? text_copy(target)
                                        : path_join(folder, target);
        free(folder);
        free(at);
        at = next;
    }
    return at;
}

bool file_identity_find(struct file_identity *identity, const char *name)
{
    memset(identity, 0, sizeof *identity);
    if (set(identity, name)) {
        return true;
    }
    char *end = follow(name), *folder = end ? folder_of(end) : NULL;
    bool good = folder != NULL;
    if (good && set(identity, folder)) {
        identity->last = text_copy(path_base(end));
        good = identity->last != NULL;
    }
    free(folder);
    free(end);
    return good;
}

void file_identity_free(struct file_identity *identity)
{
    free(identity->last);
    memset(identity, 0, sizeof *identity);
}

bool file_identity_same(const struct file_identity *a, const struct file_identity *b)
{
    return a->known && b->known && a->device == b->device && a->inode == b->inode &&
           !a->last == !b->last && (!a->last || strcmp(a->last, b->last) == 0);
}
