#include "demo/render_write.h"

#include "base/file.h"
#include "demo/render_dng.h"
#include "demo/render_exif.h"

#include <errno.h>
#include <fitsio.h>
#include <math.h>
#include <png.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include <jpeglib.h> /* wants stdio.h before it */

static unsigned short to_16_bits(float adu)
{
    return (unsigned short)(adu * 4 + 0.5f);
}

static int cannot_write(const char *name, struct error *err)
{
    return error_set(err, ERROR_OUTPUT, "%s: could not be written: %s", name, strerror(errno));
}

/* Writes size bytes as the whole file. */
static int write_bytes(const char *name, const void *bytes, size_t size, struct error *err)
{
    struct file_out out = {0};
    int result = file_out_open(&out, name, err);
    if (result) {
        return result;
    }
    if (fwrite(bytes, 1, size, out.stream) != size) {
        result = cannot_write(name, err);
        file_out_abandon(&out);
        return result;
    }
    return file_out_commit(&out, err);
}

/* ---- FITS ---- */

static void put_facts(fitsfile *fits, const struct rendering *rendering,
                      const struct render_header *header, int *status)
{
    const struct render_options *o = &rendering->options;
    double focal = header->stated_focal_mm > 0 ? header->stated_focal_mm : o->camera.focal_mm;
    char date[40];
    time_stamp_write(date, sizeof date, &o->start);
    date[strcspn(date, "Z")] = '\0'; /* the standard has no zone in it */
    if (date[0]) {
        fits_write_key_str(fits, "DATE-OBS", date, "UTC, start of the exposure", status);
    }
    fits_write_key_dbl(fits, "EXPTIME", o->camera.exposure_s, -6, "[s]", status);
    fits_write_key_dbl(fits, "FOCALLEN", focal, -6, "[mm]", status);
    fits_write_key_dbl(fits, "XPIXSZ", o->camera.pixel_um, -6, "[um]", status);
    fits_write_key_dbl(fits, "YPIXSZ", o->camera.pixel_um, -6, "[um]", status);
    fits_write_key_dbl(fits, "ISOSPEED", o->sensor.iso, -6, "", status);
    fits_write_key_str(fits, "INSTRUME", "demo camera", "made up", status);
}

static void put_rows(fitsfile *fits, const struct rendering *rendering, unsigned short *row,
                     int *status)
{
    for (int y = rendering->height - 1; y >= 0 && !*status; y--) {
        const float *adu = rendering->adu + (long)y * rendering->width;
        for (int x = 0; x < rendering->width; x++) {
            row[x] = to_16_bits(adu[x]);
        }
        LONGLONG first = (LONGLONG)(rendering->height - 1 - y) * rendering->width + 1;
        fits_write_img_usht(fits, 1, first, rendering->width, row, status);
    }
}

int render_write_fits(const struct rendering *rendering, const char *name,
                      const struct render_header *header, struct error *err)
{
    long size[2] = {rendering->width, rendering->height};
    size_t room = (size_t)rendering->width * (size_t)rendering->height * 2 + 4 * 2880;
    void *bytes = calloc(1, room);
    unsigned short *row = malloc((size_t)rendering->width * sizeof *row);
    fitsfile *fits = NULL;
    LONGLONG start, data, end = 0;
    int status = 0, closing = 0, result;
    if (!bytes || !row) {
        free(bytes);
        free(row);
        return error_memory(err);
    }
    fits_create_memfile(&fits, &bytes, &room, 2880, realloc, &status);
    fits_create_img(fits, USHORT_IMG, 2, size, &status);
    if (!header->bare) {
        put_facts(fits, rendering, header, &status);
    }
    put_rows(fits, rendering, row, &status);
    fits_flush_file(fits, &status);
    fits_get_hduaddrll(fits, &start, &data, &end, &status);
    if (fits) {
        fits_close_file(fits, &closing);
    }
    result = status ? error_set(err, ERROR_OUTPUT, "%s: FITS writer, status %d", name, status)
                    : write_bytes(name, bytes, (size_t)end, err);
    free(row);
    free(bytes);
    return result;
}

/* ---- PNG ---- */

/* Row y as PNG stores it: big-endian. */
static void png_row(unsigned char *row, const struct rendering *rendering, int y)
{
    const float *adu = rendering->adu + (long)y * rendering->width;
    for (int x = 0; x < rendering->width; x++) {
        unsigned short value = to_16_bits(adu[x]);
        row[2 * x] = (unsigned char)(value >> 8);
        row[2 * x + 1] = (unsigned char)(value & 255);
    }
}

/* bytes: the 8-bit picture, or room for one row of 16 bits. */
static bool put_png(FILE *stream, const struct rendering *rendering, int bits, unsigned char *bytes)
{
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png ? png_create_info_struct(png) : NULL;
    if (!info || setjmp(png_jmpbuf(png))) {
        png_destroy_write_struct(&png, &info);
        return false;
    }
    png_init_io(png, stream);
    png_set_compression_level(png, 2); /* noise does not get smaller by trying harder */
    png_set_IHDR(png, info, (png_uint_32)rendering->width, (png_uint_32)rendering->height, bits,
                 PNG_COLOR_TYPE_GRAY, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int y = 0; y < rendering->height; y++) {
        if (bits == 16) {
            png_row(bytes, rendering, y);
            png_write_row(png, bytes);
        } else {
            png_write_row(png, bytes + (long)y * rendering->width);
        }
    }
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
    return true;
}

