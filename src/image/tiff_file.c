#include "image/tiff_file.h"

#include <stdio.h>
#include <string.h>

enum { MOST_DIRECTORIES = 64, MOST_BELOW = 16 };

/* Photometric interpretations of TIFF/EP and DNG that libtiff has names for, but not in all its
 * versions. */
enum { FILTER_ARRAY = 32803, LINEAR_RAW = 34892 };

bool tiff_file_recognise(const unsigned char *head, size_t size)
{
    return size >= 4 && (memcmp(head, "II*\0", 4) == 0 || memcmp(head, "MM\0*", 4) == 0 ||
                         memcmp(head, "II+\0", 4) == 0 || memcmp(head, "MM\0+", 4) == 0);
}

/* The first complaint is the cause; those after it follow. 1 keeps the library's own, global
 * handlers quiet. */
static int on_error(TIFF *tiff, void *context, const char *module, const char *format, va_list list)
{
    struct tiff_file *file = context;
    (void)tiff;
    (void)module;
    if (!file->trouble[0]) {
        vsnprintf(file->trouble, sizeof file->trouble, format, list);
    }
    return 1;
}

static int on_warning(TIFF *tiff, void *context, const char *module, const char *format,
                      va_list list)
{
    struct tiff_file *file = context;
    (void)tiff;
    (void)module;
    (void)format;
    (void)list;
    file->warnings++;
    return 1;
}

/* What the library asks of a file, for bytes in memory. */
static tmsize_t read_bytes(thandle_t handle, void *out, tmsize_t size)
{
    struct tiff_file *file = handle;
    size_t left = file->at < file->source.size ? file->source.size - file->at : 0;
    size_t count = (size_t)size < left ? (size_t)size : left;
    memcpy(out, file->source.bytes + (file->source.size - left), count);
    file->at += count;
    return (tmsize_t)count;
}

static tmsize_t write_bytes(thandle_t handle, void *bytes, tmsize_t size)
{
    (void)handle;
    (void)bytes;
    (void)size;
    return 0;
}

static toff_t seek_bytes(thandle_t handle, toff_t offset, int whence)
{
    struct tiff_file *file = handle;
    toff_t from = whence == SEEK_CUR ? file->at : whence == SEEK_END ? file->source.size : 0;
    file->at = (size_t)(from + offset); /* as unsigned numbers wrap, offset may be below 0 */
    return file->at;
}

static int close_bytes(thandle_t handle)
{
    (void)handle;
    return 0;
}

static toff_t size_bytes(thandle_t handle)
{
    return ((const struct tiff_file *)handle)->source.size;
}

/* Not mapped: a file that is cut short meanwhile would end the program. */
static TIFF *open_source(struct tiff_file *file, TIFFOpenOptions *options)
{
    return file->source.bytes
               ? TIFFClientOpenExt(file->name, "rm", file, read_bytes, write_bytes, seek_bytes,
                                   close_bytes, size_bytes, NULL, NULL, options)
               : TIFFOpenExt(file->name, "rm", options);
}

int tiff_file_open(struct tiff_file *file, const struct picture_source *source, struct error *err)
{
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (!options) {
        return error_memory(err);
    }
    file->name = source->name;
    file->source = *source;
    file->at = 0;
    file->trouble[0] = '\0';
    file->warnings = 0;
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_error, file);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, file);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, (tmsize_t)1 << 30);
    file->tiff = open_source(file, options);
    TIFFOpenOptionsFree(options);
    return file->tiff ? 0 : tiff_file_fail(file, "the first directory", err);
}

void tiff_file_close(struct tiff_file *file)
{
    if (file->tiff) {
        TIFFClose(file->tiff);
    }
    file->tiff = NULL;
}

/* The library ends some of its sentences with a stop, names the file again, or says nothing. */
int tiff_file_fail(const struct tiff_file *file, const char *doing, struct error *err)
{
    const char *trouble = file->trouble;
    size_t length = strlen(trouble);
    if (length > 0 && trouble[length - 1] == '.') {
        length--;
    }
    return error_set(err, ERROR_INPUT, "%s: cannot be read as a TIFF picture: %.*s%sin %s",
                     file->name, (int)length, trouble, length ? ", " : "", doing);
}

static bool is_full_size(TIFF *tiff)
{
    uint32_t kind = 0;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SUBFILETYPE, &kind);
    return (kind & (FILETYPE_REDUCEDIMAGE | FILETYPE_MASK)) == 0;
}

