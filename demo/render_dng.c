#include "demo/render_dng.h"

#include "base/file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <tiffio.h>
#include <unistd.h>

/* Values of tags: TIFF/EP (ISO 12234-2) and DNG 1.4. */
enum { LINEAR_RAW = 34892, DAYLIGHT_D65 = 21, SENSITIVITY_ISO = 3, UNIT_CM = 3 };

/* The date and time of the camera's clock as EXIF has them: "2026:03:14 21:04:05", and hundredths.
 * False if the time is unknown. */
static bool camera_clock(char date[20], char hundredths[3], const struct rendering *rendering,
                         const struct render_header *header)
{
    const struct time_stamp *start = &rendering->options.start;
    char text[32];
    if (!start->known) {
        return false;
    }
    struct utc utc = time_add(start->utc, 60 * header->zone_minutes + header->clock_error_s);
    time_write(text, sizeof text, utc, 2);
    text[4] = text[7] = ':';
    text[10] = ' ';
    memcpy(date, text, 19);
    date[19] = '\0';
    memcpy(hundredths, text + 20, 2);
    hundredths[2] = '\0';
    return true;
}

static bool put_times(TIFF *tiff, const struct rendering *rendering,
                      const struct render_header *header)
{
    char date[20], hundredths[3], offset[16];
    if (!camera_clock(date, hundredths, rendering, header)) {
        return true;
    }
    int minutes = abs(header->zone_minutes);
    snprintf(offset, sizeof offset, "%c%02d:%02d", header->zone_minutes < 0 ? '-' : '+',
             minutes / 60 % 100, minutes % 60);
    return TIFFSetField(tiff, EXIFTAG_DATETIMEORIGINAL, date) &&
           TIFFSetField(tiff, EXIFTAG_SUBSECTIMEORIGINAL, hundredths) &&
           (!header->zone_stated || TIFFSetField(tiff, EXIFTAG_OFFSETTIMEORIGINAL, offset));
}

/* The directory of the camera's settings (EXIF 2.32, CIPA DC-008). */
static bool put_camera(TIFF *tiff, const struct rendering *rendering,
                       const struct render_header *header, uint64_t *offset)
{
    const struct camera *camera = &rendering->options.camera;
    double focal = header->stated_focal_mm > 0 ? header->stated_focal_mm : round(camera->focal_mm);
    double diagonal_mm = hypot(rendering->width, rendering->height) * camera->pixel_um / 1000;
    double px_per_cm = 10000 / camera->pixel_um;
    uint16_t iso = (uint16_t)rendering->options.sensor.iso;
    uint16_t equivalent = (uint16_t)lround(focal * hypot(36, 24) / diagonal_mm);
    return TIFFCreateEXIFDirectory(tiff) == 0 && TIFFSetField(tiff, EXIFTAG_EXIFVERSION, "0232") &&
           TIFFSetField(tiff, EXIFTAG_EXPOSURETIME, camera->exposure_s) &&
           TIFFSetField(tiff, EXIFTAG_FNUMBER, camera->f_number) &&
           TIFFSetField(tiff, EXIFTAG_ISOSPEEDRATINGS, 1, &iso) &&
           TIFFSetField(tiff, EXIFTAG_SENSITIVITYTYPE, SENSITIVITY_ISO) &&
           TIFFSetField(tiff, EXIFTAG_FOCALLENGTH, focal) &&
           TIFFSetField(tiff, EXIFTAG_FOCALLENGTHIN35MMFILM, equivalent) &&
           TIFFSetField(tiff, EXIFTAG_FOCALPLANEXRESOLUTION, px_per_cm) &&
           TIFFSetField(tiff, EXIFTAG_FOCALPLANEYRESOLUTION, px_per_cm) &&
           TIFFSetField(tiff, EXIFTAG_FOCALPLANERESOLUTIONUNIT, UNIT_CM) &&
           TIFFSetField(tiff, EXIFTAG_PIXELXDIMENSION, (uint32_t)rendering->width) &&
           TIFFSetField(tiff, EXIFTAG_PIXELYDIMENSION, (uint32_t)rendering->height) &&
           put_times(tiff, rendering, header) && TIFFWriteCustomDirectory(tiff, offset);
}

static void to_triple(double out[3], double degrees)
{
    double size = fabs(degrees), minutes = (size - floor(size)) * 60;
    out[0] = floor(size);
    out[1] = floor(minutes);
    out[2] = (minutes - floor(minutes)) * 60;
}

static bool put_place(TIFF *tiff, const struct render_header *header, uint64_t *offset)
{
    static const uint8_t version[] = {2, 3, 0, 0};
    double latitude[3], longitude[3];
    to_triple(latitude, header->latitude_deg);
    to_triple(longitude, header->longitude_deg);
    return TIFFCreateGPSDirectory(tiff) == 0 && TIFFSetField(tiff, GPSTAG_VERSIONID, version) &&
           TIFFSetField(tiff, GPSTAG_LATITUDEREF, header->latitude_deg < 0 ? "S" : "N") &&
           TIFFSetField(tiff, GPSTAG_LATITUDE, latitude) &&
           TIFFSetField(tiff, GPSTAG_LONGITUDEREF, header->longitude_deg < 0 ? "W" : "E") &&
           TIFFSetField(tiff, GPSTAG_LONGITUDE, longitude) &&
           TIFFWriteCustomDirectory(tiff, offset);
}

