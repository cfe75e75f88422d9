#include "base/path.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *path_base(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Names of a path from its last to its first. */
struct walk {
    const char *start, *end; /* what is left */
    const char *name;
    size_t length;
};

static bool is_dots(const char *name, size_t length)
{
    return length == 0 || (length == 1 && name[0] == '.');
}

static struct walk walk_begin(const char *path)
{
    bool more = true;
    while (more) {
        size_t dots = strspn(path, ".");
        more = (dots == 1 || dots == 2) && path[dots] == '/';
        path += more ? dots + 1 : 0;
        path += more ? strspn(path, "/") : 0;
    }
    return (struct walk){.start = path, .end = path + strlen(path)};
}

/* False at the beginning of the path. */
static bool walk_next(struct walk *walk)
{
    do {
        const char *end = walk->end;
        while (end > walk->start && end[-1] == '/') {
            end--;
        }
        if (end == walk->start) {
            walk->end = end;
            return false;
        }
        walk->name = end;
        while (walk->name > walk->start && walk->name[-1] != '/') {
            walk->name--;
        }
        walk->length = (size_t)(end - walk->name);
        walk->end = walk->name;
    } while (is_dots(walk->name, walk->length));
    return true;
}

/* Names in common at the end; *one_ended: all names of one of the two are among them. */
static int compare_tails(const char *a, const char *b, bool *one_ended)
{
    struct walk x = walk_begin(a), y = walk_begin(b);
    for (int common = 0;; common++) {
        bool more_x = walk_next(&x), more_y = walk_next(&y);
        *one_ended = !more_x || !more_y;
        if (*one_ended || x.length != y.length || memcmp(x.name, y.name, x.length) != 0) {
            return common;
        }
    }
}

int path_common_tail(const char *a, const char *b)
{
    bool one_ended;
    return compare_tails(a, b, &one_ended);
}

bool path_may_be_same(const char *a, const char *b)
{
    bool one_ended;
    if (a[0] == '/' && b[0] == '/') {
        return strcmp(a, b) == 0;
    }
    return compare_tails(a, b, &one_ended) > 0 && one_ended;
}

char *path_join(const char *folder, const char *name)
{
    size_t length = strlen(folder), size = length + strlen(name) + 2;
    char *path = malloc(size);
    if (path) {
        const char *slash = length && folder[length - 1] == '/' ? "" : "/";
        snprintf(path, size, "%s%s%s", folder, slash, name);
    }
    return path;
}
