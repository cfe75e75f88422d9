#include "jobs/plan_gear.h"

#include <math.h>
#include <stdio.h>

static double first_known(double a, double b, double c)
{
    return a > 0 ? a : b > 0 ? b : c;
}

static double choose_distortion(const struct plan_gear *gear, const struct rig *rig)
{
    double percent = isfinite(gear->distortion_percent) ? gear->distortion_percent
                     : rig->lens                        ? rig->lens->distortion_percent
                                                        : 0;
    return isfinite(percent) ? percent / 100 : 0;
}

static void write_words(char *words, size_t size, const struct plan_camera *camera,
                        const struct plan_gear *gear, const struct rig_body *body)
{
    char sensor[80];
    if (gear->sensor_width_mm > 0) {
        snprintf(sensor, sizeof sensor, "%g x %g mm", camera->width_mm, camera->height_mm);
    } else {
        snprintf(sensor, sizeof sensor, "%s", body ? body->entry.name : "crop sensor");
    }
    bool guessed = body && !(body->pixel_um > 0) && !(gear->pixel_um > 0);
    snprintf(words, size, "%s%s, %g mm f/%g", sensor,
             guessed ? " with pixels taken for 3.7 um" : "", camera->focal_mm, camera->f_number);
}

int plan_gear_choose(struct plan_camera *camera, char *words, size_t size,
                     const struct plan_gear *gear, const struct rig *rig, struct error *err)
{
    const struct rig_body *body = rig->body;
    if (!rig->lens && gear->focal_mm <= 0) {
        return error_remedied(err, error_set(err, ERROR_USAGE, "a plan needs a lens"), REMEDY_LENS);
    }
    *camera = (struct plan_camera){
        .focal_mm = first_known(gear->focal_mm, rig->lens ? rig->lens->longest_mm : 0, 0),
        .f_number = first_known(gear->f_number, rig->lens ? rig->lens->f_number : 0, 4),
        .pixel_um = first_known(gear->pixel_um, body ? body->pixel_um : 0, 3.7),
        .width_mm = first_known(gear->sensor_width_mm, body ? body->sensor_width : 0, 22.2),
        .height_mm = first_known(gear->sensor_height_mm, body ? body->sensor_height : 0, 14.8),
        .read_noise = first_known(0, body ? body->read_noise : 0, SIGNAL_READ_NOISE),
        .efficiency = first_known(0, body ? body->efficiency : 0, SIGNAL_EFFICIENCY),
        .distortion = choose_distortion(gear, rig),
    };
    write_words(words, size, camera, gear, body);
    return 0;
}
