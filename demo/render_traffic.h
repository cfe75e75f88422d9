/* demo/render_traffic.h: what crosses the picture while it is exposed. */
#ifndef ALIDADE_DEMO_RENDER_TRAFFIC_H
#define ALIDADE_DEMO_RENDER_TRAFFIC_H

#include "demo/render_brush.h"

#include <stdint.h>

/* Zero means none of each. */
struct render_traffic {
    int satellites; /* thin even lines from edge to edge */
    int aeroplanes; /* two lamps side by side, and a third that flashes */
    uint64_t seed;
};

/* noise_e: of a pixel; brightness is set by it. fwhm: of a star, px. */
void traffic_draw(float *plane, int width, int height, const struct brush *brush,
                  const struct render_traffic *traffic, double fwhm, double noise_e);

#endif
