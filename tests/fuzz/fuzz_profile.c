/* Any bytes as a colour profile: kept whole, or not at all. */
#include "image/colour_profile.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct picture picture = {.width = 1, .height = 1};
    uint8_t *own = malloc(size + (size == 0));
    if (own) {
        memcpy(own, data, size);
        bool good = colour_profile_is_rgb(own, size);
        colour_profile_keep(&picture, own, size);
        if (good != (picture.profile != NULL) ||
            (good && (picture.profile_size != size || memcmp(picture.profile, own, size) != 0))) {
            abort();
        }
    }
    free(picture.profile);
    free(own);
    return 0;
}
