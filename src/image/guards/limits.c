#include "image/guards/limits.h"

int limits_check(const char *name, double width, double height, size_t file_bytes,
                 double pixels_per_byte, struct error *err)
{
    if (!(width >= 1 && height >= 1)) {
        return error_set(err, ERROR_INPUT, "%s: the header states an empty picture, %.0f x %.0f",
                         name, width, height);
    }
    if (width > LIMIT_SIDE || height > LIMIT_SIDE || width * height > LIMIT_PIXELS) {
        return error_set(err, ERROR_INPUT,
                         "%s: the header states %.0f x %.0f pixels; expected at most %d a side and "
                         "%d megapixels",
                         name, width, height, LIMIT_SIDE, LIMIT_PIXELS / 1000000);
    }
    if (width * height > pixels_per_byte * (double)file_bytes) {
        return error_set(
            err, ERROR_INPUT,
            "%s: the header states %.0f x %.0f pixels, but the file has only %.0f bytes", name,
            width, height, (double)file_bytes);
    }
    return 0;
}
