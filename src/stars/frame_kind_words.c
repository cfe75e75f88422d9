#include "stars/frame_kind.h"

#include <math.h>
#include <stdio.h>

static const char *const keys[] = {
    [KIND_LIGHT] = "light",       [KIND_EMPTY] = "empty", [KIND_FULL] = "full",
    [KIND_BIAS] = "bias",         [KIND_DARK] = "dark",   [KIND_FLAT] = "flat",
    [KIND_STARLESS] = "starless", [KIND_SCENE] = "scene",
};

const char *frame_kind_key(enum frame_kind kind)
{
    return keys[kind];
}

/* "level 512 of 65535" */
static void write_level(char *out, size_t size, const struct frame_look *look)
{
    if (look->full > 0) {
        /* Over a black level that was taken off, noise may end below 0: that is no -0. */
        snprintf(out, size, "level %.0f of %.0f", round(look->level) + 0.0, look->full);
    } else {
        snprintf(out, size, "level %.4g", look->level);
    }
}

void frame_look_words(char *out, size_t size, const struct frame_look *look)
{
    char level[60];
    double percent = look->full > 0 ? 100 * look->level / look->full : 0;
    write_level(level, sizeof level, look);
    switch (look->kind) {
    case KIND_EMPTY:
        snprintf(out, size, "an empty frame: all pixels are alike, %s", level);
        return;
    case KIND_FULL:
        snprintf(out, size, "overexposed: %.0f %% of the pixels are at the end of the scale",
                 100 * look->full_share);
        return;
    case KIND_BIAS:
        snprintf(out, size, "a bias frame: no star, %s, noise only, exposed for an instant", level);
        return;
    case KIND_DARK:
        snprintf(out, size, "a dark frame or a lens cap: no star, %s, noise only", level);
        return;
    case KIND_FLAT:
        snprintf(out, size, "a flat frame: no star, evenly lit to %.0f %% of full scale", percent);
        return;
    case KIND_STARLESS:
        snprintf(out, size,
                 "no star stands out from the noise: cloud, something over the lens, or an "
                 "exposure far too short");
        return;
    case KIND_SCENE:
        snprintf(out, size,
                 "not a starry sky as it seems, but things large and bright: daylight, lamps or "
                 "a room");
        return;
    case KIND_LIGHT:
        break;
    }
    out[0] = '\0';
}
