#include "image/exif_tags.h"

#include "image/moment.h"
#include "image/scale_hint.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

enum slot_kind { NUMBER, TEXT, TRIPLE };

/* Which tag of which directory goes where. */
static const struct slot {
    enum exif_directory directory;
    unsigned tag;
    enum slot_kind kind;
    int index;
} slots[] = {
    {EXIF_FIRST, 0x010f, TEXT, EXIF_MAKE},
    {EXIF_FIRST, 0x0110, TEXT, EXIF_MODEL},
    {EXIF_FIRST, 0x0112, NUMBER, EXIF_ORIENTATION},
    {EXIF_FIRST, 0xc620, TRIPLE, EXIF_CROP_SIZE},
    {EXIF_FIRST, 0xc791, TRIPLE, EXIF_ORIGINAL_SIZE},
    {EXIF_CAMERA, 0x829a, NUMBER, EXIF_EXPOSURE_TIME},
    {EXIF_CAMERA, 0x829d, NUMBER, EXIF_F_NUMBER},
    {EXIF_CAMERA, 0x8827, NUMBER, EXIF_ISO},
    {EXIF_CAMERA, 0x8832, NUMBER, EXIF_LARGE_ISO},
    {EXIF_CAMERA, 0x9003, TEXT, EXIF_TAKEN},
    {EXIF_CAMERA, 0x9291, TEXT, EXIF_TAKEN_FRACTION},
    {EXIF_CAMERA, 0x9011, TEXT, EXIF_TAKEN_OFFSET},
    {EXIF_CAMERA, 0x9004, TEXT, EXIF_DIGITIZED},
    {EXIF_CAMERA, 0x9292, TEXT, EXIF_DIGITIZED_FRACTION},
    {EXIF_CAMERA, 0x9012, TEXT, EXIF_DIGITIZED_OFFSET},
    {EXIF_CAMERA, 0x920a, NUMBER, EXIF_FOCAL},
    {EXIF_CAMERA, 0xa002, NUMBER, EXIF_WIDTH},
    {EXIF_CAMERA, 0xa003, NUMBER, EXIF_HEIGHT},
    {EXIF_CAMERA, 0xa20e, NUMBER, EXIF_PLANE_X},
    {EXIF_CAMERA, 0xa20f, NUMBER, EXIF_PLANE_Y},
    {EXIF_CAMERA, 0xa210, NUMBER, EXIF_PLANE_UNIT},
    {EXIF_CAMERA, 0xa405, NUMBER, EXIF_FOCAL_35MM},
    {EXIF_CAMERA, 0xa434, TEXT, EXIF_LENS},
    {EXIF_GPS, 0x0001, TEXT, EXIF_SOUTH},
    {EXIF_GPS, 0x0002, TRIPLE, EXIF_LATITUDE},
    {EXIF_GPS, 0x0003, TEXT, EXIF_WEST},
    {EXIF_GPS, 0x0004, TRIPLE, EXIF_LONGITUDE},
    {EXIF_GPS, 0x0005, NUMBER, EXIF_BELOW_SEA},
    {EXIF_GPS, 0x0006, TRIPLE, EXIF_HEIGHT_M},
    {EXIF_GPS, 0x0007, TRIPLE, EXIF_GPS_TIME},
    {EXIF_GPS, 0x001d, TEXT, EXIF_GPS_DATE},
};

/* Types of entries, TIFF 6.0, section 2. */
enum { BYTE = 1, ASCII = 2, SHORT = 3, LONG = 4, RATIONAL = 5, SIGNED_RATIONAL = 10 };

static uint32_t whole(const unsigned char *p, size_t length, bool big_endian)
{
    uint32_t value = 0;
    for (size_t i = 0; i < length; i++) {
        value = value << 8 | p[big_endian ? i : length - 1 - i];
    }
    return value;
}

