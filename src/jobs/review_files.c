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

static int skip_folder(struct review_files *files, const struct error *why)
{
    if (!files->skipped++) {
        files->first_skipped = *why;
    }
    return 0;
}

static int add_below(struct review_files *files, const char *path, int depth, struct error *err)
{
    struct error why = {0};
    int code;
    if (depth > REVIEW_FILES_DEEPEST) {
        code = error_set(&why, ERROR_INPUT, "%s: lies more than %d folders deep", path,
                         REVIEW_FILES_DEEPEST);
    } else {
        code = add_folder(files, path, depth, &why);
    }
    return code == ERROR_INPUT ? skip_folder(files, &why)
           : code              ? error_set(err, code, "%s", why.text)
                               : 0;
}

static int add_entry(struct review_files *files, const char *folder, const char *name, int depth,
                     struct error *err)
{
    struct stat info;
    if (name[0] == '.') {
        return 0;
    }
    char *path = path_join(folder, name);
    if (!path) {
        return error_memory(err);
    }
    bool seen = lstat(path, &info) == 0, folder_below = seen && S_ISDIR(info.st_mode);
    /* What cannot be looked at is told of when it cannot be read; what has vanished never was. */
    if ((seen || errno != ENOENT) && !folder_below && frame_name_is_frame(name)) {
        return add_name(files, path, err);
    }
    int code = folder_below ? add_below(files, path, depth + 1, err) : 0;
    free(path);
    return code;
}

/* What was found before the listing broke off stays. */
static int add_folder(struct review_files *files, const char *path, int depth, struct error *err)
{
    DIR *folder = opendir(path);
    if (!folder) {
        return error_set(err, ERROR_INPUT, "%s: cannot be listed: %s", path, strerror(errno));
    }
    int code = 0;
    struct dirent *entry;
    while (!code && (errno = 0, entry = readdir(folder)) != NULL) {
        code = add_entry(files, path, entry->d_name, depth, err);
    }
    if (!code && errno) {
        code = error_set(err, ERROR_INPUT, "%s: cannot be listed to its end: %s", path,
                         strerror(errno));
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
