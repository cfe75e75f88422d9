#include "cli/open_engine.h"

#include "cli/index_place.h"

static int add_bodies(struct job_engine *engine, const char *catalogs, struct error *err)
{
    char place[4096];
    struct error reason = {0};
    int code = catalogs_place(place, sizeof place, catalogs, &reason);
    if (!code) {
        code = job_engine_add_bodies(engine, place, &reason);
    }
    return code && catalogs ? error_set(err, code, "%s", reason.text) : 0;
}

int open_engine(struct job_engine *engine, struct solve_wish *wish,
                const struct solver_settings *settings, struct error *err)
{
    char place[4096];
    wish->hints = settings->hints;
    int code = hint_options_check(&settings->hints, err);
    if (!code) {
        code = rig_open(&engine->rig, &settings->rig, err);
    }
    if (!code) {
        code = index_place(place, sizeof place, settings->index, err);
    }
    if (!code) {
        code = job_engine_add_index(engine, place, err);
    }
    return code ? code : add_bodies(engine, settings->catalogs, err);
}
