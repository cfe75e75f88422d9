#include "image/tiff_rows.h"

#include "image/guards/limits.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* LZW and the densest of the others have no bound that means anything, but nothing with stars in it
 * comes near this. */
static const double packed_pixels_per_byte = 4096;

enum { MOST_TILE_PIXELS = 64 << 20 };

static int refuse(const struct tiff_file *file, const char *what, const char *expected,
                  struct error *err)
{
    return error_set(err, ERROR_INPUT, "%s: a TIFF %s; expected %s", file->name, what, expected);
}

static int value_of(TIFF *tiff, uint32_t tag)
{
    uint16_t value = 0;
    TIFFGetFieldDefaulted(tiff, tag, &value);
    return value;
}

static int check_colours(struct tiff_layout *l, const struct tiff_file *file, struct error *err)
{
    static const char expected[] = "grey or RGB";
    switch (l->photometric) {
    case PHOTOMETRIC_MINISWHITE:
    case PHOTOMETRIC_MINISBLACK:
        l->colours = 1;
        break;
    case PHOTOMETRIC_RGB:
        l->colours = 3;
        break;
    case PHOTOMETRIC_YCBCR:
        l->colours = 3;
        if (l->compression != COMPRESSION_JPEG || l->apart) {
            return refuse(file, "in YCbCr without JPEG", expected, err);
        }
        TIFFSetField(file->tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
        break;
    case PHOTOMETRIC_SEPARATED:
        return refuse(file, "in printing colours (CMYK)", expected, err);
    case PHOTOMETRIC_PALETTE:
        return refuse(file, "with a colour palette", expected, err);
    default:
        return refuse(file, "of a colour model that is not known here", expected, err);
    }
    l->min_is_white = l->photometric == PHOTOMETRIC_MINISWHITE;
    return l->samples >= l->colours
               ? 0
               : refuse(file, "with fewer samples than colours", expected, err);
}

/* The first extra sample that is stated to be opacity. */
static void find_alpha(struct tiff_layout *l, TIFF *tiff)
{
    uint16_t count = 0;
    const uint16_t *kind = NULL;
    l->alpha = -1;
    if (!TIFFGetField(tiff, TIFFTAG_EXTRASAMPLES, &count, &kind)) {
        return;
    }
    for (int i = 0; i < count && l->alpha < 0; i++) {
        bool opacity = kind[i] == EXTRASAMPLE_ASSOCALPHA || kind[i] == EXTRASAMPLE_UNASSALPHA;
        l->alpha = opacity && l->colours + i < l->samples ? l->colours + i : -1;
    }
    if (l->alpha != l->colours) {
        l->alpha = -1; /* one that lies behind other samples is not worth a fourth plane */
    }
}

static int check_numbers(const struct tiff_layout *l, const struct tiff_file *file,
                         struct error *err)
{
    bool whole = l->format == SAMPLEFORMAT_UINT || l->format == SAMPLEFORMAT_INT;
    bool good = whole ? l->bits == 8 || l->bits == 16 || l->bits == 32
                      : l->format == SAMPLEFORMAT_IEEEFP &&
                            (l->bits == 16 || l->bits == 32 || l->bits == 64);
    if (good && l->samples <= 64) {
        return 0;
    }
    return error_set(err, ERROR_INPUT,
                     "%s: a TIFF with %d samples a pixel of %d bits; expected whole numbers of 8, "
                     "16 or 32 bits or floats of 16, 32 or 64",
                     file->name, l->samples, l->bits);
}

static int check_packing(const struct tiff_layout *l, const struct tiff_file *file,
                         size_t file_bytes, struct error *err)
{
    if (!TIFFIsCODECConfigured((uint16_t)l->compression) || l->compression == COMPRESSION_OJPEG) {
        return error_set(err, ERROR_INPUT,
                         "%s: a TIFF compressed in a way (%d) that is not known here", file->name,
                         l->compression);
    }
    bool plain = l->compression == COMPRESSION_NONE;
    double density = plain ? 8.0 / ((double)l->bits * l->samples) : packed_pixels_per_byte;
    int code = limits_check(file->name, l->width, l->height, file_bytes, density, err);
    if (!code && l->tiled &&
        (l->tile_width < 1 || l->tile_height < 1 ||
         (double)l->tile_width * l->tile_height > MOST_TILE_PIXELS)) {
        return refuse(file, "with tiles of absurd size", "at most 64 megapixels each", err);
    }
    return code;
}

int tiff_layout_read(struct tiff_layout *layout, struct tiff_file *file, size_t file_bytes,
                     struct error *err)
{
    TIFF *tiff = file->tiff;
    uint32_t width = 0, height = 0, tile_width = 0, tile_height = 0;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    int code = limits_check(file->name, width, height, file_bytes, packed_pixels_per_byte, err);
    if (code) {
        return code;
    }
    TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &tile_width);
    TIFFGetField(tiff, TIFFTAG_TILELENGTH, &tile_height);
    *layout = (struct tiff_layout){
        .width = (int)width,
        .height = (int)height,
        .samples = value_of(tiff, TIFFTAG_SAMPLESPERPIXEL),
        .bits = value_of(tiff, TIFFTAG_BITSPERSAMPLE),
        .format = value_of(tiff, TIFFTAG_SAMPLEFORMAT),
        .photometric = value_of(tiff, TIFFTAG_PHOTOMETRIC),
        .compression = value_of(tiff, TIFFTAG_COMPRESSION),
        .apart = value_of(tiff, TIFFTAG_PLANARCONFIG) == PLANARCONFIG_SEPARATE,
        .tiled = TIFFIsTiled(tiff) != 0,
        .tile_width = tile_width <= LIMIT_SIDE + 4096 ? (int)tile_width : 0,
        .tile_height = tile_height <= LIMIT_SIDE + 4096 ? (int)tile_height : 0,
    };
    layout->format = layout->format == SAMPLEFORMAT_VOID ? SAMPLEFORMAT_UINT : layout->format;
    code = check_numbers(layout, file, err);
    code = code ? code : check_colours(layout, file, err);
    code = code ? code : check_packing(layout, file, file_bytes, err);
    if (!code) {
        find_alpha(layout, tiff);
    }
    return code;
}

