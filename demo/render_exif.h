/* demo/render_exif.h: the EXIF block of a made-up camera (EXIF 2.32, CIPA DC-008). */
#ifndef ALIDADE_DEMO_RENDER_EXIF_H
#define ALIDADE_DEMO_RENDER_EXIF_H

#include "demo/render_write.h"

/* A block that begins with "Exif\0\0", to go into APP1; NULL if memory is short. The caller frees
 * it with free(). */
unsigned char *render_exif(unsigned *size, const struct rendering *rendering,
                           const struct render_header *header);

#endif
