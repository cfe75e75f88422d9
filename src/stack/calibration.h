/* stack/calibration.h: the dark and flat frames of a night, as far as a glimpse makes use of them.
 */
#ifndef ALIDADE_STACK_CALIBRATION_H
#define ALIDADE_STACK_CALIBRATION_H

#include "base/error.h"
#include "image/frame.h"

#include <stdbool.h>

/* Running means of planes. Starts as all zeros; free with calibration_free. */
struct calibration {
    int width, height; /* of the planes */
    float *dark;       /* NULL: none yet */
    int darks;
    double dark_exposure_s, dark_iso; /* 0: unknown */
    double dark_level;                /* mean of their medians: what no light gives */
    float *flat;                      /* its median is 1; NULL: none yet */
    int flats;
};

void calibration_free(struct calibration *calibration);

/* Takes in a frame of that kind; *used: whether it goes with those before: darks by exposure, ISO
 * and size, flats by size. A flat's values are to count from black. ERROR_MEMORY. */
int calibration_add_dark(bool *used, struct calibration *calibration, const struct plane *plane,
                         double exposure_s, double iso, struct error *err);
int calibration_add_flat(bool *used, struct calibration *calibration, const struct plane *plane,
                         double black, struct error *err);

/* Takes the dark off a plane and divides it by the flat, as far as these fit it. black_known: its
 * values count from black, or do so once the dark is off; else no flat can be used. *dark, *flat:
 * whether they were. */
void calibration_apply(bool *dark, bool *flat, struct plane *plane,
                       const struct calibration *calibration, double exposure_s, double iso,
                       bool black_known);

#endif