static bool put_filters(TIFF *tiff)
{
    static const uint16_t cell[] = {2, 2};
    static const uint8_t pattern[] = {0, 1, 1, 2};
    static const float neutral[] = {0.6F, 1, 0.7F}; /* as demo/mosaic.c fills them */
    /* sRGB's primaries seen from XYZ (IEC 61966-2-1): as good as any for a made-up sensor. */
    static const float matrix[] = {3.2406F, -1.5372F, -0.4986F, -0.9689F, 1.8758F,
                                   0.0415F, 0.0557F,  -0.2040F, 1.0570F};
    return TIFFSetField(tiff, TIFFTAG_CFAREPEATPATTERNDIM, cell) &&
           TIFFSetField(tiff, TIFFTAG_CFAPATTERN, 4, pattern) &&
           TIFFSetField(tiff, TIFFTAG_ASSHOTNEUTRAL, 3, neutral) &&
           TIFFSetField(tiff, TIFFTAG_CALIBRATIONILLUMINANT1, DAYLIGHT_D65) &&
           TIFFSetField(tiff, TIFFTAG_COLORMATRIX1, 9, matrix);
}

static bool put_shape(TIFF *tiff, const struct rendering *rendering)
{
    static const uint8_t version[] = {1, 4, 0, 0}, oldest[] = {1, 1, 0, 0};
    bool mosaic = rendering->options.sensor.mosaic;
    const float black = (float)rendering->options.sensor.black_adu;
    const uint32_t white = SENSOR_WHITE;
    return TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, 0) &&
           TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, rendering->width) &&
           TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, rendering->height) &&
           TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16) &&
           TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1) &&
           TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE) &&
           TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) &&
           TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, rendering->height) &&
           TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, mosaic ? PHOTOMETRIC_CFA : LINEAR_RAW) &&
           TIFFSetField(tiff, TIFFTAG_DNGVERSION, version) &&
           TIFFSetField(tiff, TIFFTAG_DNGBACKWARDVERSION, oldest) &&
           TIFFSetField(tiff, TIFFTAG_UNIQUECAMERAMODEL, "Alidade demo camera") &&
           TIFFSetField(tiff, TIFFTAG_BLACKLEVEL, 1, &black) &&
           TIFFSetField(tiff, TIFFTAG_WHITELEVEL, 1, &white) && (!mosaic || put_filters(tiff));
}

static bool put_names(TIFF *tiff, const struct rendering *rendering,
                      const struct render_header *header)
{
    char date[20], hundredths[3];
    return TIFFSetField(tiff, TIFFTAG_MAKE, "Alidade") &&
           TIFFSetField(tiff, TIFFTAG_MODEL, "demo camera") &&
           TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT) &&
           (!camera_clock(date, hundredths, rendering, header) ||
            TIFFSetField(tiff, TIFFTAG_DATETIME, date));
}

static bool put_rows(TIFF *tiff, const struct rendering *rendering)
{
    size_t width = (size_t)rendering->width;
    uint16_t *row = malloc(width * sizeof *row);
    bool good = row != NULL;
    for (int y = 0; y < rendering->height && good; y++) {
        const float *adu = rendering->adu + (size_t)y * width;
        for (size_t x = 0; x < width; x++) {
            row[x] = (uint16_t)(adu[x] + 0.5F);
        }
        good = TIFFWriteScanline(tiff, row, (uint32_t)y, 0) == 1;
    }
    free(row);
    return good;
}

/* The directories that the first one points at are written before it, so that their places are
 * known. */
static bool put_all(TIFF *tiff, const struct rendering *rendering,
                    const struct render_header *header)
{
    uint64_t camera = 0, place = 0;
    if (!header->bare && !put_camera(tiff, rendering, header, &camera)) {
        return false;
    }
    TIFFFreeDirectory(tiff); /* beginning another one does not */
    if (!header->bare && header->place_stated && !put_place(tiff, header, &place)) {
        return false;
    }
    TIFFFreeDirectory(tiff);
    return TIFFCreateDirectory(tiff) == 0 && put_shape(tiff, rendering) &&
           (header->bare || put_names(tiff, rendering, header)) &&
           (!camera || TIFFSetField(tiff, TIFFTAG_EXIFIFD, camera)) &&
           (!place || TIFFSetField(tiff, TIFFTAG_GPSIFD, place)) && put_rows(tiff, rendering);
}

/* The library must not print: what it has to say is that the disk is full. */
static int keep_quiet(TIFF *tiff, void *context, const char *module, const char *format,
                      va_list list)
{
    (void)tiff;
    (void)context;
    (void)module;
    (void)format;
    (void)list;
    return 1;
}

static bool write_file(int descriptor, const char *name, const struct rendering *rendering,
                       const struct render_header *header)
{
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (!options) {
        return false;
    }
    TIFFOpenOptionsSetErrorHandlerExtR(options, keep_quiet, NULL);
    TIFFOpenOptionsSetWarningHandlerExtR(options, keep_quiet, NULL);
    TIFF *tiff = TIFFFdOpenExt(descriptor, name, "wl", options);
    TIFFOpenOptionsFree(options);
    if (!tiff) {
        return false;
    }
    bool good = put_all(tiff, rendering, header) && TIFFWriteDirectory(tiff);
    TIFFCleanup(tiff); /* leaves the descriptor open */
    return good;
}

int render_write_dng(const struct rendering *rendering, const char *name,
                     const struct render_header *header, struct error *err)
{
    struct file_out out = {0};
    int result = file_out_open(&out, name, err);
    if (result) {
        return result;
    }
    if (!write_file(fileno(out.stream), name, rendering, header)) {
        file_out_abandon(&out);
        return error_set(err, ERROR_OUTPUT, "%s: could not be written as DNG", name);
    }
    return file_out_commit(&out, err);
}
