#include "cli/hint_options.h"

#include "base/text.h"

bool hint_options_read_direction(void *member, const char *text)
{
    struct direction *direction = member;
    direction->given = text_read_radec(&direction->ra_deg, &direction->dec_deg, text);
    return direction->given;
}

int hint_options_check(const struct hint_settings *hints, struct error *err)
{
    if (hints->scale_arcsec > 0 && (hints->focal_mm > 0 || hints->pixel_um > 0)) {
        return error_set(err, ERROR_USAGE,
                         "--scale already says what --focal and --pixel would: give one or the "
                         "other");
    }
    if (hints->within_deg > 0 && !hints->near.given) {
        return error_set(err, ERROR_USAGE, "--within needs --near");
    }
    return 0;
}