static size_t type_size(unsigned type)
{
    static const unsigned char sizes[] = {
        [BYTE] = 1, [ASCII] = 1, [SHORT] = 2, [LONG] = 4, [RATIONAL] = 8, [SIGNED_RATIONAL] = 8};
    return type < sizeof sizes ? sizes[type] : 0;
}

/* A ratio without a denominator is EXIF's "unknown": 0. */
static double one_number(unsigned type, const unsigned char *p, bool big_endian)
{
    if (type != RATIONAL && type != SIGNED_RATIONAL) {
        return whole(p, type_size(type), big_endian);
    }
    uint32_t above = whole(p, 4, big_endian), below = whole(p + 4, 4, big_endian);
    if (below == 0) {
        return 0;
    }
    return type == RATIONAL ? (double)above / below
                            : (double)(int32_t)above / (double)(int32_t)below;
}

void exif_tags_set_text(struct exif_tags *tags, enum exif_text text, const void *bytes,
                        size_t length)
{
    const char *from = bytes;
    char *out = tags->text[text];
    size_t used = 0;
    while (used < length && used < sizeof tags->text[text] - 1 && from[used]) {
        out[used] = from[used];
        used++;
    }
    while (used > 0 && out[used - 1] == ' ') {
        used--;
    }
    out[used] = '\0';
}

static void add_triple(struct exif_tags *tags, int index, unsigned type, unsigned long count,
                       const unsigned char *bytes, bool big_endian)
{
    for (unsigned long i = 0; i < count && i < 3; i++) {
        tags->triple[index][i] = one_number(type, bytes + i * type_size(type), big_endian);
        tags->count[index]++;
    }
}

static bool is_free(const struct exif_tags *tags, const struct slot *slot)
{
    return slot->kind == NUMBER ? tags->number[slot->index] == 0
           : slot->kind == TEXT ? tags->text[slot->index][0] == '\0'
                                : tags->count[slot->index] == 0;
}

void exif_tags_add(struct exif_tags *tags, enum exif_directory directory, unsigned tag,
                   unsigned type, unsigned long count, const unsigned char *bytes, size_t size,
                   bool big_endian)
{
    if (count < 1 || type_size(type) == 0 || size / type_size(type) < count) {
        return;
    }
    for (size_t i = 0; i < sizeof slots / sizeof *slots; i++) {
        const struct slot *slot = &slots[i];
        if (slot->directory != directory || slot->tag != tag || !is_free(tags, slot) ||
            (slot->kind == TEXT) != (type == ASCII)) {
            continue;
        }
        if (slot->kind == TEXT) {
            exif_tags_set_text(tags, (enum exif_text)slot->index, bytes, count);
        } else if (slot->kind == NUMBER) {
            tags->number[slot->index] = one_number(type, bytes, big_endian);
        } else {
            add_triple(tags, slot->index, type, count, bytes, big_endian);
        }
    }
}

/* A value outside the bounds is a mistake or a placeholder, and no fact. */
static void note(struct fact *fact, double value, double low, double high, const char *source)
{
    if (value >= low && value <= high) {
        *fact = (struct fact){value, FACT_EXIF, source};
    }
}

/* The 16-bit tag says 65535 when the speed is too large for it; then another holds it. */
static void note_iso(struct frame_facts *facts, const struct exif_tags *tags)
{
    bool small = tags->number[EXIF_ISO] > 0 && tags->number[EXIF_ISO] < 65535;
    note(&facts->iso, tags->number[EXIF_MAKER_ISO], 1, 1e8, "the maker's tags");
    note(&facts->iso, tags->number[small ? EXIF_ISO : EXIF_LARGE_ISO], 1, 1e8,
         small ? "EXIF ISOSpeedRatings" : "EXIF RecommendedExposureIndex");
}

static void note_sensor(struct frame_facts *facts, const struct exif_tags *tags)
{
    double width = tags->number[EXIF_WIDTH], height = tags->number[EXIF_HEIGHT];
    if (width >= 1 && width <= 1e6 && height >= 1 && height <= 1e6) {
        facts->sensor_width = (int)width;
        facts->sensor_height = (int)height;
    }
}