int render_write_png(const struct rendering *rendering, const char *name, int bits,
                     struct error *err)
{
    size_t width = (size_t)rendering->width;
    unsigned char *bytes = malloc(bits == 16 ? 2 * width : width * (size_t)rendering->height);
    struct file_out out = {0};
    if (!bytes) {
        return error_memory(err);
    }
    if (bits != 16) {
        rendering_to_bytes(bytes, rendering);
    }
    int result = file_out_open(&out, name, err);
    if (!result) {
        if (put_png(out.stream, rendering, bits, bytes)) {
            result = file_out_commit(&out, err);
        } else {
            result = cannot_write(name, err);
            file_out_abandon(&out);
        }
    }
    free(bytes);
    return result;
}

/* ---- JPEG ---- */

struct jpeg_errors {
    struct jpeg_error_mgr base;
    jmp_buf back;
};

static void leave_jpeg(j_common_ptr jpeg)
{
    longjmp(((struct jpeg_errors *)jpeg->err)->back, 1);
}

static bool put_jpeg(FILE *stream, const struct rendering *rendering, int quality,
                     unsigned char *bytes, const unsigned char *exif, unsigned exif_size)
{
    struct jpeg_compress_struct jpeg;
    struct jpeg_errors errors;
    jpeg.err = jpeg_std_error(&errors.base);
    errors.base.error_exit = leave_jpeg;
    if (setjmp(errors.back)) {
        jpeg_destroy_compress(&jpeg);
        return false;
    }
    jpeg_create_compress(&jpeg);
    jpeg_stdio_dest(&jpeg, stream);
    jpeg.image_width = (JDIMENSION)rendering->width;
    jpeg.image_height = (JDIMENSION)rendering->height;
    jpeg.input_components = 1;
    jpeg.in_color_space = JCS_GRAYSCALE;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, quality, TRUE);
    jpeg.write_JFIF_header = !exif; /* EXIF wants to be first */
    jpeg_start_compress(&jpeg, TRUE);
    if (exif) {
        jpeg_write_marker(&jpeg, JPEG_APP0 + 1, exif, exif_size);
    }
    while (jpeg.next_scanline < jpeg.image_height) {
        JSAMPROW row = bytes + (long)jpeg.next_scanline * rendering->width;
        jpeg_write_scanlines(&jpeg, &row, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    return true;
}

int render_write_jpeg_bytes(const struct rendering *rendering, unsigned char *bytes,
                            const char *name, int quality, const struct render_header *header,
                            struct error *err)
{
    unsigned exif_size = 0;
    unsigned char *exif = header->bare ? NULL : render_exif(&exif_size, rendering, header);
    struct file_out out = {0};
    int result = !exif && !header->bare ? error_memory(err) : file_out_open(&out, name, err);
    if (!result) {
        if (put_jpeg(out.stream, rendering, quality, bytes, exif, exif_size)) {
            result = file_out_commit(&out, err);
        } else {
            result = cannot_write(name, err);
            file_out_abandon(&out);
        }
    }
    free(exif);
    return result;
}

int render_write_jpeg(const struct rendering *rendering, const char *name, int quality,
                      const struct render_header *header, struct error *err)
{
    unsigned char *bytes = malloc((size_t)rendering->width * (size_t)rendering->height);
    if (!bytes) {
        return error_memory(err);
    }
    rendering_to_bytes(bytes, rendering);
    int result = render_write_jpeg_bytes(rendering, bytes, name, quality, header, err);
    free(bytes);
    return result;
}

int render_write(const struct rendering *rendering, const char *name,
                 const struct render_header *header, struct error *err)
{
    const char *ending = strrchr(name, '.');
    ending = ending ? ending : "";
    if (strcasecmp(ending, ".dng") == 0) {
        return render_write_dng(rendering, name, header, err);
    }
    if (strcasecmp(ending, ".fits") == 0 || strcasecmp(ending, ".fit") == 0) {
        return render_write_fits(rendering, name, header, err);
    }
    if (strcasecmp(ending, ".png") == 0) {
        bool stack = rendering->options.camera.stacked > 1;
        return render_write_png(rendering, name, stack ? 8 : 16, err);
    }
    if (strcasecmp(ending, ".jpg") == 0 || strcasecmp(ending, ".jpeg") == 0) {
        return render_write_jpeg(rendering, name, 95, header, err);
    }
    return error_set(err, ERROR_USAGE, "%s: the name must end in .dng, .fits, .png or .jpg", name);
}

int render_write_truth(const struct rendering *rendering, const char *name, struct error *err)
{
    struct file_out out = {0};
    int result = file_out_open(&out, name, err);
    if (result) {
        return result;
    }
    fprintf(out.stream, "hip\tx\ty\tcamera_mag\telectrons\n");
    for (int i = 0; i < rendering->stars; i++) {
        const struct render_star *star = &rendering->star[i];
        fprintf(out.stream, "%u\t%.3f\t%.3f\t%.3f\t%.1f\n", (unsigned)star->hip, star->x, star->y,
                star->mag, star->electrons);
    }
    if (ferror(out.stream)) {
        result = cannot_write(name, err);
        file_out_abandon(&out);
        return result;
    }
    return file_out_commit(&out, err);
}
