#include "cli/find_target.h"

#include "cli/index_place.h"
#include "jobs/target.h"

/* Only a target that is called by its name needs the tables; else they are for the names of stars.
 */
static int load_objects(struct job_engine *engine, const char *catalogs, bool needed,
                        struct error *err)
{
    char place[4096];
    struct error reason = {0};
    if (engine->has_objects) {
        return 0;
    }
    int code = catalogs_place(place, sizeof place, catalogs, &reason);
    if (!code) {
        code = job_engine_add_objects(engine, place, &reason);
    }
    return code && (needed || catalogs) ? error_set(err, code, "%s", reason.text) : 0;
}

int find_target(struct aim_target *target, struct job_engine *engine, const char *name,
                const char *catalogs, struct error *err)
{
    if (!name) {
        return error_set(err, ERROR_USAGE, "--target is missing: what should be in the middle?");
    }
    int code = load_objects(engine, catalogs, !target_is_position(name), err);
    return code ? code : target_find(target, &engine->atlas.objects, name, err);
}
