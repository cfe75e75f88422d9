#include "jobs/target.h"

#include "base/text.h"
#include "objects/milky_way.h"
#include "objects/wanderer.h"

#include <stdio.h>

/* A name that is none: why tells already that nothing is called so. */
static int explain_name(const char *name, const struct error *why, struct error *err)
{
    double number;
    if (wanderer_is_sun(name)) {
        return error_set(err, ERROR_USAGE,
                         "the Sun is no target: a lens pointed at it burns eyes, shutters and "
                         "sensors within a second; never do that without a solar filter in front");
    }
    if (text_read_double(&number, name) || text_read_ra(&number, name)) {
        return error_set(err, ERROR_USAGE, "%s: a position is RA,DEC in one word, like 83.8,-5.4",
                         name);
    }
    return error_set(err, why->code, "%s", why->text);
}

bool target_is_position(const char *name)
{
    double ra, dec;
    return text_read_radec(&ra, &dec, name);
}

int target_find(struct aim_target *target, const struct objects *objects, const char *name,
                struct error *err)
{
    struct error why = {0};
    double ra, dec;
    if (text_read_radec(&ra, &dec, name)) {
        aim_target_radec(target, ra, dec);
        return 0;
    }
    if (wanderer_find(name)) {
        aim_target_wanderer(target, wanderer_find(name));
        return 0;
    }
    struct object part;
    if (milky_way_find(&part, name)) {
        aim_target_object(target, &part);
        target->object = NULL; /* it is of no table */
        return 0;
    }
    const struct object *object = objects_look_up(objects, name, &why);
    if (!object || wanderer_is_sun(name)) {
        return explain_name(name, &why, err);
    }
    aim_target_object(target, object);
    return 0;
}

bool target_at(struct aim_target *target, const struct occasion *occasion)
{
    return target->moves == WANDERER_NONE ||
           (occasion->has_utc &&
            aim_target_follow(target, occasion->has_place ? &occasion->place : NULL,
                              occasion->mid));
}

int target_from_plan(struct aim_target *target, const struct objects *objects,
                     const struct night_plan *plan, bool alone, struct error *err)
{
    int code = target_find(target, objects, plan->target, err);
    if (!code && plan->with[0] && !alone) {
        *target = (struct aim_target){.shape = plan->middle};
        snprintf(target->name, sizeof target->name, "%.30s with %.40s", plan->target, plan->with);
    }
    return code;
}
