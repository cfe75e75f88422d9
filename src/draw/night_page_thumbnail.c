#include "draw/html.h"
#include "draw/night_page.h"
#include "draw/thumbnail.h"

int night_thumbnail(FILE *out, const char *name, const struct frame_reader *reader,
                    struct error *err)
{
    struct thumbnail small = {0};
    int code = thumbnail_make(&small, name, reader, err);
    if (!code && small.jpeg.size > 0) {
        fprintf(out,
                "<span class=\"pic\"><img alt=\"\" width=\"%d\" height=\"%d\" "
                "src=\"data:image/jpeg;base64,",
                small.width, small.height);
        html_write_base64(out, (const unsigned char *)small.jpeg.bytes, small.jpeg.size);
        fprintf(out, "\"></span>");
    }
    file_bytes_free(&small.jpeg);
    return code;
}