/* The tag counts recorded pixels in a length on the sensor. Unit 1 ("none") is not a length. */
static void note_pitch(struct frame_facts *facts, const struct exif_tags *tags, int width,
                       int height)
{
    static const double unit_um[] = {[2] = 25400, [3] = 10000, [4] = 1000, [5] = 1};
    double across = tags->number[EXIF_PLANE_X], down = tags->number[EXIF_PLANE_Y];
    double unit = tags->number[EXIF_PLANE_UNIT];
    unit = unit == 0 ? 2 : unit; /* the standard's default */
    bool square = down == 0 || fabs(across / down - 1) < 0.02;
    if (!(unit >= 2 && unit <= 5) || !square || across == 0) {
        return;
    }
    double scale = scale_since_taken(facts, width, height);
    note(&facts->pixel_um, unit_um[(int)unit] / across / scale, 0.3, 200,
         scale == 1 ? "focal-plane resolution" : "focal-plane resolution, picture resized");
}

/* CIPA DCG-001 takes the equivalent from the diagonal, 43.27 mm on a 36 x 24 mm sensor; what both
 * focal lengths say of the sensor's diagonal goes to the pixels along it. A crop would mislead, so
 * the picture must be all of what was taken. */
static void derive_pitch(struct frame_facts *facts, int width, int height)
{
    double scale = scale_since_taken(facts, width, height);
    if (facts->pixel_um.origin != FACT_UNKNOWN || facts->focal_mm.origin == FACT_UNKNOWN ||
        facts->focal_35mm.origin == FACT_UNKNOWN || facts->sensor_width == 0 || isnan(scale)) {
        return;
    }
    double diagonal_mm = hypot(36, 24) * facts->focal_mm.value / facts->focal_35mm.value;
    double pitch = 1000 * diagonal_mm / hypot(facts->sensor_width, facts->sensor_height) / scale;
    if (pitch >= 0.3 && pitch <= 200) {
        facts->pixel_um = (struct fact){pitch, FACT_DERIVED, "35 mm equivalent"};
    }
}

/* Minutes that the camera's clock was ahead of the GPS receiver's, to a quarter of an hour; false
 * if that tells no zone: no fix near the time of the picture, or clocks that disagree. */
static bool gps_offset(int *minutes, const struct exif_tags *tags, struct utc local)
{
    const double *clock = tags->triple[EXIF_GPS_TIME];
    char text[128];
    struct time_stamp fix;
    snprintf(text, sizeof text, "%sT%02.0f:%02.0f:%02.0f", tags->text[EXIF_GPS_DATE],
             floor(clock[0]), floor(clock[1]), floor(clock[2]));
    for (char *p = text; *p && *p != 'T'; p++) {
        *p = *p == ':' ? '-' : *p;
    }
    if (tags->count[EXIF_GPS_TIME] < 3 || !moment_read(&fix, text, NULL)) {
        return false;
    }
    double ahead = time_between(fix.utc, local) / 60, zone = 15 * round(ahead / 15);
    *minutes = (int)zone;
    return fabs(ahead - zone) < 5 && fabs(zone) <= 14 * 60;
}

static void note_utc(struct frame_facts *facts, const struct exif_tags *tags,
                     struct time_stamp start, const char *offset_text)
{
    int offset;
    bool stated = moment_read_offset(&offset, offset_text);
    facts->start_source = "EXIF DateTimeOriginal, zone unknown";
    if (stated || gps_offset(&offset, tags, start.utc)) {
        start.utc = time_add_clock(start.utc, -60.0 * offset);
        start.zoned = true;
        facts->start_utc = start;
        facts->start_source = stated ? "EXIF DateTimeOriginal and its offset"
                                     : "EXIF DateTimeOriginal, zone from GPS";
    }
}

