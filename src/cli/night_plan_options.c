#include "cli/night_plan_options.h"

#include "cli/find_target.h"
#include "jobs/target.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* "frames/night-plan.json"; false if it is not there. */
static bool find_beside(char *out, size_t size, const struct night_plan_wish *wish)
{
    const char *slash = strrchr(wish->beside, '/');
    int length = 0;
    struct stat info;
    if (stat(wish->beside, &info) == 0 && S_ISDIR(info.st_mode)) {
        length = snprintf(out, size, "%s/%s", wish->beside, NIGHT_PLAN_NAME);
    } else if (slash) {
        length = snprintf(out, size, "%.*s/%s", (int)(slash - wish->beside), wish->beside,
                          NIGHT_PLAN_NAME);
    } else {
        length = snprintf(out, size, "%s", NIGHT_PLAN_NAME);
    }
    return length > 0 && (size_t)length < size && access(out, F_OK) == 0;
}

/* Whether what --target names is what the plan is about. */
static bool is_about(const struct night_plan *plan, const struct objects *objects,
                     const struct aim_target *target)
{
    struct aim_target planned;
    struct error ignored = {0};
    if (target_from_plan(&planned, objects, plan, true, &ignored)) {
        return false;
    }
    if (planned.moves || target->moves) {
        return planned.moves == target->moves;
    }
    return planned.shape.ra_deg == target->shape.ra_deg &&
           planned.shape.dec_deg == target->shape.dec_deg;
}

/* The plan that was asked for, or that lies beside; *any: there is one. */
static int read_plan(struct night_plan *plan, bool *any, const struct night_plan_wish *wish,
                     struct error *err)
{
    char name[4096];
    bool beside = !wish->option && wish->beside && find_beside(name, sizeof name, wish);
    *any = wish->option || beside;
    return *any ? night_plan_read(plan, wish->option ? wish->option : name, err) : 0;
}

int night_plan_use(struct aim_target *target, const struct night_plan **used,
                   struct night_plan *plan, struct job_engine *engine,
                   const struct night_plan_wish *wish, struct error *err)
{
    bool any;
    const struct objects *objects = &engine->atlas.objects;
    int code = read_plan(plan, &any, wish, err);
    const char *name = wish->target ? wish->target : any ? plan->target : NULL;
    *used = NULL;
    if (code || (!name && wish->may_lack)) {
        return code;
    }
    code = find_target(target, engine, name, wish->catalogs, err);
    if (code || !any) {
        return code;
    }
    if (!wish->target || is_about(plan, objects, target)) {
        *used = plan;
        return target_from_plan(target, objects, plan, false, err);
    }
    return wish->option ? error_set(err, ERROR_USAGE,
                                    "%s is a plan for %s, not %s: leave out --target, or --plan",
                                    wish->option, plan->target, wish->target)
                        : 0;
}
