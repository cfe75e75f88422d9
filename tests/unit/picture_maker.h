/* tests/unit/picture_maker.h: small picture files of every kind, for tests to read back. */
#ifndef ALIDADE_TESTS_PICTURE_MAKER_H
#define ALIDADE_TESTS_PICTURE_MAKER_H

#include "exif_maker.h"
#include "scratch.h"

#include <fitsio.h>
#include <png.h>

#include <jpeglib.h>

/* A picture in memory: value[(y * width + x) * channels + c], 8 or 16 bits. */
struct sample_picture {
    int width, height, channels, depth;
    unsigned value[64 * 64 * 4];
};

/* Different everywhere, so that a pixel in the wrong place shows. */
static inline void picture_fill(struct sample_picture *p, int width, int height, int channels,
                                int depth)
{
    p->width = width;
    p->height = height;
    p->channels = channels;
    p->depth = depth;
    unsigned mask = depth == 16 ? 0xffff : (1U << depth) - 1;
    for (int i = 0; i < width * height * channels; i++) {
        unsigned mixed = (unsigned)i * 2654435761U;
        p->value[i] = (mixed >> 13) & mask;
    }
}

struct png_kind {
    int colour; /* PNG_COLOR_TYPE_... */
    int depth;
    bool interlaced;
    const struct exif_block *exif; /* or NULL */
    bool header_only;              /* no pixels to speak of, no end */
};

static inline void picture_pack_row(unsigned char *row, const struct sample_picture *p, int y)
{
    int count = p->width * p->channels;
    memset(row, 0, 64 * 4 * 2);
    for (int i = 0; i < count; i++) {
        unsigned value = p->value[y * count + i];
        if (p->depth == 16) {
            row[2 * i] = (unsigned char)(value >> 8);
            row[2 * i + 1] = (unsigned char)value;
        } else {
            int bit = i * p->depth;
            row[bit / 8] |= (unsigned char)(value << (8 - p->depth - bit % 8));
        }
    }
}

static inline void png_write_tags(png_structp png, png_infop info, const struct png_kind *kind)
{
    if (kind->exif) {
        unsigned char copy[EXIF_BLOCK_MAX];
        memcpy(copy, kind->exif->bytes + 6, kind->exif->size - 6);
        png_set_eXIf_1(png, info, (png_uint_32)kind->exif->size - 6, copy);
    }
    if (kind->colour == PNG_COLOR_TYPE_PALETTE) {
        /* Entry i is (i, 2i, 255 - i); the last one is transparent. */
        png_color palette[16];
        png_byte alpha[16];
        for (int i = 0; i < 16; i++) {
            palette[i] = (png_color){(png_byte)i, (png_byte)(2 * i), (png_byte)(255 - i)};
            alpha[i] = i == 15 ? 0 : 255;
        }
        png_set_PLTE(png, info, palette, 16);
        png_set_tRNS(png, info, alpha, 16, NULL);
    }
}

