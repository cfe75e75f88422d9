#include "cli/claims.h"

#include "cli/index_place.h"
#include "night/file_kind.h"

#include <string.h>
#include <sys/stat.h>

enum { PATH_SIZE = 4096 };

static bool is_index(const char *name)
{
    static const char ending[] = ".alidx";
    size_t length = strlen(name);
    return length >= sizeof ending && strcmp(name + length - (sizeof ending - 1), ending) == 0;
}

static int claim_index(const char *name, void *context, struct error *err)
{
    struct stat info;
    return stat(name, &info) == 0 && S_ISDIR(info.st_mode)
               ? outputs_add_folder(context, name, "the index of stars", is_index, err)
               : outputs_add_input(context, name, "the index of stars", err);
}

int claims_add_usual(struct outputs *outputs, const struct index_names *index, const char *catalogs,
                     const struct rig_settings *rig, struct error *err)
{
    char place[PATH_SIZE];
    int code = 0;
    static const struct index_names usual = {.count = 0};
    struct error why = {0};
    if (index_places(index ? index : &usual, claim_index, outputs, &why) == ERROR_MEMORY) {
        code = error_memory(err);
    }
    if (!code && catalogs_place(place, sizeof place, catalogs, NULL) == 0) {
        code = outputs_add_folder(outputs, place, "a table of objects", NULL, err);
    }
    if (!code && rig && rig_file_name(place, sizeof place, rig->file, NULL) == 0) {
        code = outputs_add_input(outputs, place, "the settings file", err);
    }
    return code;
}

int claims_add_frames(struct outputs *outputs, int frames, char **frame, struct error *err)
{
    int code = 0;
    for (int i = 0; !code && i < frames; i++) {
        code =
            outputs_add_input(outputs, frame[i], frames == 1 ? "the frame itself" : "a frame", err);
    }
    return code;
}

int claims_settle(struct outputs *outputs, int code, struct error *err)
{
    code = code ? code : outputs_check(outputs, file_kind_look, err);
    outputs_free(outputs);
    return code;
}
