/* tests/unit/frames.h: frames of known pointing for the tests of advice and drawing. */
#ifndef ALIDADE_TESTS_FRAMES_H
#define ALIDADE_TESTS_FRAMES_H

#include "base/units.h"
#include "sky/wcs.h"

#include <math.h>

/* A frame without distortion whose tangent point is its middle. up_deg: position angle of up. */
static inline struct wcs frame_at(double ra_deg, double dec_deg, double up_deg, bool mirrored,
                                  int width, int height, double arcsec_px)
{
    struct wcs wcs = {.ra_deg = ra_deg,
                      .dec_deg = dec_deg,
                      .x = (width - 1) / 2.0,
                      .y = (height - 1) / 2.0,
                      .width = width,
                      .height = height};
    double scale = arcsec_px / 3600, hand = mirrored ? -1 : 1;
    double c = cos(up_deg * RAD_PER_DEG), s = sin(up_deg * RAD_PER_DEG);
    wcs.cd[0][0] = -hand * scale * c;
    wcs.cd[1][0] = hand * scale * s;
    wcs.cd[0][1] = -scale * s;
    wcs.cd[1][1] = -scale * c;
    return wcs;
}

/* Radial distortion that moves the corner by this share of its distance. */
static inline void frame_bend(struct wcs *wcs, double share)
{
    double corner = hypot(wcs->width, wcs->height) / 2;
    wcs->order = 3;
    wcs->a[3][0] = wcs->a[1][2] = wcs->b[0][3] = wcs->b[2][1] = share / (corner * corner);
}

#endif
