#include "jobs/rig_keep.h"

#include "base/file.h"
#include "rig/rig_in_use.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* The text of the settings file with the lessons in it; of these alone if there is none yet. */
static int edit(char **text, size_t *length, const char *file, const struct rig_lesson *lesson,
                int lessons, struct error *err)
{
    struct file_map map = {0};
    bool there = access(file, F_OK) == 0 && !rig_in_use_is_empty(file);
    int code = there ? file_map_open(&map, file, err) : 0;
    for (int i = 0; !code && i < lessons; i++) {
        char *before = *text, *after = NULL;
        const char *from = before ? before : there ? (const char *)map.bytes : "";
        code = rig_edit(&after, length, from, before ? *length : map.size, lesson[i].section,
                        lesson[i].values, lesson[i].count, err);
        *text = after;
        free(before);
    }
    file_map_close(&map);
    return code;
}

/* The folders on the way to a file. If one cannot be made, opening the file says so. */
static void make_folders(const char *file)
{
    char folder[4096];
    for (const char *slash = strchr(file + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        snprintf(folder, sizeof folder, "%.*s", (int)(slash - file), file);
        mkdir(folder, 0777);
    }
}

int rig_keep_all(const char *file, const struct rig_lesson *lesson, int lessons, struct error *err)
{
    struct file_out out = {0};
    char *text = NULL;
    size_t length = 0;
    int code = edit(&text, &length, file, lesson, lessons, err);
    if (!code) {
        make_folders(file);
        code = file_out_open(&out, file, err);
    }
    if (!code) {
        fwrite(text, 1, length, out.stream);
        code = file_out_commit(&out, err);
    }
    free(text);
    return code;
}

int rig_keep(const char *file, const char *section, const struct rig_value *values, int count,
             struct error *err)
{
    return rig_keep_all(file, &(struct rig_lesson){section, values, count}, 1, err);
}
