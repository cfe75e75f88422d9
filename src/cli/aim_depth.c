#include "cli/aim_depth.h"

#include "base/text.h"
#include "plan/signal_words.h"

#include <math.h>

static const double usual_snr = 1;

bool aim_depth_wanted(const struct aim_settings *settings)
{
    return settings->stack > 0 || settings->snr > 0;
}

static bool is_starry(enum object_type type)
{
    return type <= OBJECT_OPEN_CLUSTER || type == OBJECT_GALAXY_CLUSTER;
}

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
    if (!(health->exposure_s > 0)) {
        return "the file does not tell the exposure";
    }
    if (!health->black_known) {
        return "the file does not tell its level without light: take it from a dark frame and give "
               "--black";
    }
    if (!(health->sky_level >= 0)) {
        return "the sky is below the level without light: is --black right?";
    }
    return isfinite(health->zero_mag) ? NULL : "too few stars of known brightness in this frame";
}

/* A pixel of the plane is the mean of bin x bin, and so has the less noise. */
static double pixel_noise(const struct solved_frame *solved)
{
    return solved->health.look.noise * solved->frame.luminance.bin;
}

void aim_depth_find(struct aim_answer *answer, const struct solved_frame *solved,
                    const struct aim_context *context)
{
    const struct frame_health *health = &solved->health;
    const struct rig_body *body = hints_body(&context->solver.rig, &solved->frame.facts);
    const struct object *object = context->target.object;
    struct signal_outlook *outlook = &answer->depth;
    bool is_patch = object && signal_surface(&outlook->surface_mag, &outlook->sigma_mag, object);
    answer->read_noise_told = body && body->read_noise > 0;
    answer->limit_mag = health->limit_mag;
    answer->depth_unknown = find_obstacle(health, object, is_patch);
    if (answer->depth_unknown) {
        return;
    }
    const struct signal_test test = {.noise = pixel_noise(solved),
                                     .sky = health->sky_level,
                                     .zero_mag = health->zero_mag,
                                     .scale_arcsec = wcs_scale_arcsec(&solved->solution.wcs),
                                     .exposure_s = health->exposure_s,
                                     .read_noise = answer->read_noise_told ? body->read_noise
                                                                           : SIGNAL_READ_NOISE};
    answer->electrons = signal_from_test(&outlook->frame, &test);
    answer->has_depth = answer->electrons > 0;
    if (!answer->has_depth) {
        answer->depth_unknown = "its pixels have no noise";
        return;
    }
    outlook->sigma_mag = hypot(outlook->sigma_mag, health->zero_error);
    outlook->wanted = context->settings->snr > 0 ? context->settings->snr : usual_snr;
    signal_foresee(outlook);
}

static void write_line(FILE *out, const char *text, bool first)
{
    if (text[0]) {
        fprintf(out, "  %-8s %s\n", first ? "depth" : "", text);
    }
}

static void write_now(char *text, size_t size, const struct aim_answer *answer, int frames)
{
    const struct signal *signal = &answer->depth.signal;
    double all = signal_stack(signal, fmax(frames, 1));
    char once[16], stack[16], patch[16], in[48] = "";
    signal_write_ratio(once, sizeof once, signal->once);
    signal_write_ratio(stack, sizeof stack, all);
    signal_write_ratio(patch, sizeof patch, 10 * all);
    if (frames > 1) {
        snprintf(in, sizeof in, ", %s in a stack of %d", stack, frames);
    }
    snprintf(text, size, "S/N %s a pixel in one such frame%s, %s in patches of 10 x 10 px", once,
             in, patch);
}

static void write_basis(FILE *out, const struct aim_answer *answer)
{
    const struct signal_frame *frame = &answer->depth.frame;
    char text[200];
    signal_write_noise(text, sizeof text, &answer->depth);
    fprintf(out,
            "           %s (measured: a sky of %.1f mag a square arcsecond; %s: %.2g electrons "
            "of reading)\n",
            text, frame->sky_mag, answer->read_noise_told ? "from the settings file" : "assumed",
            frame->read_noise);
}

static void write_stars(FILE *out, const struct aim_answer *answer, int frames)
{
    char text[120];
    double gain_mag = 1.25 * log10(fmax(frames, 1)); /* noise falls as the root of their number */
    if (!isfinite(answer->limit_mag)) {
        return;
    }
    snprintf(text, sizeof text, "stars show to magnitude %.1f", answer->limit_mag);
    if (frames > 1) {
        text_append(text, sizeof text, ", in %d frames to about %.1f", frames,
                    answer->limit_mag + gain_mag);
    }
    write_line(out, text, false);
}

void aim_depth_report(FILE *out, const struct aim_answer *answer,
                      const struct aim_settings *settings, bool brief)
{
    char text[240];
    if (!answer->has_depth) {
        write_line(out, answer->depth_unknown, true);
    } else {
        write_now(text, sizeof text, answer, settings->stack);
        write_line(out, text, true);
    }
    if (answer->has_depth && !brief) {
        signal_write_wanted(text, sizeof text, &answer->depth);
        write_line(out, text, false);
        write_basis(out, answer);
        signal_write_instead(text, sizeof text, &answer->depth);
        write_line(out, text, false);
    }
    if (!brief) {
        write_stars(out, answer, settings->stack);
    }
}

void aim_depth_write_json(struct json *json, const struct aim_answer *answer,
                          const struct aim_settings *settings)
{
    json_open(json, "depth", '{');
    json_bool(json, "known", answer->has_depth);
    if (!answer->has_depth) {
        json_string(json, "why", answer->depth_unknown);
    } else {
        signal_write_json(json, &answer->depth);
        json_bool(json, "read_noise_told", answer->read_noise_told);
        json_number(json, "electrons_a_value", answer->electrons, 4);
    }
    if (settings->stack > 0) {
        json_integer(json, "stack", settings->stack);
    }
    if (settings->stack > 0 && answer->has_depth) {
        json_number(json, "snr_stack", signal_stack(&answer->depth.signal, settings->stack), 4);
    }
    json_number(json, "limit_mag", answer->limit_mag, 2);
    json_close(json, '}');
}
