#include "rig/rig.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* Whether one text is part of the other, letter case aside. */
static bool is_part(const char *part, const char *whole)
{
    size_t length = strlen(part);
    for (; length && strlen(whole) >= length; whole++) {
        if (strncasecmp(part, whole, length) == 0) {
            return true;
        }
    }
    return false;
}

const struct rig_body *rig_body_of_model(const struct rig_file *file, const char *model)
{
    for (int i = 0; i < file->bodies; i++) {
        if (is_part(file->body[i].model, model)) {
            return &file->body[i];
        }
    }
    return NULL;
}

const struct rig_lens *rig_lens_of_model(const struct rig_file *file, const char *model)
{
    for (int i = 0; i < file->lenses; i++) {
        if (is_part(file->lens[i].model, model)) {
            return &file->lens[i];
        }
    }
    return NULL;
}

bool rig_pixel_of_frame(double *pixel_um, bool *resized, const struct rig_body *body, double width,
                        double height)
{
    const double rim = 0.02, shape = 0.005;
    double longer = fmax(width, height), shorter = fmin(width, height);
    double across = body->width_px / longer, along = body->height_px / shorter;
    if (isnan(body->width_px)) { /* only the sensor is known: taken for a whole frame */
        *pixel_um = body->sensor_width * 1000 / longer;
        *resized = false;
        return fabs(body->sensor_width * shorter / (body->sensor_height * longer) - 1) < rim;
    }
    if (fabs(across - 1) < rim && fabs(along - 1) < rim) {
        *pixel_um = body->pixel_um;
        *resized = false;
        return true;
    }
    if (fabs(across / along - 1) < shape && across > 1) {
        *pixel_um = body->pixel_um * across;
        *resized = true;
        return true;
    }
    return false;
}