static int open_plane(struct tiff_rows *rows, int plane, const struct picture_source *source,
                      size_t file_bytes, struct error *err)
{
    struct tiff_file *file = &rows->file[plane];
    int code = tiff_file_open(file, source, err);
    code = code ? code : tiff_file_find_picture(file, err);
    return code ? code : tiff_layout_read(&rows->layout, file, file_bytes, err);
}

/* The library's own idea of a row or tile must be the one that is allocated for. */
static int allocate(struct tiff_rows *rows, struct error *err)
{
    const struct tiff_layout *l = &rows->layout;
    size_t pixel = (size_t)l->bits / 8 * (size_t)(l->apart ? 1 : l->samples);
    size_t height = l->tiled ? (size_t)l->tile_height : 1;
    rows->stride = pixel * (size_t)l->width;
    size_t tile = pixel * (size_t)l->tile_width * (size_t)l->tile_height;
    size_t stated = (size_t)(l->tiled ? TIFFTileSize64(rows->file[0].tiff)
                                      : TIFFScanlineSize64(rows->file[0].tiff));
    if (stated != (l->tiled ? tile : rows->stride)) {
        return refuse(&rows->file[0], "whose rows don't add up", "width times samples", err);
    }
    for (int p = 0; p < rows->planes; p++) {
        rows->band[p] = malloc(rows->stride * height);
        if (!rows->band[p]) {
            return error_memory(err);
        }
    }
    rows->tile = l->tiled ? malloc(tile) : NULL;
    return l->tiled && !rows->tile ? error_memory(err) : 0;
}

