#include "draw/write_png.h"

#include <errno.h>
#include <png.h>
#include <setjmp.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Photographs of the sky are mostly noise: more effort saves a few percent and takes four times as
 * long. */
enum { DEFLATE_LEVEL = 2 };

/* What libpng's callbacks need. */
struct writing {
    jmp_buf failed;
    char reason[120];
};

static void note_failure(png_structp png, png_const_charp reason)
{
    struct writing *writing = png_get_error_ptr(png);
    /* "Write Error" is all that libpng says of a full disk. */
    if (errno == 0 || strerror_r(errno, writing->reason, sizeof writing->reason) != 0) {
        snprintf(writing->reason, sizeof writing->reason, "%s", reason);
    }
    longjmp(writing->failed, 1);
}

static void ignore_warning(png_structp png, png_const_charp warning)
{
    (void)png;
    (void)warning;
}

static void pack_row(unsigned char *rgb, const unsigned char *row, int width)
{
    for (int x = 0; x < width; x++) {
        uint32_t pixel;
        memcpy(&pixel, row + 4 * (size_t)x, 4);
        rgb[3 * x] = (unsigned char)(pixel >> 16);
        rgb[3 * x + 1] = (unsigned char)(pixel >> 8);
        rgb[3 * x + 2] = (unsigned char)pixel;
    }
}

static void write_head(png_structp png, png_infop info, FILE *stream, int width, int height)
{
    png_init_io(png, stream);
    png_set_IHDR(png, info, (png_uint_32)width, (png_uint_32)height, 8, PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_set_sRGB(png, info, PNG_sRGB_INTENT_PERCEPTUAL);
    png_set_compression_level(png, DEFLATE_LEVEL);
    png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_SUB);
    png_write_info(png, info);
}

/* Nothing that is changed after setjmp is looked at when it returns again. */
static bool write_all(png_structp png, png_infop info, struct writing *writing, FILE *stream,
                      const unsigned char *pixels, int width, int height, int stride,
                      unsigned char *rgb)
{
    if (setjmp(writing->failed)) {
        return false;
    }
    errno = 0;
    write_head(png, info, stream, width, height);
    for (int y = 0; y < height; y++) {
        pack_row(rgb, pixels + (size_t)y * (size_t)stride, width);
        png_write_row(png, rgb);
    }
    png_write_end(png, info);
    return true;
}

int write_png(FILE *stream, const char *name, const unsigned char *pixels, int width, int height,
              int stride, struct error *err)
{
    struct writing writing = {.reason = ""};
    png_structp png =
        png_create_write_struct(PNG_LIBPNG_VER_STRING, &writing, note_failure, ignore_warning);
    png_infop info = png ? png_create_info_struct(png) : NULL;
    unsigned char *rgb = malloc((size_t)width * 3);
    int code = 0;
    if (!info || !rgb) {
        code = error_memory(err);
    } else if (!write_all(png, info, &writing, stream, pixels, width, height, stride, rgb)) {
        code = error_set(err, ERROR_OUTPUT, "%s: cannot be written: %s", name, writing.reason);
    }
    png_destroy_write_struct(&png, &info);
    free(rgb);
    return code;
}
