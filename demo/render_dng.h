/* demo/render_dng.h: a rendering as a camera's raw file. */
#ifndef ALIDADE_DEMO_RENDER_DNG_H
#define ALIDADE_DEMO_RENDER_DNG_H

#include "demo/render_write.h"

/* DNG 1.4: the sensor's 14-bit numbers in words of 16, uncompressed, with colour filters red, green
 * / green, blue if the rendering has a mosaic, else without colour; EXIF unless the header is bare.
 * To a temporary file, then renamed. ERROR_OUTPUT, ERROR_MEMORY. */
int render_write_dng(const struct rendering *rendering, const char *name,
                     const struct render_header *header, struct error *err);

#endif
