#include "image/read_tiff.h"

#include "image/binner.h"
#include "image/colour_profile.h"
#include "image/picture_rows.h"
#include "image/samples.h"
#include "image/tiff_rows.h"
#include "image/tiff_tags.h"

#include <math.h>
#include <stdlib.h>

struct tiff_reader {
    const struct picture_source *source;
    const struct frame_options *options;
    struct frame *frame;
    struct tiff_rows rows;
    struct binner binner;
    struct picture_rows picture;
    float *channel[TIFF_CHANNELS]; /* one row of each: colours, then opacity */
    int channels;
    float top; /* what min-is-white counts down from */
    struct error *err;
};

bool read_tiff_recognise(const unsigned char *head, size_t size,
                         const struct picture_source *source)
{
    (void)source;
    return tiff_file_recognise(head, size);
}

/* Where whole numbers end; floats have no end that a file tells. */
static float full_value(const struct tiff_layout *l)
{
    int bits = l->format == SAMPLEFORMAT_INT ? l->bits - 1 : l->bits;
    return l->format == SAMPLEFORMAT_IEEEFP ? 0 : (float)(ldexp(1, bits) - 1);
}

static int allocate(struct tiff_reader *r, int orientation)
{
    const struct tiff_layout *l = &r->rows.layout;
    size_t width = (size_t)l->width;
    r->channels = l->colours + (l->alpha >= 0);
    for (int c = 0; c < r->channels; c++) {
        r->channel[c] = malloc(width * sizeof **r->channel);
        if (!r->channel[c]) {
            return error_memory(r->err);
        }
    }
    r->frame->luminance.full = full_value(l);
    r->top = r->frame->luminance.full > 0 ? r->frame->luminance.full : 1;
    int code = binner_start(&r->binner, r->frame, l->width, l->height, orientation, 1, l->bits,
                            r->options, r->err);
    return code || !r->options->want_picture ? code
                                             : picture_rows_start(&r->picture, &r->binner, r->err);
}

static int prepare(struct tiff_reader *r)
{
    struct exif_tags tags = {0};
    size_t size = 0;
    FILE *stream = picture_source_open(r->source, &size, r->err);
    if (!stream) {
        return ERROR_INPUT;
    }
    fclose(stream);
    int code = tiff_rows_open(&r->rows, r->source, size, r->err);
    if (code) {
        return code;
    }
    tiff_tags_read(&tags, r->source);
    exif_tags_facts(&r->frame->facts, &tags, r->rows.layout.width, r->rows.layout.height);
    return allocate(r, exif_tags_orientation(&tags));
}

/* Decodes the next row into the channels. */
static int next_row(struct tiff_reader *r)
{
    const struct tiff_layout *l = &r->rows.layout;
    const unsigned char *sample[TIFF_CHANNELS];
    size_t step;
    enum sample_kind kind = l->format == SAMPLEFORMAT_IEEEFP ? SAMPLE_FLOAT
                            : l->format == SAMPLEFORMAT_INT  ? SAMPLE_SIGNED
                                                             : SAMPLE_UNSIGNED;
    int code = tiff_rows_next(&r->rows, sample, &step, r->err);
    for (int c = 0; c < r->channels && !code; c++) {
        samples_to_float(r->channel[c], sample[c], step, l->width, kind, l->bits);
    }
    for (int x = 0; l->min_is_white && !code && x < l->width; x++) {
        r->channel[0][x] = r->top - r->channel[0][x];
    }
    return code;
}

static void fill_luminance(float *restrict line, const struct tiff_reader *r)
{
    const struct tiff_layout *l = &r->rows.layout;
    const float *red = r->channel[0], third = 1.0F / 3.0F;
    for (int x = 0; x < l->width; x++) {
        line[x] = l->colours == 1 ? red[x] : (red[x] + r->channel[1][x] + r->channel[2][x]) * third;
    }
    for (int x = 0; l->alpha >= 0 && x < l->width; x++) {
        line[x] = r->channel[l->colours][x] > 0 ? line[x] : NAN;
    }
}

/* Grey stands for all three colours. */
static void find_colours(const float *colour[3], const struct tiff_reader *r)
{
    for (int c = 0; c < 3; c++) {
        colour[c] = r->channel[r->rows.layout.colours == 1 ? 0 : c];
    }
}

static int take_luminance(struct tiff_reader *r)
{
    const struct tiff_layout *l = &r->rows.layout;
    const float *colour[3];
    find_colours(colour, r);
    for (int y = 0; y < l->height; y++) {
        int code = next_row(r);
        if (code) {
            return code;
        }
        fill_luminance(binner_line(&r->binner), r);
        binner_add(&r->binner);
        picture_rows_look(&r->picture, y, colour);
    }
    return 0;
}

/* Where the picture's end stands for that of the file's numbers. */
static void read_profile(struct tiff_reader *r)
{
    uint32_t size = 0;
    const void *bytes = NULL;
    if (picture_rows_in_proportion(&r->picture) && r->frame->luminance.full > 0 &&
        TIFFGetField(r->rows.file[0].tiff, TIFFTAG_ICCPROFILE, &size, &bytes)) {
        colour_profile_keep(&r->frame->picture, bytes, size);
    }
}

static int take_picture(struct tiff_reader *r)
{
    const struct tiff_layout *l = &r->rows.layout;
    const float *colour[3];
    find_colours(colour, r);
    picture_rows_settle(&r->picture, r->frame->luminance.full);
    read_profile(r);
    for (int y = 0; y < l->height; y++) {
        int code = next_row(r);
        if (code) {
            return code;
        }
        picture_rows_add(&r->picture, colour, 1);
    }
    return 0;
}

int read_tiff(struct frame *frame, const struct picture_source *source,
              const struct frame_options *options, struct error *err)
{
    struct tiff_reader r = {.source = source, .frame = frame, .options = options, .err = err};
    int code = prepare(&r);
    code = code ? code : take_luminance(&r);
    if (!code && options->want_picture) {
        code = take_picture(&r);
    }
    for (int c = 0; c < TIFF_CHANNELS; c++) {
        free(r.channel[c]);
    }
    tiff_rows_free(&r.rows);
    binner_free(&r.binner);
    picture_rows_free(&r.picture);
    return code;
}
