#include "draw/thumbnail.h"

#include "draw/write_jpeg.h"

#include <stdlib.h>

enum { WIDTH = 480 };

/* Means of whole blocks of pixels. ERROR_MEMORY. */
static int shrink(struct picture *out, const struct picture *in, struct error *err)
{
    int step = in->width > WIDTH ? in->width / WIDTH : 1;
    *out = (struct picture){.width = in->width / step,
                            .height = in->height / step > 0 ? in->height / step : 1};
    out->rgb = malloc(3 * (size_t)out->width * (size_t)out->height);
    if (!out->rgb) {
        return error_memory(err);
    }
    for (size_t i = 0; i < 3 * (size_t)out->width * (size_t)out->height; i++) {
        size_t x = i / 3 % (size_t)out->width * (size_t)step;
        size_t y = i / 3 / (size_t)out->width * (size_t)step, sum = 0, seen = 0;
        for (size_t v = y; v < y + (size_t)step && v < (size_t)in->height; v++) {
            for (size_t u = x; u < x + (size_t)step; u++, seen++) {
                sum += in->rgb[3 * (v * (size_t)in->width + u) + i % 3];
            }
        }
        out->rgb[i] = (unsigned char)(sum / (seen ? seen : 1));
    }
    return 0;
}

/* A frame of the night is nearly black: so that its stars show, the sky is lifted to a sixth and
 * the brightest hundredth to white, in one curve for all. */
static void brighten(struct picture *picture)
{
    size_t count[256] = {0}, all = 3 * (size_t)picture->width * (size_t)picture->height, below = 0;
    int black = 0, white = 255;
    for (size_t i = 0; i < all; i++) {
        count[picture->rgb[i]]++;
    }
    for (int v = 0; v < 256; v++) {
        below += count[v];
        black = below * 4 < all ? v : black;
        white = below * 400 < all * 399 ? v + 1 : white;
    }
    white = white < black + 16 ? black + 16 : white;
    for (size_t i = 0; i < all; i++) {
        int lifted = 24 + (picture->rgb[i] - black) * 200 / (white - black);
        picture->rgb[i] = (unsigned char)(lifted < 0 ? 0 : lifted > 255 ? 255 : lifted);
    }
}

static int write_small(struct thumbnail *out, const struct picture *picture, struct error *err)
{
    FILE *stream = open_memstream(&out->jpeg.bytes, &out->jpeg.size);
    if (!stream) {
        return error_memory(err);
    }
    const struct blend blend = {
        .width = picture->width, .height = picture->height, .picture = picture};
    int code = write_jpeg(stream, "thumbnail", &blend, err);
    if (fclose(stream) != 0 && !code) {
        code = error_memory(err);
    }
    out->width = picture->width;
    out->height = picture->height;
    if (code) {
        file_bytes_free(&out->jpeg);
    }
    return code;
}

int thumbnail_make(struct thumbnail *thumbnail, const char *name, const struct frame_reader *reader,
                   struct error *err)
{
    const struct frame_options how = {
        .reader = reader, .want_picture = true, .max_plane_pixels = 1000000};
    struct frame frame = {0};
    struct picture small = {0};
    struct error unread = {0};
    int code = frame_read(&frame, name, &how, &unread);
    if (!code && frame.picture.rgb) {
        code = shrink(&small, &frame.picture, err);
        if (!code) {
            brighten(&small);
            code = write_small(thumbnail, &small, err);
        }
    }
    free(small.rgb);
    frame_free(&frame);
    return code == ERROR_INPUT ? 0 : code;
}
