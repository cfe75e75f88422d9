#include "jobs/aim_depth.h"

#include <math.h>

bool aim_depth_wanted(const struct aim_wish *wish)
{
    return wish->stack > 0 || wish->snr > 0;
}

static bool is_starry(enum object_type type)
{
    return type <= OBJECT_OPEN_CLUSTER || type == OBJECT_GALAXY_CLUSTER;
}

static const char no_black[] = "the file does not state its black level, which a dark frame shows";
static const char wrong_black[] = "the sky is below the black level, which cannot be right";

/* NULL: it can be told. */
static const char *find_obstacle(const struct frame_health *health, const struct object *object,
                                 bool is_patch)
{
    if (!object) {
        return "a bare position has no brightness: name an object";
    }
    if (!is_patch) {
        return object->type == OBJECT_DARK_NEBULA
                   ? "a dark nebula sends no light: ask for the nebula behind it"
               : is_starry(object->type) ? "it is stars rather than a patch of light"
                                         : "its size or brightness is not known";
    }
    if (!health->linear) {
        return "this file's values do not count photons: use the camera's raw file";
    }
    if (health->look.clipped) {
        return "this file is clipped at black: use the camera's raw file";
    }
    if (!(health->exposure_s > 0)) {
        return "the file does not state the exposure";
    }
    if (!health->black_known) {
        return no_black;
    }
    if (!(health->sky_level >= 0)) {
        return wrong_black;
    }
    return isfinite(health->zero_mag) ? NULL : "too few stars of known brightness in this frame";
}

static double read_noise(const struct rig_body *body)
{
    return body && body->read_noise > 0 ? body->read_noise : SIGNAL_READ_NOISE;
}

const char *aim_depth_foresee(struct signal_outlook *outlook, double *electrons,
                              const struct aim_depth_sight *sight)
{
    const struct frame_health *health = sight->health;
    const struct object *object = sight->object;
    bool is_patch = object && signal_surface(&outlook->surface_mag, &outlook->sigma_mag, object);
    const char *obstacle = find_obstacle(health, object, is_patch);
    if (obstacle) {
        return obstacle;
    }
    /* A pixel of the plane is the mean of bin x bin, and so has the less noise. */
    const struct signal_test test = {.noise = health->look.noise *
                                              sight->solved->frame.luminance.bin,
                                     .sky = health->sky_level,
                                     .zero_mag = health->zero_mag,
                                     .scale_arcsec = wcs_scale_arcsec(&sight->solved->solution.wcs),
                                     .exposure_s = health->exposure_s,
                                     .read_noise = read_noise(sight->body)};
    *electrons = signal_from_test(&outlook->frame, &test);
    if (!(*electrons > 0)) {
        return "its pixels have no noise";
    }
    if (isfinite(health->sky_mag)) {
        outlook->frame.sky_mag = health->sky_mag; /* that of the middle, as zero_mag */
    }
    outlook->sigma_mag = hypot(outlook->sigma_mag, health->zero_error);
    signal_foresee(outlook);
    return NULL;
}

void aim_depth_find(struct aim_answer *answer, const struct solved_frame *solved,
                    const struct aim_context *context)
{
    const struct rig_body *body = rig_in_use_body(&context->engine->rig, &solved->frame.facts);
    const struct aim_depth_sight sight = {solved, &solved->health, body, context->target.object};
    answer->read_noise_told = body && body->read_noise > 0;
    answer->limit_mag = solved->health.limit_mag;
    answer->depth.wanted = context->wish->snr > 0 ? context->wish->snr : AIM_DEPTH_USUAL_SNR;
    answer->depth_unknown = aim_depth_foresee(&answer->depth, &answer->electrons, &sight);
    answer->has_depth = !answer->depth_unknown;
    answer->black_doubted =
        answer->depth_unknown == no_black || answer->depth_unknown == wrong_black;
}