/* Writes width x height pixels (0: those of p) and returns the path. */
static inline const char *png_make(const char *name, const struct sample_picture *p,
                                   const struct png_kind *kind, int width, int height)
{
    const char *path = scratch_path(name);
    FILE *file = fopen(path, "wb");
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    ck_assert(file && png && info);
    png_init_io(png, file);
    png_set_IHDR(png, info, (png_uint_32)(width ? width : p->width),
                 (png_uint_32)(height ? height : p->height), kind->depth, kind->colour,
                 kind->interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_tags(png, info, kind);
    png_write_info(png, info);
    if (kind->header_only) {
        png_write_chunk(png, (png_const_bytep) "IDAT", (png_const_bytep) "x", 1);
    } else {
        static unsigned char rows[64][64 * 4 * 2];
        png_bytep pointers[64];
        for (int y = 0; y < p->height; y++) {
            picture_pack_row(rows[y], p, y);
            pointers[y] = rows[y];
        }
        png_write_image(png, pointers);
        png_write_end(png, NULL);
    }
    png_destroy_write_struct(&png, &info);
    fclose(file);
    return path;
}

struct jpeg_kind {
    bool progressive;
    const struct exif_block *exif;
};

/* Best quality, no colour subsampling; four channels are CMYK. */
static inline const char *jpeg_make(const char *name, const struct sample_picture *p,
                                    const struct jpeg_kind *kind)
{
    static const J_COLOR_SPACE spaces[] = {JCS_UNKNOWN, JCS_GRAYSCALE, JCS_UNKNOWN, JCS_RGB,
                                           JCS_CMYK};
    const char *path = scratch_path(name);
    FILE *file = fopen(path, "wb");
    ck_assert_ptr_nonnull(file);
    struct jpeg_compress_struct info;
    struct jpeg_error_mgr errors;
    info.err = jpeg_std_error(&errors);
    jpeg_create_compress(&info);
    jpeg_stdio_dest(&info, file);
    info.image_width = (JDIMENSION)p->width;
    info.image_height = (JDIMENSION)p->height;
    info.input_components = p->channels;
    info.in_color_space = spaces[p->channels];
    jpeg_set_defaults(&info);
    jpeg_set_quality(&info, 100, TRUE);
    info.comp_info[0].h_samp_factor = info.comp_info[0].v_samp_factor = 1;
    if (kind->progressive) {
        jpeg_simple_progression(&info);
    }
    jpeg_start_compress(&info, TRUE);
    if (kind->exif) {
        jpeg_write_marker(&info, JPEG_APP0 + 1, kind->exif->bytes, (unsigned)kind->exif->size);
    }
    for (int y = 0; y < p->height; y++) {
        unsigned char row[64 * 4 * 2];
        JSAMPROW pointer = row;
        picture_pack_row(row, p, y);
        jpeg_write_scanlines(&info, &pointer, 1);
    }
    jpeg_finish_compress(&info);
    jpeg_destroy_compress(&info);
    fclose(file);
    return path;
}

/* Slopes that survive JPEG's rounding: neighbouring pixels differ by a few units. */
static inline void picture_slopes(struct sample_picture *p, int width, int height, int channels)
{
    picture_fill(p, width, height, channels, 8);
    for (int i = 0; i < width * height * channels; i++) {
        int c = i % channels, x = i / channels % width, y = i / channels / width;
        p->value[i] = (unsigned)(20 + 2 * x + y + 30 * c);
    }
}

struct fits_kind {
    int bitpix;      /* USHORT_IMG and the like, too */
    int compression; /* RICE_1 ..., 0: none */
    long planes;
    bool in_extension;
};

/* Adds an image unit that holds value. */
static inline void fits_add_image(fitsfile *file, int width, int height,
                                  const struct fits_kind *kind, const double *value)
{
    static double copy[64 * 64 * 4]; /* the library wants it writable */
    int status = 0;
    long planes = kind->planes ? kind->planes : 1;
    long lengths[3] = {width, height, planes};
    memcpy(copy, value, (size_t)(width * height * planes) * sizeof *copy);
    fits_create_img(file, kind->bitpix, planes > 1 ? 3 : 2, lengths, &status);
    fits_write_img(file, TDOUBLE, 1, width * height * planes, copy, &status);
    ck_assert_msg(status == 0, "CFITSIO: %d", status);
}

/* Writes value, width * height * planes of them, and leaves the file open for more cards. */
static inline fitsfile *fits_make(const char *name, int width, int height,
                                  const struct fits_kind *kind, const double *value)
{
    fitsfile *file = NULL, *loose = NULL;
    int status = 0;
    const char *path = scratch_path(name);
    remove(path);
    fits_create_diskfile(&file, path, &status);
    if (kind->in_extension) {
        fits_create_img(file, BYTE_IMG, 0, NULL, &status);
    }
    if (!kind->compression) {
        fits_add_image(file, width, height, kind, value);
        return file;
    }
    fits_create_file(&loose, "mem://", &status);
    fits_add_image(loose, width, height, kind, value);
    fits_set_compression_type(file, kind->compression, &status);
    fits_set_quantize_level(file, 0, &status);
    fits_img_compress(loose, file, &status);
    fits_close_file(loose, &status);
    ck_assert_msg(status == 0, "CFITSIO: %d", status);
    return file;
}

static inline const char *fits_done(fitsfile *file, const char *name)
{
    int status = 0;
    fits_close_file(file, &status);
    ck_assert_msg(status == 0, "CFITSIO: %d", status);
    return scratch_path(name);
}

/* Small values, different from pixel to pixel. */
enum { FITS_WIDTH = 13, FITS_HEIGHT = 9, FITS_PIXELS = FITS_WIDTH * FITS_HEIGHT };

static inline double fits_value(int i)
{
    return (i * 37) % 101;
}

static inline void fits_fill(double *value, int count, double offset, double scale)
{
    for (int i = 0; i < count; i++) {
        value[i] = offset + scale * fits_value(i);
    }
}

/* A FITS header of the cards given, padded, then data of size bytes that are 0. */
static inline const char *fits_by_hand(const char *name, const char *const *cards, size_t size)
{
    unsigned char *bytes = calloc(1, 2880 + size);
    ck_assert_ptr_nonnull(bytes);
    memset(bytes, ' ', 2880);
    for (size_t i = 0; cards[i]; i++) {
        memcpy(bytes + 80 * i, cards[i], strlen(cards[i]));
    }
    const char *path = scratch_write(name, bytes, 2880 + size);
    free(bytes);
    return path;
}

#endif
