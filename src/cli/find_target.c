#include "cli/find_target.h"

#include "base/text.h"
#include "cli/index_place.h"

/* Only a target that is called by its name needs the tables; else they are for the names of stars.
 */
static int load_objects(struct aim_context *context, bool needed, struct error *err)
{
    char place[4096];
    struct error reason = {0};
    int code = catalogs_place(place, sizeof place, context->settings->catalogs, &reason);
    if (!code) {
        code = objects_load(&context->objects, place, &reason);
    }
    needed = needed || context->settings->catalogs;
    return code && needed ? error_set(err, code, "%s", reason.text) : 0;
}

/* A name that is none: err tells already that nothing is called so. */
static int explain_name(const char *name, struct error *err)
{
    double number;
    if (sun_guard_is_sun(name)) {
        return error_set(err, ERROR_USAGE,
                         "the Sun is no target: a lens pointed at it burns eyes, shutters and "
                         "sensors within a second; never do that without a solar filter in front");
    }
    if (text_read_double(&number, name) || text_read_ra(&number, name)) {
        return error_set(err, ERROR_USAGE,
                         "--target %s: a position is RA,DEC in one word, like 83.8,-5.4", name);
    }
    return err->code = err->code == ERROR_NO ? ERROR_USAGE : err->code;
}

int target_find(struct aim_context *context, struct error *err)
{
    const char *name = context->settings->target;
    double ra, dec;
    if (!name) {
        return error_set(err, ERROR_USAGE, "--target is missing: what should be in the middle?");
    }
    bool position = text_read_radec(&ra, &dec, name);
    int code = load_objects(context, !position, err);
    if (code || position) {
        aim_target_radec(&context->target, ra, dec);
        return code;
    }
    const struct object *object = objects_look_up(&context->objects, name, err);
    if (!object || sun_guard_is_sun(name)) {
        return explain_name(name, err);
    }
    aim_target_object(&context->target, object);
    return 0;
}
