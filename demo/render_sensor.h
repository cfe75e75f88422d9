/* demo/render_sensor.h: from light to numbers. */
#ifndef ALIDADE_DEMO_RENDER_SENSOR_H
#define ALIDADE_DEMO_RENDER_SENSOR_H

#include "base/error.h"
#include "demo/camera.h"
#include "demo/render_light.h"

#include <stdbool.h>
#include <stdint.h>

enum { SENSOR_WHITE = 16383 }; /* 14 bits */

struct render_sensor {
    double e_per_adu;
    double black_adu;
    double iso;       /* only for file headers */
    double pattern_e; /* deviation from row to row and from column to column */
    double hot_share; /* of pixels that glow on their own; stacking removes them */
    int dead_columns;
    bool mosaic;       /* colour filters on the pixels */
    double amp_glow_e; /* an amplifier's warmth at the middle of the right edge, electrons */
    uint64_t seed;     /* of this sensor's faults: the same in all its frames */
};

/* Turns light (electrons a pixel in one exposure, without the sky) into ADU, in place: adds the sky
 * and noise, clips, rounds. noise_seed: another for each frame. ERROR_MEMORY. */
int sensor_expose(float *light, const struct render_sensor *sensor, const struct camera *camera,
                  const struct light_map *map, uint64_t noise_seed, struct error *err);

#endif
