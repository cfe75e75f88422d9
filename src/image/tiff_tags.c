#include "image/tiff_tags.h"

#include "image/tiff_file.h"

#include <string.h>

struct number_tag {
    uint32_t tag;
    enum exif_number number;
};

static const struct number_tag camera_numbers[] = {
    {EXIFTAG_EXPOSURETIME, EXIF_EXPOSURE_TIME},
    {EXIFTAG_FNUMBER, EXIF_F_NUMBER},
    {EXIFTAG_ISOSPEEDRATINGS, EXIF_ISO},
    {EXIFTAG_RECOMMENDEDEXPOSUREINDEX, EXIF_LARGE_ISO},
    {EXIFTAG_FOCALLENGTH, EXIF_FOCAL},
    {EXIFTAG_FOCALLENGTHIN35MMFILM, EXIF_FOCAL_35MM},
    {EXIFTAG_FOCALPLANEXRESOLUTION, EXIF_PLANE_X},
    {EXIFTAG_FOCALPLANEYRESOLUTION, EXIF_PLANE_Y},
    {EXIFTAG_FOCALPLANERESOLUTIONUNIT, EXIF_PLANE_UNIT},
    {EXIFTAG_PIXELXDIMENSION, EXIF_WIDTH},
    {EXIFTAG_PIXELYDIMENSION, EXIF_HEIGHT},
};

struct text_tag {
    uint32_t tag;
    enum exif_text text;
};

static const struct text_tag first_texts[] = {{TIFFTAG_MAKE, EXIF_MAKE},
                                              {TIFFTAG_MODEL, EXIF_MODEL}};

static const struct text_tag camera_texts[] = {
    {EXIFTAG_DATETIMEORIGINAL, EXIF_TAKEN},
    {EXIFTAG_SUBSECTIMEORIGINAL, EXIF_TAKEN_FRACTION},
    {EXIFTAG_OFFSETTIMEORIGINAL, EXIF_TAKEN_OFFSET},
    {EXIFTAG_DATETIMEDIGITIZED, EXIF_DIGITIZED},
    {EXIFTAG_SUBSECTIMEDIGITIZED, EXIF_DIGITIZED_FRACTION},
    {EXIFTAG_OFFSETTIMEDIGITIZED, EXIF_DIGITIZED_OFFSET},
    {EXIFTAG_LENSMODEL, EXIF_LENS},
};

static const struct text_tag gps_texts[] = {{GPSTAG_LATITUDEREF, EXIF_SOUTH},
                                            {GPSTAG_LONGITUDEREF, EXIF_WEST},
                                            {GPSTAG_DATESTAMP, EXIF_GPS_DATE}};

static const struct {
    uint32_t tag;
    enum exif_triple triple;
} gps_triples[] = {{GPSTAG_LATITUDE, EXIF_LATITUDE},
                   {GPSTAG_LONGITUDE, EXIF_LONGITUDE},
                   {GPSTAG_TIMESTAMP, EXIF_GPS_TIME}};

/* One number as the library stores it: by its size, and floating if it was a ratio. */
static double stored_number(const void *at, const TIFFField *field)
{
    TIFFDataType type = TIFFFieldDataType(field);
    bool ratio = type == TIFF_RATIONAL || type == TIFF_SRATIONAL;
    union {
        float f;
        double d;
        uint8_t u8;
        uint16_t u16;
        uint32_t u32;
    } value = {0};
    int size = TIFFFieldSetGetSize(field);
    memcpy(&value, at, size > 0 && (size_t)size <= sizeof value ? (size_t)size : 0);
    switch (size) {
    case 1:
        return value.u8;
    case 2:
        return value.u16;
    case 4:
        return ratio ? (double)value.f : value.u32;
    case 8:
        return ratio ? value.d : 0;
    default:
        return 0;
    }
}