int tiff_file_find_picture(struct tiff_file *file, struct error *err)
{
    for (int i = 0; i < MOST_DIRECTORIES; i++) {
        uint32_t width = 0;
        if (is_full_size(file->tiff) && TIFFGetField(file->tiff, TIFFTAG_IMAGEWIDTH, &width)) {
            return 0;
        }
        if (!TIFFReadDirectory(file->tiff)) {
            break;
        }
    }
    if (file->trouble[0]) {
        return tiff_file_fail(file, "its directories", err);
    }
    return error_set(err, ERROR_INPUT, "%s: expected a picture of full size in this TIFF file",
                     file->name);
}

static bool has_sensor_values(TIFF *tiff)
{
    uint16_t shown = 0;
    TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &shown);
    return shown == FILTER_ARRAY || shown == LINEAR_RAW;
}

static bool is_dng(TIFF *tiff)
{
    const uint8_t *version = NULL;
    return TIFFGetField(tiff, TIFFTAG_DNGVERSION, &version) == 1;
}

/* Directories that the current one points at, up to MOST_BELOW; returns how many. */
static int list_below(TIFF *tiff, uint64_t offset[MOST_BELOW])
{
    uint16_t count = 0;
    const uint64_t *found = NULL;
    if (!TIFFGetField(tiff, TIFFTAG_SUBIFD, &count, &found)) {
        return 0;
    }
    count = count < MOST_BELOW ? count : MOST_BELOW;
    memcpy(offset, found, count * sizeof *offset);
    return count;
}

/* Shows the directories that follow each other, then those below the first, to look until it
 * returns false. False for what cannot be opened. */
static bool each_directory(const struct picture_source *source,
                           bool (*look)(TIFF *tiff, void *context), void *context)
{
    struct tiff_file file = {0};
    struct error ignored = {0};
    uint64_t below[MOST_BELOW];
    if (tiff_file_open(&file, source, &ignored) != 0) {
        tiff_file_close(&file);
        return false;
    }
    int count = list_below(file.tiff, below);
    bool more = look(file.tiff, context);
    for (int i = 0; i < MOST_DIRECTORIES && more && TIFFReadDirectory(file.tiff); i++) {
        more = look(file.tiff, context);
    }
    for (int i = 0; i < count && more; i++) {
        more = !TIFFSetSubDirectory(file.tiff, below[i]) || look(file.tiff, context);
    }
    tiff_file_close(&file);
    return true;
}

static bool look_for_raw(TIFF *tiff, void *context)
{
    bool *raw = context;
    *raw = has_sensor_values(tiff) || is_dng(tiff);
    return !*raw;
}

bool tiff_file_holds_raw(const struct picture_source *source)
{
    bool raw = false;
    return each_directory(source, look_for_raw, &raw) && raw;
}

static void measure_pieces(struct tiff_file_extent *extent, TIFF *tiff)
{
    const bool tiled = TIFFIsTiled(tiff), sensor = has_sensor_values(tiff);
    const uint64_t *place = NULL, *size = NULL;
    uint32_t count = tiled ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
    if (!TIFFGetField(tiff, tiled ? TIFFTAG_TILEOFFSETS : TIFFTAG_STRIPOFFSETS, &place) ||
        !TIFFGetField(tiff, tiled ? TIFFTAG_TILEBYTECOUNTS : TIFFTAG_STRIPBYTECOUNTS, &size)) {
        return;
    }
    for (uint32_t i = 0; i < count; i++) {
        double end = (double)place[i] + (double)size[i];
        extent->pixel_bytes += (double)size[i];
        extent->sensor_end = sensor && end > extent->sensor_end ? end : extent->sensor_end;
    }
    extent->sensor_start = sensor && count > 0 ? (double)place[0] : extent->sensor_start;
}

static bool measure_directory(TIFF *tiff, void *context)
{
    struct tiff_file_extent *extent = context;
    uint32_t width = 0, height = 0;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    double pixels = (double)width * height;
    extent->largest = pixels > extent->largest ? pixels : extent->largest;
    extent->is_dng = extent->is_dng || is_dng(tiff);
    measure_pieces(extent, tiff);
    return true;
}

bool tiff_file_measure(struct tiff_file_extent *extent, const struct picture_source *source)
{
    *extent = (struct tiff_file_extent){0};
    return each_directory(source, measure_directory, extent);
}
