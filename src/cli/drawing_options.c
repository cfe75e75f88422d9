#include "cli/drawing_options.h"

#include "base/text.h"
#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A positive number of mm of a sensible size. */
static bool read_mm(double *mm, const char *text, size_t length)
{
    char number[32];
    snprintf(number, sizeof number, "%.*s", (int)(length < 31 ? length : 31), text);
    return text_read_double(mm, number) && *mm >= 0.5 && *mm <= 100000;
}

bool drawing_read_lens(void *member, const char *text)
{
    struct lens_and_sensor lens = {0};
    size_t focal = strcspn(text, ",");
    if (!read_mm(&lens.focal_mm, text, focal)) {
        return false;
    }
    if (text[focal] == ',') {
        const char *width = text + focal + 1;
        size_t length = strcspn(width, "x");
        if (width[length] != 'x' || !read_mm(&lens.width_mm, width, length) ||
            !read_mm(&lens.height_mm, width + length + 1, strlen(width + length + 1))) {
            return false;
        }
    }
    *(struct lens_and_sensor *)member = lens;
    return true;
}

int drawing_occasion(struct occasion *occasion, const struct frame_facts *facts,
                     const struct rig_place *place, bool place_chosen,
                     const struct drawing_settings *settings, struct error *err)
{
    occasion_find(occasion, facts, place, place_chosen, &settings->occasion);
    if (settings->occasion.taken && !occasion->has_utc) {
        return error_set(err, ERROR_USAGE,
                         "--time %s: of which zone? end it with Z or +01:00, or give --zone",
                         settings->occasion.taken);
    }
    return 0;
}

void drawing_write_date(char *out, size_t size, const struct occasion *occasion)
{
    char start[40];
    out[0] = '\0';
    if (occasion->has_time) {
        time_write(start, sizeof start, occasion->start, 0);
        snprintf(out, size, "%.10s %.8s%s", start, start + 11,
                 occasion->has_utc ? " UTC" : ", camera's clock");
    }
}

int drawing_layers(layer_set *layers, const struct drawing_settings *settings,
                   double longer_side_deg, struct error *err)
{
    layer_set shown = 0, hidden = 0;
    int code = settings->show ? layers_read(&shown, settings->show, err) : 0;
    if (!code && settings->hide) {
        code = layers_read(&hidden, settings->hide, err);
    }
    if (!code) {
        *layers = (layers_for_field(longer_side_deg) & ~hidden) | shown;
    }
    return code;
}

/* Angle that a length of the sensor covers. */
static double field_deg(double length_mm, double focal_mm)
{
    return 2 * atan(length_mm / 2 / focal_mm) * DEG_PER_RAD;
}

int drawing_other_frame(struct other_frame *other, const struct lens_and_sensor *lens,
                        double own_focal_mm, double own_width_deg, double own_height_deg,
                        struct error *err)
{
    memset(other, 0, sizeof *other);
    if (lens->focal_mm <= 0) {
        return 0;
    }
    double width_mm = lens->width_mm, height_mm = lens->height_mm;
    if (width_mm <= 0 && own_focal_mm <= 0) {
        return error_set(err, ERROR_USAGE,
                         "--frame-of %g: the frame does not say its own focal length; give that "
                         "with --focal, or name the sensor too: --frame-of %g,36x24",
                         lens->focal_mm, lens->focal_mm);
    }
    if (width_mm <= 0) {
        width_mm = 2 * own_focal_mm * tan(own_width_deg / 2 * RAD_PER_DEG);
        height_mm = 2 * own_focal_mm * tan(own_height_deg / 2 * RAD_PER_DEG);
        snprintf(other->name, sizeof other->name, "%g mm", lens->focal_mm);
    } else {
        snprintf(other->name, sizeof other->name, "%g mm on %g × %g mm", lens->focal_mm, width_mm,
                 height_mm);
    }
    other->width_deg = field_deg(width_mm, lens->focal_mm);
    other->height_deg = field_deg(height_mm, lens->focal_mm);
    return 0;
}
