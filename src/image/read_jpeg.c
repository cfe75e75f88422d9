#include "image/read_jpeg.h"

#include "image/binner.h"
#include "image/colour_cells.h"
#include "image/colour_profile.h"
#include "image/exif.h"
#include "image/guards/limits.h"
#include "image/luminance.h"

#include <setjmp.h>
#include <stdio.h> /* jpeglib.h needs it and doesn't include it; jerror.h needs that one */
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

#include <jerror.h>

/* A file can state thousands of scans over a large picture in few bytes; no camera does. */
enum { MAX_SCANS = 500, MAX_LINES = 8 };

/* Arithmetic coding has no least cost for a block, but nothing with stars in it comes near this. */
static const double pixels_per_byte = 4096;

/* Everything that lives across the jump out of the library. */
struct jpeg_reader {
    struct jpeg_decompress_struct info;
    struct jpeg_error_mgr errors;
    struct jpeg_progress_mgr progress;
    jmp_buf jump;
    const struct picture_source *source;
    FILE *stream;
    size_t size;
    const struct frame_options *options;
    struct frame *frame;
    struct binner binner;
    struct colour_cells cells;
    unsigned char *lines, *rgb;
    struct error *err;
    int code; /* set before the jump */
};

bool read_jpeg_recognise(const unsigned char *head, size_t size,
                         const struct picture_source *source)
{
    (void)source;
    return size >= 3 && head[0] == 0xff && head[1] == 0xd8 && head[2] == 0xff;
}

static struct jpeg_reader *reader_of(j_common_ptr common)
{
    return common->client_data;
}

static void leave(struct jpeg_reader *r, int code)
{
    r->code = code;
    longjmp(r->jump, 1);
}

static void on_error(j_common_ptr common)
{
    struct jpeg_reader *r = reader_of(common);
    if (common->err->msg_code == JERR_OUT_OF_MEMORY) {
        leave(r, error_memory(r->err));
    }
    char text[JMSG_LENGTH_MAX];
    common->err->format_message(common, text);
    leave(r, error_set(r->err, ERROR_INPUT, "%s: cannot be read as a JPEG picture: %s",
                       r->source->name, text));
}

/* Warnings about missing or damaged data are errors here: the library would go on with grey or
 * shifted blocks, in which the stars are not where they were. Others are harmless. */
static void on_message(j_common_ptr common, int level)
{
    struct jpeg_reader *r = reader_of(common);
    if (level >= 0) {
        return;
    }
    const char *what = NULL;
    switch (common->err->msg_code) {
    case JWRN_JPEG_EOF:
        what = "the file ends early";
        break;
    case JWRN_HIT_MARKER:
    case JWRN_HUFF_BAD_CODE:
    case JWRN_ARITH_BAD_CODE:
    case JWRN_MUST_RESYNC:
        what = "the JPEG data are damaged";
        break;
    default:
        return;
    }
    enum error_cause cause = common->err->msg_code == JWRN_JPEG_EOF ? CAUSE_SHORT : CAUSE_CONTENT;
    if (r->info.image_height == 0) {
        error_set(r->err, ERROR_INPUT, "%s: %s, within the header", r->source->name, what);
    } else {
        error_set(r->err, ERROR_INPUT, "%s: %s, after row %u of %u", r->source->name, what,
                  r->info.output_scanline, r->info.image_height);
    }
    leave(r, error_because(r->err, ERROR_INPUT, cause));
}

static void on_progress(j_common_ptr common)
{
    struct jpeg_reader *r = reader_of(common);
    if (r->info.input_scan_number > MAX_SCANS) {
        leave(r, error_set(r->err, ERROR_INPUT, "%s: expected at most %d JPEG scans",
                           r->source->name, MAX_SCANS));
    }
}

static void set_up(struct jpeg_reader *r)
{
    r->info.err = jpeg_std_error(&r->errors);
    r->errors.error_exit = on_error;
    r->errors.emit_message = on_message;
    r->info.client_data = r;
    jpeg_create_decompress(&r->info);
    r->progress.progress_monitor = on_progress;
    r->info.progress = &r->progress;
    jpeg_stdio_src(&r->info, r->stream);
    jpeg_save_markers(&r->info, JPEG_APP0 + 1, 0xffff);
    if (r->options->want_picture) {
        jpeg_save_markers(&r->info, JPEG_APP0 + 2, 0xffff);
    }
}