/* Up to most numbers of a field; returns how many. */
static int get_numbers(double *out, int most, TIFF *tiff, uint32_t tag)
{
    const TIFFField *field = TIFFFieldWithTag(tiff, tag);
    double single = 0; /* of any smaller type, too */
    uint16_t count = 0;
    const void *list = NULL;
    if (!field) {
        return 0;
    }
    int read = TIFFFieldReadCount(field);
    if (!TIFFFieldPassCount(field) && read == 1) {
        if (!TIFFGetField(tiff, tag, &single)) {
            return 0;
        }
        out[0] = stored_number(&single, field);
        return 1;
    }
    if (TIFFFieldPassCount(field) && read == TIFF_VARIABLE2) {
        return 0; /* none of ours; its count has another type */
    }
    if (TIFFFieldPassCount(field) ? !TIFFGetField(tiff, tag, &count, &list)
                                  : !TIFFGetField(tiff, tag, &list)) {
        return 0;
    }
    int have = TIFFFieldPassCount(field) ? count : read;
    int size = TIFFFieldSetGetSize(field);
    have = have < most ? have : most;
    for (int i = 0; i < have && list; i++) {
        out[i] = stored_number((const char *)list + (size_t)i * (size_t)size, field);
    }
    return list ? have : 0;
}

static void get_text(struct exif_tags *tags, TIFF *tiff, const struct text_tag *tag)
{
    const char *text = NULL;
    const TIFFField *field = TIFFFieldWithTag(tiff, tag->tag);
    if (!field || TIFFFieldPassCount(field)) {
        return;
    }
    if (TIFFFieldDataType(field) == TIFF_ASCII && TIFFGetField(tiff, tag->tag, &text) && text) {
        exif_tags_set_text(tags, tag->text, text, strlen(text));
    }
}

static void get_texts(struct exif_tags *tags, TIFF *tiff, const struct text_tag *list, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        get_text(tags, tiff, &list[i]);
    }
}

static void read_camera(struct exif_tags *tags, TIFF *tiff)
{
    for (size_t i = 0; i < sizeof camera_numbers / sizeof *camera_numbers; i++) {
        double value;
        if (get_numbers(&value, 1, tiff, camera_numbers[i].tag)) {
            tags->number[camera_numbers[i].number] = value;
        }
    }
    get_texts(tags, tiff, camera_texts, sizeof camera_texts / sizeof *camera_texts);
}

static void read_gps(struct exif_tags *tags, TIFF *tiff)
{
    for (size_t i = 0; i < sizeof gps_triples / sizeof *gps_triples; i++) {
        enum exif_triple triple = gps_triples[i].triple;
        tags->count[triple] = get_numbers(tags->triple[triple], 3, tiff, gps_triples[i].tag);
    }
    tags->count[EXIF_HEIGHT_M] = get_numbers(tags->triple[EXIF_HEIGHT_M], 1, tiff, GPSTAG_ALTITUDE);
    get_numbers(&tags->number[EXIF_BELOW_SEA], 1, tiff, GPSTAG_ALTITUDEREF);
    get_texts(tags, tiff, gps_texts, sizeof gps_texts / sizeof *gps_texts);
}

void tiff_tags_read(struct exif_tags *tags, const struct picture_source *source)
{
    struct tiff_file file = {0};
    struct error ignored = {0};
    uint64_t camera = 0, gps = 0;
    if (tiff_file_open(&file, source, &ignored) || tiff_file_find_picture(&file, &ignored)) {
        tiff_file_close(&file);
        return;
    }
    uint16_t turned = 1;
    TIFFGetFieldDefaulted(file.tiff, TIFFTAG_ORIENTATION, &turned);
    tags->number[EXIF_ORIENTATION] = turned;
    get_texts(tags, file.tiff, first_texts, sizeof first_texts / sizeof *first_texts);
    TIFFGetField(file.tiff, TIFFTAG_EXIFIFD, &camera);
    TIFFGetField(file.tiff, TIFFTAG_GPSIFD, &gps);
    if (camera && TIFFReadEXIFDirectory(file.tiff, camera)) {
        read_camera(tags, file.tiff);
    }
    if (gps && TIFFReadGPSDirectory(file.tiff, gps)) {
        read_gps(tags, file.tiff);
    }
    tiff_file_close(&file);
}
