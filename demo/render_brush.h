/* demo/render_brush.h: draws stars and their trails into a plane of light. */
#ifndef ALIDADE_DEMO_RENDER_BRUSH_H
#define ALIDADE_DEMO_RENDER_BRUSH_H

#include "demo/mosaic.h"

enum { BRUSH_STEPS = 32, BRUSH_REACH = 6, BRUSH_TABLE = BRUSH_STEPS * BRUSH_REACH + 2 };

/* Tables of the normal density and its integral, made once. */
struct brush {
    float density[BRUSH_TABLE];      /* exp(-t^2 / 2), t from 0 */
    float integral[2 * BRUSH_TABLE]; /* from minus infinity to t, t from -BRUSH_REACH */
};

void brush_make(struct brush *brush);

struct stroke {
    double x, y;             /* middle, px */
    double trail_x, trail_y; /* from beginning to end */
    double fwhm;             /* of the core across the trail, px */
    double electrons;
    struct mosaic_gain gain;
};

/* A core with wings as lenses have (a sum of Gaussians near to Moffat's profile with beta 3, and a
 * faint halo), drawn as far out as it is above floor, electrons a pixel. */
void brush_draw(float *plane, int width, int height, const struct brush *brush,
                const struct stroke *stroke, double floor);

/* Full width at half the height of what is drawn across a trail for a core of that width, px: wings
 * and the pixels' own width make it wider. */
double brush_drawn_fwhm(double fwhm);

#endif
