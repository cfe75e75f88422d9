/* tests/unit/tiff_maker.h: small TIFF and DNG files of every kind, through libtiff. */
#ifndef ALIDADE_TESTS_TIFF_MAKER_H
#define ALIDADE_TESTS_TIFF_MAKER_H

#include "scratch.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <tiffio.h>

/* Zeros: 8-bit whole numbers, one grey sample a pixel, plain strips of all rows. */
struct tiff_kind {
    const char *mode; /* for libtiff, e.g. "wb8": big-endian BigTIFF; NULL: "wl" */
    int bits, format, samples;
    int photometric; /* 0: black is 0, or RGB for three samples and more */
    bool min_is_white;
    int alpha; /* whether the last sample is opacity: EXTRASAMPLE_... */
    bool apart;
    int tile, strip_rows, compression, predictor;
    bool no_values; /* one byte stands for all */
};

static inline int tiff_kind_bits(const struct tiff_kind *k)
{
    return k->bits ? k->bits : 8;
}

/* IEEE 754 binary16 of a number that it holds exactly. */
static inline uint16_t tiff_half(double value)
{
    int exponent;
    double part = frexp(fabs(value), &exponent); /* 0.5..1 */
    int bits = value == 0 ? 0 : (exponent + 14) << 10 | ((int)(part * 2048) - 1024);
    return (uint16_t)(value < 0 ? bits | 0x8000 : bits);
}

static inline void tiff_put_value(unsigned char *at, double value, const struct tiff_kind *k)
{
    int bits = tiff_kind_bits(k);
    if (k->format == SAMPLEFORMAT_IEEEFP) {
        float single = (float)value;
        uint16_t half = tiff_half(value);
        const void *from = bits == 64 ? (const void *)&value : bits == 32 ? (void *)&single : &half;
        memcpy(at, from, (size_t)bits / 8);
        return;
    }
    int64_t whole = (int64_t)value;
    for (int i = 0; i < bits / 8; i++) { /* little-endian, as this machine */
        at[i] = (unsigned char)((uint64_t)whole >> 8 * i);
    }
}

static inline void tiff_put_fields(TIFF *tiff, int width, int height, const struct tiff_kind *k)
{
    int samples = k->samples ? k->samples : 1;
    int photometric = k->photometric    ? k->photometric
                      : k->min_is_white ? PHOTOMETRIC_MINISWHITE
                      : samples >= 3    ? PHOTOMETRIC_RGB
                                        : PHOTOMETRIC_MINISBLACK;
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, width);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, height);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, tiff_kind_bits(k));
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, samples);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, photometric);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG,
                 k->apart ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, k->compression ? k->compression : COMPRESSION_NONE);
    if (photometric == PHOTOMETRIC_PALETTE) {
        static uint16_t colours[256];
        TIFFSetField(tiff, TIFFTAG_COLORMAP, colours, colours, colours);
    }
    if (k->format) {
        TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, k->format);
    }
    if (k->predictor) {
        TIFFSetField(tiff, TIFFTAG_PREDICTOR, k->predictor);
    }
    if (k->alpha) {
        uint16_t kind = (uint16_t)k->alpha;
        TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, &kind);
    }
    if (k->tile) {
        TIFFSetField(tiff, TIFFTAG_TILEWIDTH, k->tile);
        TIFFSetField(tiff, TIFFTAG_TILELENGTH, k->tile);
    } else {
        TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, k->strip_rows ? k->strip_rows : height);
    }
}

/* value[(y * width + x) * samples + s]; in files that lie apart, first + s is the only sample. */
static inline void tiff_put_rows(TIFF *tiff, int width, int height, const struct tiff_kind *k,
                                 const double *value, int first)
{
    static unsigned char row[64 * 64 * 8];
    int samples = k->samples ? k->samples : 1, here = k->apart ? 1 : samples;
    int bytes = tiff_kind_bits(k) / 8, side = k->tile;
    for (int y0 = 0; y0 < height; y0 += side ? side : 1) {
        for (int x0 = 0; x0 < width; x0 += side ? side : width) {
            int wide = side ? side : width, high = side ? side : 1;
            memset(row, 0, sizeof row);
            for (int i = 0; i < wide * high * here; i++) {
                int x = x0 + i / here % wide, y = y0 + i / here / wide, s = first + i % here;
                if (x < width && y < height) {
                    tiff_put_value(row + i * bytes, value[(y * width + x) * samples + s], k);
                }
            }
            ck_assert(
                side ? TIFFWriteTile(tiff, row, (uint32_t)x0, (uint32_t)y0, 0, (uint16_t)first) >= 0
                     : TIFFWriteScanline(tiff, row, (uint32_t)y0, (uint16_t)first) == 1);
        }
    }
}

