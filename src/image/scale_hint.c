#include "image/scale_hint.h"

#include <math.h>
#include <stdio.h>

double scale_since_taken(const struct frame_facts *facts, int width, int height)
{
    if (facts->sensor_width == 0) {
        return 1;
    }
    double then_long = fmax(facts->sensor_width, facts->sensor_height);
    double then_short = fmin(facts->sensor_width, facts->sensor_height);
    double now_long = width > height ? width : height;
    double now_short = width > height ? height : width;
    double by_long = now_long / then_long, by_short = now_short / then_short;
    if (fabs(by_long - 1) < 0.015 && fabs(by_short - 1) < 0.015) {
        return 1;
    }
    return fabs(by_long / by_short - 1) < 0.01 ? by_long : NAN;
}

/* How far a focal length may be off: a user measured it, a header repeats what someone entered, a
 * camera rounds the zoom's position (common practice, no source). */
static double focal_tolerance(enum fact_origin origin)
{
    return origin == FACT_USER ? 0.03 : origin == FACT_EXIF ? 0.1 : 0.05;
}

/* Tags and headers tell the pitch to a per cent or so; what is derived from an equivalent focal
 * length carries that one's rounding to whole millimetres and a maker's idea of full format. Crop
 * factors are rounded, by 1 % or so, and a picture of 3:2 may be cut from a sensor of 4:3, which
 * makes 4 %. */
static double pixel_tolerance(const struct frame_facts *facts)
{
    if (facts->pixel_um.origin == FACT_BODY) {
        return 0.04;
    }
    bool derived = facts->pixel_um.origin == FACT_DERIVED && facts->focal_35mm.value > 0;
    return derived ? 0.03 + 0.5 / facts->focal_35mm.value : 0.01;
}

/* Whether the sides are as 3:2, 4:3 or 16:9. */
static bool has_camera_shape(double longer, double shorter)
{
    static const double shapes[] = {3.0 / 2, 4.0 / 3, 16.0 / 9};
    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++) {
        if (fabs(longer / shorter / shapes[i] - 1) < 0.015) {
            return true;
        }
    }
    return false;
}

static bool find_from_equivalent(struct scale_hint *hint, const struct frame_facts *facts,
                                 double width, double height)
{
    double longer = fmax(width, height), shorter = fmin(width, height);
    int taken =
        facts->sensor_width > facts->sensor_height ? facts->sensor_width : facts->sensor_height;
    if (facts->focal_35mm.origin == FACT_UNKNOWN || longer < taken ||
        !has_camera_shape(longer, shorter)) {
        return false;
    }
    double pitch_mm = hypot(36, 24) / hypot(longer, shorter);
    hint->arcsec_px = 206264.806 * pitch_mm / facts->focal_35mm.value;
    hint->tolerance = focal_tolerance(facts->focal_35mm.origin) + 0.5 / facts->focal_35mm.value;
    hint->focal = facts->focal_35mm;
    return true;
}

bool scale_hint_find(struct scale_hint *hint, const struct frame_facts *facts, int width,
                     int height)
{
    *hint = (struct scale_hint){0};
    if (facts->focal_mm.origin == FACT_UNKNOWN || facts->pixel_um.origin == FACT_UNKNOWN) {
        return find_from_equivalent(hint, facts, width, height);
    }
    hint->arcsec_px = 206.264806 * facts->pixel_um.value / facts->focal_mm.value;
    hint->tolerance = hypot(focal_tolerance(facts->focal_mm.origin), pixel_tolerance(facts));
    hint->focal = facts->focal_mm;
    hint->pixel = facts->pixel_um;
    return true;
}

static const char *source_of(const struct fact *fact)
{
    return fact->source ? fact->source : "as given";
}

void scale_hint_write(char *out, size_t size, const struct scale_hint *hint)
{
    if (hint->pixel.origin == FACT_UNKNOWN) {
        snprintf(out, size, "35 mm equivalent of the focal length %.4g mm (%s)", hint->focal.value,
                 source_of(&hint->focal));
        return;
    }
    snprintf(out, size, "focal length %.4g mm (%s), pixel %.3g um (%s)", hint->focal.value,
             source_of(&hint->focal), hint->pixel.value, source_of(&hint->pixel));
}
