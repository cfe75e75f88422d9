#include "image/colour_profile.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Places and lengths in the header of a profile. */
enum { HEADER = 128, SPACE = 16, SIGNATURE = 36, MOST = 4 << 20 };

bool colour_profile_is_rgb(const unsigned char *bytes, size_t size)
{
    if (size < HEADER || size > MOST) {
        return false;
    }
    uint32_t stated =
        (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
    return stated == size && memcmp(bytes + SPACE, "RGB ", 4) == 0 &&
           memcmp(bytes + SIGNATURE, "acsp", 4) == 0;
}

void colour_profile_keep(struct picture *picture, const unsigned char *bytes, size_t size)
{
    if (!bytes || !colour_profile_is_rgb(bytes, size)) {
        return;
    }
    unsigned char *copy = malloc(size);
    if (copy) {
        memcpy(copy, bytes, size);
        free(picture->profile);
        picture->profile = copy;
        picture->profile_size = size;
    }
}