static int choose_colours(struct jpeg_reader *r)
{
    switch (r->info.jpeg_color_space) {
    case JCS_GRAYSCALE:
        r->info.out_color_space = JCS_GRAYSCALE;
        return 0;
    case JCS_YCbCr:
    case JCS_RGB:
        r->info.out_color_space = JCS_RGB;
        return 0;
    case JCS_CMYK:
    case JCS_YCCK:
        return error_set(r->err, ERROR_INPUT,
                         "%s: a JPEG in printing colours (CMYK); expected grey or RGB",
                         r->source->name);
    default:
        return error_set(r->err, ERROR_INPUT, "%s: a JPEG of %d channels; expected grey or RGB",
                         r->source->name, r->info.num_components);
    }
}

static int read_metadata(struct jpeg_reader *r)
{
    int width = (int)r->info.image_width, height = (int)r->info.image_height;
    for (jpeg_saved_marker_ptr m = r->info.marker_list; m; m = m->next) {
        if (m->marker == JPEG_APP0 + 1 && m->data_length > 6 &&
            memcmp(m->data, "Exif\0\0", 6) == 0) {
            return exif_read(&r->frame->facts, m->data, m->data_length, width, height);
        }
    }
    return 1;
}

static void read_profile(struct jpeg_reader *r)
{
    JOCTET *bytes = NULL;
    unsigned size = 0;
    if (r->options->want_picture && jpeg_read_icc_profile(&r->info, &bytes, &size)) {
        colour_profile_keep(&r->frame->picture, bytes, size);
        free(bytes);
    }
}

static int allocate(struct jpeg_reader *r)
{
    int width = (int)r->info.image_width, height = (int)r->info.image_height;
    int orientation = read_metadata(r);
    if (orientation == 0) {
        return error_memory(r->err);
    }
    int code =
        binner_start(&r->binner, r->frame, width, height, orientation, 1, 8, r->options, r->err);
    r->lines = malloc((size_t)width * 3 * MAX_LINES);
    r->rgb = malloc((size_t)width * 3);
    if (!code && (!r->lines || !r->rgb)) {
        code = error_memory(r->err);
    }
    if (!code && r->options->want_colours && r->info.out_color_space == JCS_RGB) {
        code = colour_cells_start(&r->cells, &r->binner, r->err);
    }
    r->frame->luminance.full = 255;
    return code;
}

static void take_line(struct jpeg_reader *r, const unsigned char *line)
{
    int width = (int)r->info.output_width, channels = r->info.output_components;
    luminance_8(binner_line(&r->binner), line, width, channels);
    binner_add(&r->binner);
    colour_cells_add_bytes(&r->cells, line);
    if (r->options->want_picture) {
        const unsigned char *rgb = line;
        if (channels == 1) {
            luminance_to_rgb(r->rgb, line, width, channels);
            rgb = r->rgb;
        }
        binner_add_rgb(&r->binner, rgb);
    }
}

static void read_lines(struct jpeg_reader *r)
{
    size_t stride = (size_t)r->info.output_width * (size_t)r->info.output_components;
    JSAMPROW rows[MAX_LINES];
    for (size_t i = 0; i < MAX_LINES; i++) {
        rows[i] = r->lines + i * stride;
    }
    while (r->info.output_scanline < r->info.output_height) {
        JDIMENSION count = jpeg_read_scanlines(&r->info, rows, MAX_LINES);
        for (JDIMENSION i = 0; i < count; i++) {
            take_line(r, rows[i]);
        }
    }
}

/* The library jumps back here on an error; nothing in this frame changes after setjmp. */
static int decode(struct jpeg_reader *r)
{
    if (setjmp(r->jump)) {
        return r->code;
    }
    set_up(r);
    jpeg_read_header(&r->info, TRUE);
    int code = limits_check(r->source->name, r->info.image_width, r->info.image_height, r->size,
                            pixels_per_byte, r->err);
    code = code ? code : choose_colours(r);
    code = code ? code : allocate(r);
    if (code) {
        return code;
    }
    read_profile(r);
    jpeg_start_decompress(&r->info);
    read_lines(r);
    jpeg_finish_decompress(&r->info);
    return 0;
}

int read_jpeg(struct frame *frame, const struct picture_source *source,
              const struct frame_options *options, struct error *err)
{
    struct jpeg_reader *r = calloc(1, sizeof *r);
    if (!r) {
        return error_memory(err);
    }
    r->source = source;
    r->frame = frame;
    r->options = options;
    r->err = err;
    r->stream = picture_source_open(source, &r->size, err);
    int code = r->stream ? decode(r) : ERROR_INPUT;
    jpeg_destroy_decompress(&r->info);
    if (r->stream) {
        fclose(r->stream);
    }
    binner_free(&r->binner);
    colour_cells_free(&r->cells);
    free(r->lines);
    free(r->rgb);
    free(r);
    return code;
}
