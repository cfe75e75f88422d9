#include "base/path.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *path_base(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
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
