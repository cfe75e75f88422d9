#include "image/read_png.h"

#include "image/binner.h"
#include "image/colour_profile.h"
#include "image/exif.h"
#include "image/guards/limits.h"
#include "image/luminance.h"
#include "image/picture_rows.h"

#include <png.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Deflate codes at most 258 bytes in two bits (RFC 1951), and a byte holds at most eight pixels. */
static const double pixels_per_byte = 258 * 4 * 8;

enum pass {
    PASS_PLANE,  /* fills the plane; an 8-bit picture, too */
    PASS_PICTURE /* fills a 16-bit picture, once the plane has told how to stretch it */
};

struct png_reader {
    png_structp png;
    png_infop info;
    const struct picture_source *source;
    FILE *stream;
    size_t size;
    const struct frame_options *options;
    struct frame *frame;
    struct binner binner;
    struct picture_rows picture;
    enum pass pass;
    int width, height, channels, depth; /* after the library's conversions */
    int row;
    size_t line_bytes;   /* allocated at line */
    unsigned char *line; /* one row, or all of an interlaced picture */
    unsigned char *rgb;  /* one row of the picture of an 8-bit file */
    float *channel[3];   /* one row of each colour of a 16-bit one */
    struct error *err;
    int code;
};

bool read_png_recognise(const unsigned char *head, size_t size, const struct picture_source *source)
{
    (void)source;
    return size >= 8 && png_sig_cmp(head, 0, 8) == 0;
}

static int fail(struct png_reader *r, const char *text)
{
    char place[64] = "within the header";
    if (r->height > 0) {
        snprintf(place, sizeof place, "after row %d of %d", r->row, r->height);
    }
    if (strcmp(text, "Out of memory") == 0) {
        return error_memory(r->err);
    }
    if (feof(r->stream)) {
        return error_because(
            r->err,
            error_set(r->err, ERROR_INPUT, "%s: the file ends early, %s", r->source->name, place),
            CAUSE_SHORT);
    }
    return error_set(r->err, ERROR_INPUT, "%s: cannot be read as a PNG picture: %s, %s",
                     r->source->name, text, place);
}

static void on_error(png_structp png, png_const_charp text)
{
    struct png_reader *r = png_get_error_ptr(png);
    r->code = fail(r, text);
    png_longjmp(png, 1);
}

/* Damaged texts and profiles don't matter; damaged pixels are errors anyway. */
static void on_warning(png_structp png, png_const_charp text)
{
    (void)png;
    (void)text;
}

static int set_up(struct png_reader *r)
{
    r->row = 0;
    r->height = 0;
    r->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, r, on_error, on_warning);
    r->info = r->png ? png_create_info_struct(r->png) : NULL;
    if (!r->info) {
        return error_memory(r->err);
    }
    rewind(r->stream);
    png_init_io(r->png, r->stream);
    png_set_user_limits(r->png, 0x7fffffff, 0x7fffffff); /* ours come with a better sentence */
    return 0;
}

/* Leaves 8 or 16 bits in native order and 1 to 4 channels. */
static void ask_conversions(struct png_reader *r)
{
    const uint16_t one = 1;
    png_set_expand(r->png);
    if (*(const unsigned char *)&one == 1 && png_get_bit_depth(r->png, r->info) == 16) {
        png_set_swap(r->png);
    }
    png_set_interlace_handling(r->png);
    png_read_update_info(r->png, r->info);
    r->channels = png_get_channels(r->png, r->info);
    r->depth = png_get_bit_depth(r->png, r->info);
}

/* 0: memory is short. */
static int read_metadata(struct png_reader *r)
{
    png_uint_32 size = 0;
    png_bytep bytes = NULL;
    if (!png_get_eXIf_1(r->png, r->info, &size, &bytes) || size == 0) {
        return 1;
    }
    unsigned char *block = malloc((size_t)size + 6);
    if (!block) {
        return 0;
    }
    memcpy(block, "Exif\0\0", 6); /* the chunk goes without */
    memcpy(block + 6, bytes, size);
    int orientation = exif_read(&r->frame->facts, block, (size_t)size + 6, r->width, r->height);
    free(block);
    return orientation;
}

/* Once it is known that the values of the file are those of the picture. */
static void read_profile(struct png_reader *r)
{
    png_charp title = NULL;
    png_bytep bytes = NULL;
    png_uint_32 size = 0;
    int compression = 0;
    if (png_get_iCCP(r->png, r->info, &title, &compression, &bytes, &size)) {
        colour_profile_keep(&r->frame->picture, bytes, size);
    }
}

static bool is_interlaced(const struct png_reader *r)
{
    return png_get_interlace_type(r->png, r->info) != PNG_INTERLACE_NONE;
}

static size_t needed_bytes(const struct png_reader *r)
{
    return png_get_rowbytes(r->png, r->info) * (is_interlaced(r) ? (size_t)r->height : 1);
}

