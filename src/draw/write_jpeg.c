#include "draw/write_jpeg.h"

#include "image/own_mark.h"

#include <errno.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

/* jpeglib.h needs stdio.h before it. */
#include <jpeglib.h>

enum { QUALITY = 94 };

/* What libjpeg's callbacks need. */
struct jpeg_writer {
    struct jpeg_compress_struct info;
    struct jpeg_error_mgr errors;
    jmp_buf failed;
    char reason[JMSG_LENGTH_MAX];
};

static void on_error(j_common_ptr common)
{
    struct jpeg_writer *writer = common->client_data;
    if (errno == 0 || strerror_r(errno, writer->reason, sizeof writer->reason) != 0) {
        common->err->format_message(common, writer->reason);
    }
    longjmp(writer->failed, 1);
}

static void on_message(j_common_ptr common, int level)
{
    (void)common;
    (void)level;
}

static void start(struct jpeg_writer *writer, FILE *stream, const struct blend *blend)
{
    struct jpeg_compress_struct *info = &writer->info;
    jpeg_create_compress(info);
    jpeg_stdio_dest(info, stream);
    info->image_width = (JDIMENSION)blend->width;
    info->image_height = (JDIMENSION)blend->height;
    info->input_components = 3;
    info->in_color_space = JCS_RGB;
    jpeg_set_defaults(info);
    jpeg_set_quality(info, QUALITY, TRUE);
    info->comp_info[0].h_samp_factor = info->comp_info[0].v_samp_factor = 1;
    jpeg_start_compress(info, TRUE);
    jpeg_write_marker(info, JPEG_COM, (const JOCTET *)OWN_MARK, sizeof OWN_MARK - 1);
    size_t size;
    const unsigned char *profile = blend_profile(blend, &size);
    if (profile) {
        jpeg_write_icc_profile(info, profile, (unsigned)size);
    }
}

/* Nothing that is changed after setjmp is looked at when it returns again. */
static bool write_all(struct jpeg_writer *writer, FILE *stream, const struct blend *blend,
                      unsigned char *row)
{
    if (setjmp(writer->failed)) {
        return false;
    }
    errno = 0;
    start(writer, stream, blend);
    for (int y = 0; y < blend->height; y++) {
        JSAMPROW rows[1] = {row};
        blend_row_8(row, blend, y);
        jpeg_write_scanlines(&writer->info, rows, 1);
    }
    jpeg_finish_compress(&writer->info);
    return true;
}

int write_jpeg(FILE *stream, const char *name, const struct blend *blend, struct error *err)
{
    struct jpeg_writer *writer = calloc(1, sizeof *writer);
    unsigned char *row = malloc((size_t)blend->width * 3);
    int code = 0;
    if (!writer || !row) {
        code = error_memory(err);
    } else {
        writer->info.err = jpeg_std_error(&writer->errors);
        writer->errors.error_exit = on_error;
        writer->errors.emit_message = on_message;
        writer->info.client_data = writer;
        if (!write_all(writer, stream, blend, row)) {
            code = error_set(err, ERROR_OUTPUT, "%s: cannot be written: %s", name, writer->reason);
        }
        jpeg_destroy_compress(&writer->info);
    }
    free(writer);
    free(row);
    return code;
}
