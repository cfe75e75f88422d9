/* jobs/plan_gear.h: the camera that a plan is made for. */
#ifndef ALIDADE_JOBS_PLAN_GEAR_H
#define ALIDADE_JOBS_PLAN_GEAR_H

#include "plan/plan.h"
#include "rig/rig.h"

#include <stddef.h>

/* What is said of it for this plan. 0, and NAN for the distortion: as the settings file has it. */
struct plan_gear {
    double focal_mm, f_number, pixel_um;
    double sensor_width_mm, sensor_height_mm; /* width >= height */
    double distortion_percent;                /* of the lens, at the corner */
};

/* Puts together what is said, what the settings file has (a zoom at its longest), and what is
 * usual: f/4, and a crop sensor of 22.2 x 14.8 mm with pixels of 3.7 um. words: "crop sensor, 250
 * mm f/4", UTF-8, cut to size. ERROR_USAGE where no focal length is known. */
int plan_gear_choose(struct plan_camera *camera, char *words, size_t size,
                     const struct plan_gear *gear, const struct rig *rig, struct error *err);

#endif
