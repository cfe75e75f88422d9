/* jobs/plan_gear.h: the camera that a plan is made for. */
#ifndef ALIDADE_JOBS_PLAN_GEAR_H
#define ALIDADE_JOBS_PLAN_GEAR_H

#include "plan/plan.h"
#include "rig/rig.h"

#include <stddef.h>

/* What is said of it for this plan. 0, and NAN for the distortion: as the settings file has it. */
struct plan_gear {
    double focal_mm, f_number, pixel_um;
    /* Of a range, at its other end: the shortest focal length; the f-number at the longest. */
    double shortest_mm, f_longest;
    double sensor_width_mm, sensor_height_mm; /* width >= height */
    double distortion_percent;                /* of the lens, at the corner, barrel < 0 */
};

/* Reads "250" or "70-300", "4" or "4-5.6". False for anything else. */
bool plan_gear_read_focal(struct plan_gear *gear, const char *text);
bool plan_gear_read_aperture(struct plan_gear *gear, const char *text);

/* "crop sensor, 70-300 mm f/4-5.6", or of a zoom at one focal length, of_zoom false, "crop sensor,
 * 200 mm f/5". */
void plan_gear_write(char *words, size_t size, const struct plan_camera *camera,
                     const struct lens_range *zoom, bool of_zoom, const struct plan_gear *gear,
                     const struct rig *rig);

/* What frames have taught of the lens, which counts unless a distortion is said. */
struct plan_lesson plan_gear_lesson(const struct plan_gear *gear, const struct rig *rig);

/* Puts together what is said, what the settings file has (a zoom at its longest), and what is
 * usual: f/4, and a crop sensor of 22.2 x 14.8 mm with pixels of 3.7 um. words: "crop sensor, 250
 * mm f/4", UTF-8, cut to size. *zoom: of a zoom that no single focal
 * length was said for; all zeros otherwise. ERROR_USAGE where no focal length is known. */
int plan_gear_choose(struct plan_camera *camera, struct lens_range *zoom, char *words, size_t size,
                     const struct plan_gear *gear, const struct rig *rig, struct error *err);

#endif