static inline void tiff_put_one_byte(TIFF *tiff, bool tiled)
{
    unsigned char byte[] = {0};
    ck_assert(tiled ? TIFFWriteRawTile(tiff, 0, byte, 1) == 1
                    : TIFFWriteRawStrip(tiff, 0, byte, 1) == 1);
}

/* Writes a file and returns its path; value may be NULL with no_values. */
static inline const char *tiff_make(const char *name, int width, int height,
                                    const struct tiff_kind *k, const double *value)
{
    const char *path = scratch_path(name);
    TIFF *tiff = TIFFOpen(path, k->mode ? k->mode : "wl");
    ck_assert_ptr_nonnull(tiff);
    tiff_put_fields(tiff, width, height, k);
    int planes = k->apart ? (k->samples ? k->samples : 1) : 1;
    for (int p = 0; p < planes && !k->no_values; p++) {
        tiff_put_rows(tiff, width, height, k, value, p);
    }
    if (k->no_values) {
        tiff_put_one_byte(tiff, k->tile != 0);
    }
    ck_assert(TIFFWriteDirectory(tiff));
    TIFFClose(tiff);
    return path;
}

/* What a camera's sensor file has beyond a picture of 16 bits. */
struct dng_kind {
    int cell;               /* 2: Bayer, 6: X-Trans, 0: grey */
    const float *black;     /* of a 2 x 2 pattern, or NULL */
    unsigned white;         /* 0: not stated */
    int orientation;        /* 0: not stated */
    const uint32_t *active; /* top, left, bottom, right; or NULL */
    int bits;               /* stored in a word of 16: below, whatever is stated */
};

static inline void dng_put_fields(TIFF *tiff, const struct dng_kind *k)
{
    static const uint8_t version[] = {1, 4, 0, 0}, bayer[] = {0, 1, 1, 2};
    /* The pattern of X-Trans sensors, published with the first of them. */
    static const uint8_t trans[] = {1, 2, 1, 1, 0, 1, 0, 1, 0, 2, 1, 2, 1, 2, 1, 1, 0, 1,
                                    1, 0, 1, 1, 2, 1, 2, 1, 2, 0, 1, 0, 1, 0, 1, 1, 2, 1};
    const uint16_t cell[] = {(uint16_t)k->cell, (uint16_t)k->cell}, pair[] = {2, 2};
    TIFFSetField(tiff, TIFFTAG_DNGVERSION, version);
    TIFFSetField(tiff, TIFFTAG_MAKE, "Alidade");
    TIFFSetField(tiff, TIFFTAG_MODEL, "test camera");
    if (k->cell) {
        TIFFSetField(tiff, TIFFTAG_CFAREPEATPATTERNDIM, cell);
        TIFFSetField(tiff, TIFFTAG_CFAPATTERN, k->cell * k->cell, k->cell == 2 ? bayer : trans);
    }
    if (k->black) {
        TIFFSetField(tiff, TIFFTAG_BLACKLEVELREPEATDIM, pair);
        TIFFSetField(tiff, TIFFTAG_BLACKLEVEL, 4, k->black);
    }
    if (k->white) {
        TIFFSetField(tiff, TIFFTAG_WHITELEVEL, 1, &k->white);
    }
    if (k->orientation) {
        TIFFSetField(tiff, TIFFTAG_ORIENTATION, k->orientation);
    }
    if (k->active) {
        TIFFSetField(tiff, TIFFTAG_ACTIVEAREA, k->active);
    }
}

static inline const char *dng_make(const char *name, int width, int height,
                                   const struct dng_kind *k, const double *value)
{
    const struct tiff_kind shape = {.bits = 16, .photometric = k->cell ? PHOTOMETRIC_CFA : 34892};
    const char *path = scratch_path(name);
    TIFF *tiff = TIFFOpen(path, "wl");
    ck_assert_ptr_nonnull(tiff);
    tiff_put_fields(tiff, width, height, &shape);
    dng_put_fields(tiff, k);
    tiff_put_rows(tiff, width, height, &shape, value, 0);
    ck_assert(TIFFWriteDirectory(tiff));
    TIFFClose(tiff);
    return path;
}

#endif
