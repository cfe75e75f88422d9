#include "cli/open_engine.h"

#include "cli/index_place.h"

#include <stdio.h>
#include <string.h>

static int add_bodies(struct job_engine *engine, const char *catalogs, struct error *err)
{
    char place[4096];
    struct error reason = {0};
    if (engine->bodies.bodies > 0) {
        return 0;
    }
    int code = catalogs_place(place, sizeof place, catalogs, &reason);
    if (!code) {
        code = job_engine_add_bodies(engine, place, &reason);
    }
    return code && catalogs ? error_set(err, code, "%s", reason.text) : 0;
}

int open_engine_rig(struct job_engine *engine, const struct rig_settings *settings,
                    const char *catalogs, struct error *err)
{
    char name[4096] = "", place[4096];
    struct error ignored = {0}, why = {0};
    int code = rig_open(&engine->rig, settings, err);
    if (code || !(settings->camera || rig_in_use_asks_cameras(&engine->rig))) {
        return code;
    }
    rig_file_name(name, sizeof name, settings->file, &ignored);
    code = catalogs_place(place, sizeof place, catalogs, err);
    if (!code && engine->bodies.bodies == 0) {
        code = job_engine_add_bodies(engine, place, err);
    }
    if (!code) {
        code = rig_in_use_know_cameras(&engine->rig, &engine->bodies, settings->camera, name, &why);
        code = code
                   ? error_set(err, code, "%s%s", code == ERROR_USAGE ? "--camera: " : "", why.text)
                   : 0;
    }
    return code;
}

static int add_index(const char *name, void *context, struct error *err)
{
    return job_engine_add_index(context, name, err);
}

/* Those that the settings file names. */
static int add_rig_indexes(struct job_engine *engine, const char *rig_option, struct error *err)
{
    const struct rig_paths *paths = &engine->rig.file.defaults.index;
    char name[4096] = "", place[4096 + RIG_PATH_SIZE];
    struct error why = {0};
    int code = paths->count ? rig_file_name(name, sizeof name, rig_option, err) : 0;
    const char *slash = strrchr(name, '/');
    int folder = slash ? (int)(slash - name) + 1 : 0;
    for (int i = 0; i < paths->count && !code; i++) {
        const char *path = paths->path[i];
        snprintf(place, sizeof place, "%.*s%s", path[0] == '/' ? 0 : folder, name, path);
        code = job_engine_add_index(engine, place, &why);
        code = code ? error_set(err, code, "%s: [defaults] index: %s", name, why.text) : 0;
    }
    return code;
}

int open_engine_indexes(struct job_engine *engine, const struct solver_settings *settings,
                        struct error *err)
{
    int code = index_places(&settings->index, add_index, engine, err);
    return code || settings->index.count ? code : add_rig_indexes(engine, settings->rig.file, err);
}

int open_engine(struct job_engine *engine, struct solve_wish *wish,
                const struct solver_settings *settings, struct error *err)
{
    wish->hints = settings->hints;
    int code = hint_options_check(&settings->hints, err);
    if (!code) {
        code = open_engine_rig(engine, &settings->rig, settings->catalogs, err);
    }
    code = code ? code : reading_begin(engine, &settings->reading, err);
    code = code ? code : open_engine_indexes(engine, settings, err);
    return code ? code : add_bodies(engine, settings->catalogs, err);
}