static int allocate(struct png_reader *r)
{
    r->line_bytes = needed_bytes(r);
    r->line = malloc(r->line_bytes);
    r->rgb = malloc((size_t)r->width * 3);
    bool good = r->line && r->rgb;
    for (int c = 0; c < 3; c++) {
        r->channel[c] = malloc((size_t)r->width * sizeof **r->channel);
        good = good && r->channel[c];
    }
    int orientation = read_metadata(r);
    if (!good || orientation == 0) {
        return error_memory(r->err);
    }
    r->frame->luminance.full = r->depth == 16 ? 65535 : 255;
    int code = binner_start(&r->binner, r->frame, r->width, r->height, orientation, 1, r->depth,
                            r->options, r->err);
    return code || r->depth < 16 || !r->options->want_picture
               ? code
               : picture_rows_start(&r->picture, &r->binner, r->err);
}

/* Between the passes another program may have written to the file. */
static int check_unchanged(const struct png_reader *r)
{
    if (r->width != r->binner.width || r->height != r->binner.height || r->depth != 16 ||
        needed_bytes(r) != r->line_bytes) {
        return error_set(r->err, ERROR_INPUT, "%s: the file changed while it was read",
                         r->source->name);
    }
    return 0;
}

/* The colours of a 16-bit row; grey stands for all three. */
static const float *const *split_row(struct png_reader *r, const uint16_t *row)
{
    for (int c = 0; c < 3; c++) {
        const uint16_t *first = row + (r->channels > 2 ? c : 0);
        for (int x = 0; x < r->width; x++) {
            r->channel[c][x] = (float)first[(size_t)x * (size_t)r->channels];
        }
    }
    return (const float *const *)r->channel;
}

static void take_plane_row(struct png_reader *r, const unsigned char *row)
{
    float *line = binner_line(&r->binner);
    if (r->depth == 16) {
        luminance_16(line, (const uint16_t *)(const void *)row, r->width, r->channels);
    } else {
        luminance_8(line, row, r->width, r->channels);
    }
    binner_add(&r->binner);
    if (!r->options->want_picture) {
        return;
    }
    if (r->depth == 16) {
        picture_rows_look(&r->picture, r->row, split_row(r, (const uint16_t *)(const void *)row));
    } else {
        luminance_to_rgb(r->rgb, row, r->width, r->channels);
        binner_add_rgb(&r->binner, r->rgb);
    }
}

static void take_picture_row(struct png_reader *r, const unsigned char *row)
{
    picture_rows_add(&r->picture, split_row(r, (const uint16_t *)(const void *)row), 1);
}

static void take_row(struct png_reader *r, const unsigned char *row)
{
    if (r->pass == PASS_PLANE) {
        take_plane_row(r, row);
    } else {
        take_picture_row(r, row);
    }
    r->row++;
}

static void read_rows(struct png_reader *r)
{
    size_t stride = png_get_rowbytes(r->png, r->info);
    if (!is_interlaced(r)) {
        for (int y = 0; y < r->height; y++) {
            png_read_row(r->png, r->line, NULL);
            take_row(r, r->line);
        }
        return;
    }
    for (int pass = 0; pass < PNG_INTERLACE_ADAM7_PASSES; pass++) {
        for (int y = 0; y < r->height; y++) {
            png_read_row(r->png, r->line + (size_t)y * stride, NULL);
        }
    }
    for (int y = 0; y < r->height; y++) {
        take_row(r, r->line + (size_t)y * stride);
    }
}

/* The library jumps back here on an error; nothing in this frame changes after setjmp. */
static int decode(struct png_reader *r)
{
    if (setjmp(png_jmpbuf(r->png))) {
        return r->code;
    }
    png_read_info(r->png, r->info);
    png_uint_32 width = png_get_image_width(r->png, r->info);
    png_uint_32 height = png_get_image_height(r->png, r->info);
    int code = limits_check(r->source->name, width, height, r->size, pixels_per_byte, r->err);
    if (code) {
        return code;
    }
    r->width = (int)width;
    r->height = (int)height;
    ask_conversions(r);
    code = r->pass == PASS_PLANE ? allocate(r) : check_unchanged(r);
    if (code) {
        return code;
    }
    if (r->options->want_picture && (r->depth < 16 || picture_rows_in_proportion(&r->picture))) {
        read_profile(r);
    }
    read_rows(r);
    png_read_end(r->png, NULL);
    return 0;
}

static int run_pass(struct png_reader *r, enum pass pass)
{
    r->pass = pass;
    int code = set_up(r);
    code = code ? code : decode(r);
    png_destroy_read_struct(&r->png, &r->info, NULL);
    return code;
}

static int run_passes(struct png_reader *r)
{
    int code = run_pass(r, PASS_PLANE);
    if (!code && r->options->want_picture && r->depth == 16) {
        picture_rows_settle(&r->picture, 65535);
        code = run_pass(r, PASS_PICTURE);
    }
    return code;
}

int read_png(struct frame *frame, const struct picture_source *source,
             const struct frame_options *options, struct error *err)
{
    struct png_reader r = {.source = source, .frame = frame, .options = options, .err = err};
    r.stream = picture_source_open(source, &r.size, err);
    int code = r.stream ? run_passes(&r) : ERROR_INPUT;
    if (r.stream) {
        fclose(r.stream);
    }
    binner_free(&r.binner);
    picture_rows_free(&r.picture);
    free(r.line);
    free(r.rgb);
    for (int c = 0; c < 3; c++) {
        free(r.channel[c]);
    }
    return code;
}
