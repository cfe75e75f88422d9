#include "cli/drawing_options.h"

#include "base/text.h"
#include "cli/occasion_options.h"

#include <stdio.h>
#include <string.h>

/* A positive number of mm of a sensible size. */
static bool read_mm(double *mm, const char *text, size_t length)
{
    char number[32];
    snprintf(number, sizeof number, "%.*s", (int)(length < 31 ? length : 31), text);
    return text_read_double(mm, number) && *mm >= 0.5 && *mm <= 100000;
}

bool drawing_read_lens(void *member, const char *text)
{
    struct lens_and_sensor lens = {0};
    size_t focal = strcspn(text, ",");
    if (!read_mm(&lens.focal_mm, text, focal)) {
        return false;
    }
    if (text[focal] == ',') {
        const char *width = text + focal + 1;
        size_t length = strcspn(width, "x");
        if (width[length] != 'x' || !read_mm(&lens.width_mm, width, length) ||
            !read_mm(&lens.height_mm, width + length + 1, strlen(width + length + 1))) {
            return false;
        }
    }
    *(struct lens_and_sensor *)member = lens;
    return true;
}

int drawing_options_read(struct drawing_wish *wish, const struct drawing_settings *settings,
                         struct error *err)
{
    *wish =
        (struct drawing_wish){.theme = (enum theme_kind)settings->theme, .other = settings->other};
    int code = settings->show ? layers_read(&wish->show, settings->show, err) : 0;
    return !code && settings->hide ? layers_read(&wish->hide, settings->hide, err) : code;
}