int tiff_rows_open(struct tiff_rows *rows, const struct picture_source *source, size_t file_bytes,
                   struct error *err)
{
    memset(rows, 0, sizeof *rows);
    int code = open_plane(rows, 0, source, file_bytes, err);
    const struct tiff_layout *l = &rows->layout;
    int needed = l->colours + (l->alpha >= 0);
    rows->planes = l->apart ? needed : 1;
    for (int p = 1; p < rows->planes && !code; p++) {
        code = open_plane(rows, p, source, file_bytes, err);
    }
    return code ? code : allocate(rows, err);
}

void tiff_rows_free(struct tiff_rows *rows)
{
    for (int p = 0; p < TIFF_CHANNELS; p++) {
        tiff_file_close(&rows->file[p]);
        free(rows->band[p]);
    }
    free(rows->tile);
    memset(rows, 0, sizeof *rows);
}

/* JPEG inside TIFF only warns when data are missing or damaged, and goes on in grey. */
static bool is_bad(const struct tiff_rows *rows, int plane, int warnings_before)
{
    return rows->layout.compression == COMPRESSION_JPEG &&
           rows->file[plane].warnings > warnings_before;
}

static int fail(const struct tiff_rows *rows, int plane, struct error *err)
{
    char doing[64];
    snprintf(doing, sizeof doing, "row %d of %d", rows->row + 1, rows->layout.height);
    return tiff_file_fail(&rows->file[plane], doing, err);
}

/* Decodes a row of tiles of one plane into its band. */
static bool read_tiles(struct tiff_rows *rows, int plane)
{
    const struct tiff_layout *l = &rows->layout;
    size_t pixel = rows->stride / (size_t)l->width, line = pixel * (size_t)l->tile_width;
    int high = l->height - rows->row < l->tile_height ? l->height - rows->row : l->tile_height;
    for (int x = 0; x < l->width; x += l->tile_width) {
        int wide = l->width - x < l->tile_width ? l->width - x : l->tile_width;
        if (TIFFReadTile(rows->file[plane].tiff, rows->tile, (uint32_t)x, (uint32_t)rows->row, 0,
                         (uint16_t)plane) < 0) {
            return false;
        }
        for (int y = 0; y < high; y++) {
            memcpy(rows->band[plane] + (size_t)y * rows->stride + (size_t)x * pixel,
                   rows->tile + (size_t)y * line, (size_t)wide * pixel);
        }
    }
    return true;
}

static bool read_plane(struct tiff_rows *rows, int plane)
{
    if (!rows->layout.tiled) {
        return TIFFReadScanline(rows->file[plane].tiff, rows->band[plane], (uint32_t)rows->row,
                                (uint16_t)plane) == 1;
    }
    return rows->row % rows->layout.tile_height != 0 || read_tiles(rows, plane);
}

int tiff_rows_next(struct tiff_rows *rows, const unsigned char *sample[TIFF_CHANNELS], size_t *step,
                   struct error *err)
{
    const struct tiff_layout *l = &rows->layout;
    size_t bytes = (size_t)l->bits / 8;
    size_t offset = l->tiled ? (size_t)(rows->row % l->tile_height) * rows->stride : 0;
    for (int p = 0; p < rows->planes; p++) {
        int before = rows->file[p].warnings;
        if (!read_plane(rows, p) || is_bad(rows, p, before)) {
            return fail(rows, p, err);
        }
    }
    for (int c = 0; c < TIFF_CHANNELS; c++) {
        bool there = c < l->colours + (l->alpha >= 0);
        sample[c] = !there     ? NULL
                    : l->apart ? rows->band[c] + offset
                               : rows->band[0] + offset + (size_t)c * bytes;
    }
    *step = l->apart ? bytes : bytes * (size_t)l->samples;
    rows->row = rows->row + 1 < l->height ? rows->row + 1 : 0;
    return 0;
}
