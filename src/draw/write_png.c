#include "draw/write_png.h"

#include "image/own_mark.h"

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

/* What one file is made of. */
struct png_job {
    const struct blend *blend;
    int depth, channels;
    unsigned char *row;
};

static void fill_row(const struct png_job *job, int y)
{
    if (job->channels == 4) {
        blend_row_alpha(job->row, job->blend, y);
    } else if (job->depth == 16) {
        blend_row_16((uint16_t *)(void *)job->row, job->blend, y);
    } else {
        blend_row_8(job->row, job->blend, y);
    }
}

/* What libpng doesn't take for a profile, it leaves out. */
static void write_colours(png_structp png, png_infop info, const struct blend *blend)
{
    size_t size;
    const unsigned char *profile = blend_profile(blend, &size);
    if (profile) {
        png_set_benign_errors(png, 1);
        png_set_iCCP(png, info, "picture", PNG_COMPRESSION_TYPE_BASE, profile, (png_uint_32)size);
    } else {
        png_set_sRGB(png, info, PNG_sRGB_INTENT_PERCEPTUAL);
    }
}

/* Tells a later run that the file may be written again, and people what it is (PNG specification,
 * 11.3.3.2). */
static void write_texts(png_structp png, png_infop info, const char *about)
{
    char mark_key[] = OWN_MARK_KEYWORD, mark[] = OWN_MARK, about_key[] = "Description";
    char what[200];
    snprintf(what, sizeof what, "%s", about ? about : "");
    const png_text text[] = {{.compression = PNG_TEXT_COMPRESSION_NONE,
                              .key = mark_key,
                              .text = mark,
                              .text_length = sizeof mark - 1},
                             {.compression = PNG_TEXT_COMPRESSION_NONE,
                              .key = about_key,
                              .text = what,
                              .text_length = strlen(what)}};
    png_set_text(png, info, text, about ? 2 : 1);
}

static void write_head(png_structp png, png_infop info, FILE *stream, const struct png_job *job)
{
    const struct blend *blend = job->blend;
    const uint16_t one = 1;
    png_init_io(png, stream);
    png_set_IHDR(png, info, (png_uint_32)blend->width, (png_uint_32)blend->height, job->depth,
                 job->channels == 4 ? PNG_COLOR_TYPE_RGB_ALPHA : PNG_COLOR_TYPE_RGB,
                 PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    write_colours(png, info, blend);
    write_texts(png, info, blend->about);
    png_set_compression_level(png, DEFLATE_LEVEL);
    png_set_filter(png, PNG_FILTER_TYPE_BASE, PNG_FILTER_SUB);
    png_write_info(png, info);
    if (job->depth == 16 && *(const unsigned char *)&one == 1) {
        png_set_swap(png);
    }
}

/* Nothing that is changed after setjmp is looked at when it returns again. */
static bool write_all(png_structp png, png_infop info, struct writing *writing, FILE *stream,
                      const struct png_job *job)
{
    if (setjmp(writing->failed)) {
        return false;
    }
    errno = 0;
    write_head(png, info, stream, job);
    for (int y = 0; y < job->blend->height; y++) {
        fill_row(job, y);
        png_write_row(png, job->row);
    }
    png_write_end(png, info);
    return true;
}

int write_png(FILE *stream, const char *name, const struct blend *blend, bool opaque,
              struct error *err)
{
    struct writing writing = {.reason = ""};
    struct png_job job = {
        .blend = blend,
        .depth = blend_depth(blend),
        .channels = blend->picture || opaque ? 3 : 4,
        .row = malloc((size_t)blend->width * 8), /* the largest pixel: four bytes, or six */
    };
    png_structp png =
        png_create_write_struct(PNG_LIBPNG_VER_STRING, &writing, note_failure, ignore_warning);
    png_infop info = png ? png_create_info_struct(png) : NULL;
    int code = 0;
    if (!info || !job.row) {
        code = error_memory(err);
    } else if (!write_all(png, info, &writing, stream, &job)) {
        code = error_set(err, ERROR_OUTPUT, "%s: cannot be written: %s", name, writing.reason);
    }
    png_destroy_write_struct(&png, &info);
    free(job.row);
    return code;
}
