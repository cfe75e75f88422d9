/* demo/render_write.h: renderings as the files that cameras and stacking programs write. */
#ifndef ALIDADE_DEMO_RENDER_WRITE_H
#define ALIDADE_DEMO_RENDER_WRITE_H

#include "base/error.h"
#include "demo/render.h"

/* Zeros are fine. */
struct render_header {
    bool bare;              /* nothing about how it was taken */
    double stated_focal_mm; /* what the lens claims; 0: the true one, rounded to whole mm */
    int zone_minutes;     /* the camera's clock is set to a zone ahead of UTC that EXIF hides ... */
    double clock_error_s; /* ... and is fast by this */
    bool zone_stated;     /* in DNG, EXIF tells the zone after all */
    bool place_stated;    /* in DNG, GPS tells the place */
    double latitude_deg, longitude_deg;
};

/* Each: to a temporary file, then renamed. ERROR_OUTPUT, ERROR_MEMORY. */

/* 16 bits: ADU times 4, rows from the bottom as FITS has them, times in UTC. */
int render_write_fits(const struct rendering *rendering, const char *name,
                      const struct render_header *header, struct error *err);

/* Grey, 16 bits (ADU times 4) or 8 bits (rendering_to_bytes); no facts. */
int render_write_png(const struct rendering *rendering, const char *name, int bits,
                     struct error *err);

/* Grey, 8 bits, with EXIF. quality 1..100. */
int render_write_jpeg(const struct rendering *rendering, const char *name, int quality,
                      const struct render_header *header, struct error *err);

/* The same of a picture of it that was worked on: width * height bytes, which stay as they are. */
int render_write_jpeg_bytes(const struct rendering *rendering, unsigned char *bytes,
                            const char *name, int quality, const struct render_header *header,
                            struct error *err);

/* By the ending of the name: .dng, .fits, .fit, .png (16 bits; 8 for a stack), .jpg, .jpeg (quality
 * 95). ERROR_USAGE for another. */
int render_write(const struct rendering *rendering, const char *name,
                 const struct render_header *header, struct error *err);

/* The true stars as a table: hip, x, y, camera_mag, electrons. */
int render_write_truth(const struct rendering *rendering, const char *name, struct error *err);

#endif
