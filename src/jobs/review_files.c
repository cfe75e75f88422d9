#include "jobs/review_files.h"

#include "base/path.h"
#include "base/text.h"
#include "image/frame_name.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { DEEPEST = 8 };

void review_files_free(struct review_files *files)
{
    for (int i = 0; i < files->count; i++) {
        free(files->name[i]);
    }
    free(files->name);
    memset(files, 0, sizeof *files);
}

/* Takes over name, which may be NULL. */
static int add_name(struct review_files *files, char *name, struct error *err)
{
    if (name && files->count == files->capacity) {
        int capacity = 2 * files->capacity + 64;
        char **larger = realloc(files->name, (size_t)capacity * sizeof *larger);
        if (larger) {
            files->name = larger;
            files->capacity = capacity;
        }
    }
    if (!name || files->count == files->capacity) {
        free(name);
        return error_memory(err);
    }
    files->name[files->count++] = name;
    return 0;
}

static int add_folder(struct review_files *files, const char *path, int depth, struct error *err);

static int add_entry(struct review_files *files, const char *folder, const char *name, int depth,
                     struct error *err)
{
    struct stat info;
    char *path = name[0] == '.' ? NULL : path_join(folder, name);
    if (name[0] == '.') {
        return 0;
    }
    if (!path || lstat(path, &info) != 0) {
        bool vanished = path != NULL;
        free(path);
        return vanished ? 0 : error_memory(err);
    }
    if (!S_ISDIR(info.st_mode) && frame_name_is_frame(name)) {
        return add_name(files, path, err);
    }
    int code =
        S_ISDIR(info.st_mode) && depth < DEEPEST ? add_folder(files, path, depth + 1, err) : 0;
    free(path);
    return code;
}

static int add_folder(struct review_files *files, const char *path, int depth, struct error *err)
{
    DIR *folder = opendir(path);
    if (!folder) {
        return error_set(err, ERROR_INPUT, "%s: cannot be listed: %s", path, strerror(errno));
    }
    int code = 0;
    for (struct dirent *entry; !code && (entry = readdir(folder)) != NULL;) {
        code = add_entry(files, path, entry->d_name, depth, err);
    }
    closedir(folder);
    return code;
}

int review_files_add(struct review_files *files, const char *path, struct error *err)
{
    struct stat info;
    if (stat(path, &info) != 0) {
        return error_set(err, ERROR_INPUT, "%s: cannot be opened: %s", path, strerror(errno));
    }
    return S_ISDIR(info.st_mode) ? add_folder(files, path, 0, err)
                                 : add_name(files, text_copy(path), err);
}

static int compare_names(const void *left, const void *right)
{
    return frame_name_compare(*(char *const *)left, *(char *const *)right);
}

/* Twins follow each other, since only their endings differ. */
void review_files_settle(struct review_files *files)
{
    int kept = 0;
    if (files->count) {
        qsort(files->name, (size_t)files->count, sizeof *files->name, compare_names);
    }
    for (int i = 0; i < files->count; i++) {
        char *name = files->name[i], *before = kept ? files->name[kept - 1] : NULL;
        bool same = before && strcmp(before, name) == 0;
        bool twin = before && frame_name_same_stem(before, name) &&
                    frame_name_is_raw(before) != frame_name_is_raw(name);
        if (same || (twin && frame_name_is_raw(before))) {
            free(name);
        } else if (twin) {
            free(before);
            files->name[kept - 1] = name;
        } else {
            files->name[kept++] = name;
        }
    }
    files->count = kept;
}
