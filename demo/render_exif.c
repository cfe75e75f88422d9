#include "demo/render_exif.h"

#include <libexif/exif-data.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const ExifByteOrder order = EXIF_BYTE_ORDER_INTEL;

/* Adds an entry with room for size bytes; NULL if memory is short. */
static ExifEntry *add(ExifData *data, ExifIfd ifd, ExifTag tag, ExifFormat format,
                      unsigned long components, unsigned size)
{
    ExifMem *memory = exif_mem_new_default();
    ExifEntry *entry = memory ? exif_entry_new_mem(memory) : NULL;
    void *bytes = entry ? exif_mem_alloc(memory, size) : NULL;
    if (bytes) {
        entry->data = bytes;
        entry->size = size;
        entry->tag = tag;
        entry->format = format;
        entry->components = components;
        exif_content_add_entry(data->ifd[ifd], entry);
        exif_entry_unref(entry);
    }
    if (memory) {
        exif_mem_unref(memory);
    }
    return bytes ? entry : NULL;
}

static bool add_text(ExifData *data, ExifIfd ifd, ExifTag tag, const char *text)
{
    unsigned size = (unsigned)strlen(text) + 1;
    ExifEntry *entry = add(data, ifd, tag, EXIF_FORMAT_ASCII, size, size);
    if (entry) {
        memcpy(entry->data, text, size);
    }
    return entry;
}

static bool add_ratio(ExifData *data, ExifTag tag, double value, unsigned denominator)
{
    ExifEntry *entry = add(data, EXIF_IFD_EXIF, tag, EXIF_FORMAT_RATIONAL, 1, 8);
    if (entry) {
        ExifRational ratio = {(ExifLong)lround(value * denominator), denominator};
        exif_set_rational(entry->data, order, ratio);
    }
    return entry;
}

static bool add_short(ExifData *data, ExifIfd ifd, ExifTag tag, int value)
{
    ExifEntry *entry = add(data, ifd, tag, EXIF_FORMAT_SHORT, 1, 2);
    if (entry) {
        exif_set_short(entry->data, order, (ExifShort)value);
    }
    return entry;
}

/* "2026:03:14 21:04:05" on the camera's clock, and hundredths. */
static bool add_times(ExifData *data, const struct rendering *rendering,
                      const struct render_header *header)
{
    const struct time_stamp *start = &rendering->options.start;
    char text[32];
    if (!start->known) {
        return true;
    }
    struct utc utc = time_add(start->utc, 60 * header->zone_minutes + header->clock_error_s);
    time_write(text, sizeof text, utc, 2);
    text[4] = text[7] = ':';
    text[10] = ' ';
    text[22] = '\0';
    bool fraction = add_text(data, EXIF_IFD_EXIF, EXIF_TAG_SUB_SEC_TIME_ORIGINAL, text + 20);
    text[19] = '\0';
    return fraction && add_text(data, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, text) &&
           add_text(data, EXIF_IFD_0, EXIF_TAG_DATE_TIME, text);
}

static bool add_all(ExifData *data, const struct rendering *rendering,
                    const struct render_header *header)
{
    const struct camera *camera = &rendering->options.camera;
    double focal = header->stated_focal_mm > 0 ? header->stated_focal_mm : round(camera->focal_mm);
    double px_per_cm = 10000 / camera->pixel_um;
    return add_text(data, EXIF_IFD_0, EXIF_TAG_MAKE, "Alidade") &&
           add_text(data, EXIF_IFD_0, EXIF_TAG_MODEL, "demo camera") &&
           add_short(data, EXIF_IFD_0, EXIF_TAG_ORIENTATION, 1) &&
           add_ratio(data, EXIF_TAG_EXPOSURE_TIME, camera->exposure_s, 1000) &&
           add_ratio(data, EXIF_TAG_FNUMBER, camera->f_number, 10) &&
           add_short(data, EXIF_IFD_EXIF, EXIF_TAG_ISO_SPEED_RATINGS,
                     (int)rendering->options.sensor.iso) &&
           add_ratio(data, EXIF_TAG_FOCAL_LENGTH, focal, 10) &&
           add_ratio(data, EXIF_TAG_FOCAL_PLANE_X_RESOLUTION, px_per_cm, 100) &&
           add_ratio(data, EXIF_TAG_FOCAL_PLANE_Y_RESOLUTION, px_per_cm, 100) &&
           add_short(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_PLANE_RESOLUTION_UNIT, 3) &&
           add_short(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION, rendering->width) &&
           add_short(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION, rendering->height) &&
           add_times(data, rendering, header);
}

unsigned char *render_exif(unsigned *size, const struct rendering *rendering,
                           const struct render_header *header)
{
    unsigned char *block = NULL;
    ExifData *data = exif_data_new();
    if (!data) {
        return NULL;
    }
    exif_data_set_byte_order(data, order);
    exif_data_set_data_type(data, EXIF_DATA_TYPE_COMPRESSED);
    if (add_all(data, rendering, header)) {
        exif_data_save_data(data, &block, size);
    }
    exif_data_unref(data);
    return block;
}
