/* demo/render.h: photographs of the starfield, pixel by pixel, and the truth about them. */
#ifndef ALIDADE_DEMO_RENDER_H
#define ALIDADE_DEMO_RENDER_H

#include "base/error.h"
#include "demo/camera.h"
#include "demo/lens.h"
#include "demo/nebulae.h"
#include "demo/render_light.h"
#include "demo/render_sensor.h"
#include "demo/render_shake.h"
#include "demo/render_traffic.h"
#include "demo/starfield.h"
#include "image/frame.h"
#include "sky/horizon.h"
#include "sky/skyline.h"
#include "sky/time.h"
#include "sky/wcs.h"

#include <stdbool.h>
#include <stdint.h>

/* Starts from render_options_typical. */
struct render_options {
    struct camera camera;
    struct lens lens; /* scale_arcsec 0: from the camera; width and height must be set */
    double ra_deg, dec_deg, up_angle_deg; /* of the picture's middle, in mid-exposure; ICRS */
    double pole[3];        /* that the sky turns about while exposing, ICRS; zeros: the ICRS pole */
    bool tracked;          /* round stars */
    double corner_blur;    /* stars in the corner are wider by this share */
    double tilt_blur;      /* those at the right edge by this one: the sensor leans out of focus */
    double colour_term;    /* the camera sees V - term * ((B-V) - 0.6) ... */
    double colour_scatter; /* ... and each star differs by this deviation, always the same way */
    struct render_light light;
    struct render_sensor sensor;
    struct render_shake shake;
    struct render_traffic traffic;
    const struct skyline *skyline; /* of the place, hiding what is behind it; NULL: none */
    struct horizon horizon;        /* for it, in mid-exposure; set by render_point_tripod */
    struct lens_air air;           /* of mid-exposure, */
    bool refracts;                 /* if it is to lift the stars; the true WCS leaves it out */
    uint64_t seed;                 /* of photon and reading noise: another one for each frame */
    struct time_stamp start;       /* in UTC, for file headers */
};

/* camera_typical on a sensor of 6000 x 4000, a slight barrel distortion, vignetting, hot pixels and
 * a Moon to one side. */
struct render_options render_options_typical(void);

/* Points a camera on a fixed tripod: the middle of the picture at this azimuth and altitude at
 * mid-exposure, picture-up turned clockwise (as the photographer sees it) by roll_deg from the
 * zenith. Sets ra_deg, dec_deg, up_angle_deg, pole, horizon, start and the air, which lifts stars
 * only if refracts is set. False if the time is refused. */
bool render_point_tripod(struct render_options *options, const struct place *place,
                         struct utc start, double azimuth_deg, double altitude_deg,
                         double roll_deg);

/* One true star in the picture. */
struct render_star {
    double x, y;      /* mid-exposure, px */
    double mag;       /* as this camera sees it, before clouds */
    double electrons; /* that reached the sensor in one exposure */
    uint32_t hip;     /* 0: made up */
};

/* Starts as all zeros; free with rendering_free. */
struct rendering {
    int width, height;
    float *adu;               /* row-major, y down, 0..SENSOR_WHITE; whole numbers unless stacked */
    struct wcs truth;         /* mid-exposure */
    struct render_star *star; /* down to half the noise, brightest first */
    int stars;
    double limit_mag;              /* that this camera reaches with a signal of 8 times the noise */
    struct render_options options; /* that it was made with, scale_arcsec filled in */
};

/* nebulae may be NULL. ERROR_USAGE for options that make no picture, ERROR_MEMORY. */
int render(struct rendering *rendering, const struct starfield *field,
           const struct nebulae *nebulae, const struct render_options *options, struct error *err);
void rendering_free(struct rendering *rendering);

/* The same as if it had been read from a 16-bit FITS file, without EXIF facts except focal length,
 * pixel size, exposure and time. ERROR_MEMORY. */
int rendering_to_frame(struct frame *frame, const struct rendering *rendering, struct error *err);

/* As a camera or a stacking program would show it, one byte a pixel: gamma 2.2 for one exposure, an
 * inverse hyperbolic sine that lifts the background to a tenth for a stack. out has width * height
 * bytes. */
void rendering_to_bytes(unsigned char *out, const struct rendering *rendering);

#endif
