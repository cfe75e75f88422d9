#include "cli/claims.h"

#include "cli/index_place.h"
#include "night/file_kind.h"

enum { PATH_SIZE = 4096 };

int claims_add_usual(struct outputs *outputs, const char *index, const char *catalogs,
                     const struct rig_settings *rig, struct error *err)
{
    char place[PATH_SIZE];
    int code = 0;
    if (index_place(place, sizeof place, index, NULL) == 0) {
        code = outputs_add_input(outputs, place, "the index of stars", err);
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