static void note_start(struct frame_facts *facts, const struct exif_tags *tags)
{
    static const struct {
        enum exif_text date, fraction, offset;
    } sets[] = {
        {EXIF_TAKEN, EXIF_TAKEN_FRACTION, EXIF_TAKEN_OFFSET},
        {EXIF_DIGITIZED, EXIF_DIGITIZED_FRACTION, EXIF_DIGITIZED_OFFSET},
    };
    for (size_t i = 0; i < sizeof sets / sizeof *sets; i++) {
        struct time_stamp start;
        if (moment_read(&start, tags->text[sets[i].date], tags->text[sets[i].fraction])) {
            facts->start_local = start;
            note_utc(facts, tags, start, tags->text[sets[i].offset]);
            return;
        }
    }
}

static double degrees(const double triple[3])
{
    return triple[0] + triple[1] / 60 + triple[2] / 3600;
}

/* Receivers without a fix write zeros for both coordinates; no tripod stands there in the sea. */
static void note_place(struct frame_facts *facts, const struct exif_tags *tags)
{
    char south = tags->text[EXIF_SOUTH][0], west = tags->text[EXIF_WEST][0];
    double latitude = degrees(tags->triple[EXIF_LATITUDE]);
    double longitude = degrees(tags->triple[EXIF_LONGITUDE]);
    if ((south != 'N' && south != 'S') || (west != 'E' && west != 'W') || latitude > 90 ||
        longitude > 180 || (latitude == 0 && longitude == 0)) {
        return;
    }
    note(&facts->latitude_deg, south == 'S' ? -latitude : latitude, -90, 90, "EXIF GPS");
    note(&facts->longitude_deg, west == 'W' ? -longitude : longitude, -180, 180, "EXIF GPS");
    if (tags->count[EXIF_HEIGHT_M] > 0) {
        double height = tags->triple[EXIF_HEIGHT_M][0];
        note(&facts->height_m, tags->number[EXIF_BELOW_SEA] == 1 ? -height : height, -500, 9000,
             "EXIF GPS");
    }
}

/* Makers that repeat their name in the model's need it once. */
static void note_names(struct frame_facts *facts, const struct exif_tags *tags)
{
    const char *make = tags->text[EXIF_MAKE], *model = tags->text[EXIF_MODEL];
    size_t word = strcspn(make, " ");
    bool repeated = make[0] && strncmp(make, model, word) == 0;
    if (make[0] || model[0]) {
        snprintf(facts->camera, sizeof facts->camera, "%.31s%s%.31s", repeated ? "" : make,
                 make[0] && model[0] && !repeated ? " " : "", model);
    }
    if (tags->text[EXIF_LENS][0]) {
        memcpy(facts->lens, tags->text[EXIF_LENS], sizeof facts->lens);
    }
}

void exif_tags_facts(struct frame_facts *facts, const struct exif_tags *tags, int width, int height)
{
    const double *number = tags->number;
    note(&facts->focal_mm, number[EXIF_FOCAL], 0.5, 20000, "EXIF FocalLength");
    note(&facts->focal_35mm, number[EXIF_FOCAL_35MM], 3, 20000, "EXIF FocalLengthIn35mmFilm");
    note(&facts->exposure_s, number[EXIF_EXPOSURE_TIME], 1e-6, 86400, "EXIF ExposureTime");
    note(&facts->f_number, number[EXIF_F_NUMBER], 0.3, 200, "EXIF FNumber");
    note_iso(facts, tags);
    note_sensor(facts, tags);
    note_pitch(facts, tags, width, height);
    derive_pitch(facts, width, height);
    note_start(facts, tags);
    note_place(facts, tags);
    note_names(facts, tags);
}

int exif_tags_orientation(const struct exif_tags *tags)
{
    double stated = tags->number[EXIF_ORIENTATION];
    return stated >= 1 && stated <= 8 ? (int)stated : 1;
}
