#include "image/exif.h"

#include "image/moment.h"

#include <libexif/exif-data.h>
#include <math.h>
#include <string.h>

static ExifEntry *find(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    return exif_content_get_entry(data->ifd[ifd], tag);
}

static double entry_number(const ExifEntry *entry, ExifByteOrder order)
{
    ExifRational ratio;
    ExifSRational signed_ratio;
    switch (entry->format) {
    case EXIF_FORMAT_BYTE:
        return entry->data[0];
    case EXIF_FORMAT_SHORT:
        return exif_get_short(entry->data, order);
    case EXIF_FORMAT_LONG:
        return exif_get_long(entry->data, order);
    case EXIF_FORMAT_RATIONAL:
        ratio = exif_get_rational(entry->data, order);
        return ratio.denominator ? (double)ratio.numerator / ratio.denominator : NAN;
    case EXIF_FORMAT_SRATIONAL:
        signed_ratio = exif_get_srational(entry->data, order);
        return signed_ratio.denominator ? (double)signed_ratio.numerator / signed_ratio.denominator
                                        : NAN;
    default:
        return NAN;
    }
}

/* The first number of the entry, or NaN. */
static double read_number(ExifData *data, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *entry = find(data, ifd, tag);
    if (!entry || !entry->data || entry->components < 1 ||
        entry->size < exif_format_get_size(entry->format)) {
        return NAN;
    }
    return entry_number(entry, exif_data_get_byte_order(data));
}

static void read_text(ExifData *data, ExifTag tag, char *out, size_t size)
{
    const ExifEntry *entry = find(data, EXIF_IFD_EXIF, tag);
    size_t length = 0;
    if (entry && entry->data && entry->format == EXIF_FORMAT_ASCII) {
        length = entry->size < size ? entry->size : size - 1;
        memcpy(out, entry->data, length);
    }
    out[length] = '\0';
}

/* A value outside the bounds is a mistake or a placeholder, and no fact. */
static void note(struct fact *fact, double value, double low, double high)
{
    if (value >= low && value <= high) {
        fact->value = value;
        fact->origin = FACT_EXIF;
    }
}

/* The 16-bit tag says 65535 when the speed is too large for it; then another holds it. */
static double read_iso(ExifData *data)
{
    double iso = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_ISO_SPEED_RATINGS);
    if (iso < 65535) {
        return iso;
    }
    return read_number(data, EXIF_IFD_EXIF, EXIF_TAG_RECOMMENDED_EXPOSURE_INDEX);
}

static void read_sensor(struct frame_facts *facts, ExifData *data)
{
    double width = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION);
    double height = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION);
    if (width >= 1 && width <= 1e6 && height >= 1 && height <= 1e6) {
        facts->sensor_width = (int)width;
        facts->sensor_height = (int)height;
    }
}

/* Picture pixels for one pixel that the camera recorded; NaN if the picture was cropped to another
 * shape, for then nothing tells how it was scaled. */
static double scale_since_taken(const struct frame_facts *facts, int width, int height)
{
    if (facts->sensor_width == 0) {
        return 1;
    }
    double then_long = fmax(facts->sensor_width, facts->sensor_height);
    double then_short = fmin(facts->sensor_width, facts->sensor_height);
    double now_long = width > height ? width : height;
    double now_short = width > height ? height : width;
    double by_long = now_long / then_long, by_short = now_short / then_short;
    return fabs(by_long / by_short - 1) < 0.01 ? by_long : NAN;
}

/* The tag counts recorded pixels in a length on the sensor. Unit 1 ("none") is not a length. */
static void read_pitch(struct frame_facts *facts, ExifData *data, int width, int height)
{
    static const double unit_um[] = {[2] = 25400, [3] = 10000, [4] = 1000, [5] = 1};
    double across = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_PLANE_X_RESOLUTION);
    double down = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_PLANE_Y_RESOLUTION);
    double unit = read_number(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_PLANE_RESOLUTION_UNIT);
    unit = isnan(unit) ? 2 : unit; /* the standard's default */
    bool square = isnan(down) || fabs(across / down - 1) < 0.02;
    if (!(unit >= 2 && unit <= 5) || !square) {
        return;
    }
    double pitch = unit_um[(int)unit] / across;
    note(&facts->pixel_um, pitch / scale_since_taken(facts, width, height), 0.3, 200);
}

static void read_start(struct frame_facts *facts, ExifData *data)
{
    static const struct {
        ExifTag date, fraction, offset;
    } sets[] = {
        {EXIF_TAG_DATE_TIME_ORIGINAL, EXIF_TAG_SUB_SEC_TIME_ORIGINAL,
         EXIF_TAG_OFFSET_TIME_ORIGINAL},
        {EXIF_TAG_DATE_TIME_DIGITIZED, EXIF_TAG_SUB_SEC_TIME_DIGITIZED,
         EXIF_TAG_OFFSET_TIME_DIGITIZED},
    };
    for (size_t i = 0; i < sizeof sets / sizeof *sets; i++) {
        char text[64];
        struct moment start;
        int offset;
        read_text(data, sets[i].date, text, sizeof text);
        if (!moment_read(&start, text)) {
            continue;
        }
        read_text(data, sets[i].fraction, text, sizeof text);
        moment_read_fraction(&start, text);
        moment_write(facts->start_local, sizeof facts->start_local, &start, "");
        read_text(data, sets[i].offset, text, sizeof text);
        if (moment_read_offset(&offset, text)) {
            moment_shift(&start, -offset);
            moment_write(facts->start_utc, sizeof facts->start_utc, &start, "Z");
        }
        return;
    }
}

static void read_facts(struct frame_facts *facts, ExifData *data, int width, int height)
{
    const ExifIfd ifd = EXIF_IFD_EXIF;
    note(&facts->focal_mm, read_number(data, ifd, EXIF_TAG_FOCAL_LENGTH), 0.5, 20000);
    note(&facts->focal_35mm, read_number(data, ifd, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM), 3, 20000);
    note(&facts->exposure_s, read_number(data, ifd, EXIF_TAG_EXPOSURE_TIME), 1e-6, 86400);
    note(&facts->iso, read_iso(data), 1, 1e8);
    note(&facts->f_number, read_number(data, ifd, EXIF_TAG_FNUMBER), 0.3, 200);
    read_sensor(facts, data);
    read_pitch(facts, data, width, height);
    read_start(facts, data);
}

int exif_read(struct frame_facts *facts, const unsigned char *block, size_t size, int width,
              int height)
{
    ExifData *data = size <= 1 << 24 ? exif_data_new() : NULL;
    if (!data) {
        return 1;
    }
    /* Mending is for those who write; here it would invent entries that nobody stated. */
    exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
    exif_data_load_data(data, block, (unsigned)size);
    read_facts(facts, data, width, height);
    double orientation = read_number(data, EXIF_IFD_0, EXIF_TAG_ORIENTATION);
    exif_data_unref(data);
    return orientation >= 1 && orientation <= 8 ? (int)orientation : 1;
}
