#include "image/read_raw.h"

#include "image/binner.h"
#include "image/colour_cells.h"
#include "image/exif_tags.h"
#include "image/guards/limits.h"
#include "image/guards/raw_guard.h"
#include "image/picture_rows.h"
#include "image/raw_cells.h"
#include "image/raw_stream.h"
#include "image/tiff_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Deflate, the densest code that a DNG may use, makes at most 258 bytes of two bits (RFC 1951).
 * Cameras' own codes spend a bit and more on a pixel, or bundle the pixels of an empty line; real
 * frames have noise. */
static const double pixels_per_byte_of_dng = 1032, pixels_per_byte_of_camera = 64;

/* What passes for a frame among unknown bytes, and over a TIFF file's own picture. */
enum { LEAST_PIXELS = 64 * 48, LARGER = 4 };

struct raw_reader {
    libraw_data_t *raw;
    const struct picture_source *source;
    size_t size;
    const struct frame_options *options;
    struct frame *frame;
    struct exif_tags tags;
    struct raw_cells cells;
    struct binner binner;
    struct colour_cells tints;
    struct picture_rows picture;
    float *colour[3];
    bool damaged, ended;                   /* noted while the library unpacks */
    bool exposure_stated, aperture_stated; /* perhaps as 0 */
    struct error *err;
};

static int open_bytes(libraw_data_t *raw, const struct picture_source *source)
{
    return source->bytes ? libraw_open_buffer(raw, (void *)source->bytes, source->size)
                         : libraw_open_file(raw, source->name);
}

/* Pixels of the frame that the library finds from the headers alone; 0 if it finds none. */
static double pixels_known(const struct picture_source *source)
{
    size_t size;
    double pixels = 0;
    FILE *stream = picture_source_open(source, &size, NULL);
    bool sound = stream && raw_guard_check(stream, size, source->name, NULL) == 0;
    libraw_data_t *raw =
        sound ? libraw_init(LIBRAW_OPIONS_NO_MEMERR_CALLBACK | LIBRAW_OPIONS_NO_DATAERR_CALLBACK)
              : NULL;
    if (stream) {
        fclose(stream);
    }
    if (raw && open_bytes(raw, source) == LIBRAW_SUCCESS) {
        pixels = (double)raw->sizes.raw_width * raw->sizes.raw_height;
    }
    if (raw) {
        libraw_close(raw);
    }
    return pixels;
}

/* Some cameras' files pass for TIFF files of one pixel or of a preview, and keep the frame where
 * TIFF does not look. The library is asked where most of the bytes are nobody's. */
static bool has_larger_frame(const struct picture_source *source)
{
    struct tiff_file_extent extent;
    size_t size = 0;
    FILE *stream = picture_source_open(source, &size, NULL);
    if (stream) {
        fclose(stream);
    }
    return tiff_file_measure(&extent, source) && 2 * extent.pixel_bytes < (double)size &&
           pixels_known(source) > LARGER * extent.largest;
}

bool read_raw_recognise(const unsigned char *head, size_t size, const struct picture_source *source)
{
    static const struct {
        size_t offset;
        const char *bytes;
        size_t length;
    } marks[] = {
        {8, "CR\x02\0", 4},         /* CR2, which is TIFF otherwise */
        {4, "ftypcrx ", 8},         /* CR3 */
        {0, "FUJIFILMCCD-RAW", 15}, /* RAF */
        {0, "IIRO", 4},             /* ORF */
        {0, "IIRS", 4},             /* ORF */
        {0, "MMOR", 4},             /* ORF */
        {0, "IIU\0", 4},            /* RW2 */
        {0, "\0MRM", 4},            /* MRW */
        {6, "HEAPCCDR", 8},         /* CRW */
        {0, "IIIITwaR", 8},         /* medium format backs, alone or in a TIFF file: IIQ */
        {0, "MMMMRawT", 8},
        {8, "IIIITwaR", 8},
        {8, "MMMMRawT", 8},
    };
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        if (size >= marks[i].offset + marks[i].length &&
            memcmp(head + marks[i].offset, marks[i].bytes, marks[i].length) == 0) {
            return true;
        }
    }
    return tiff_file_recognise(head, size) &&
           (tiff_file_holds_raw(source) || has_larger_frame(source));
}

bool read_raw_knows(const unsigned char *head, size_t size, const struct picture_source *source)
{
    bool binary = false;
    for (size_t i = 0; i < size && !binary; i++) {
        binary = head[i] == 0 || head[i] > 0x7e;
    }
    return binary && pixels_known(source) >= LEAST_PIXELS;
}

static int fail_short(struct raw_reader *r, const char *doing)
{
    return error_because(r->err,
                         error_set(r->err, ERROR_INPUT, "%s: the file ends early, while reading %s",
                                   r->source->name, doing),
                         CAUSE_SHORT);
}

static int fail(struct raw_reader *r, int code, const char *doing)
{
    if (code == LIBRAW_UNSUFFICIENT_MEMORY) {
        return error_memory(r->err);
    }
    if (code == LIBRAW_IO_ERROR || r->ended) {
        return fail_short(r, doing);
    }
    if (code == LIBRAW_DATA_ERROR || r->damaged) {
        return error_set(r->err, ERROR_INPUT, "%s: the camera raw data are damaged, in %s",
                         r->source->name, doing);
    }
    return error_set(r->err, ERROR_INPUT, "%s: cannot be read as camera raw: %s, in %s",
                     r->source->name, libraw_strerror(code), doing);
}

/* The library goes on after damage, with pixels that are none; offset is below 0 at the end. */
static void on_damage(void *context, const char *file, const int offset)
{
    struct raw_reader *r = context;
    (void)file;
    r->damaged = true;
    r->ended = r->ended || offset < 0;
}

static int on_progress(void *context, enum LibRaw_progress stage, int iteration, int expected)
{
    const struct raw_reader *r = context;
    (void)stage;
    (void)iteration;
    (void)expected;
    return r->damaged;
}

enum { EXPOSURE_TIME = 0x829a, F_NUMBER = 0x829d, CROP_SIZE = 0xc620, ORIGINAL_SIZE = 0xc791 };

/* Entries of the camera's EXIF directory come with nothing above their tag; others have more. Of
 * these two are wanted, wherever they are. */
static enum exif_directory directory_of(int tag)
{
    int own = tag & 0xffff;
    return tag <= 0xffff                              ? EXIF_CAMERA
           : own == CROP_SIZE || own == ORIGINAL_SIZE ? EXIF_FIRST
                                                      : EXIF_DIRECTORIES;
}

static void on_tag(void *context, int tag, int type, int length, unsigned order, void *stream,
                   INT64 base)
{
    struct raw_reader *r = context;
    unsigned char bytes[256];
    enum exif_directory directory = directory_of(tag);
    (void)base;
    size_t got = tag >= 0 && directory != EXIF_DIRECTORIES && length > 0
                     ? raw_stream_read(stream, bytes, sizeof bytes)
                     : 0;
    r->exposure_stated = r->exposure_stated || tag == EXPOSURE_TIME;
    r->aperture_stated = r->aperture_stated || tag == F_NUMBER;
    if (got > 0) {
        exif_tags_add(&r->tags, directory, (unsigned)tag & 0xffff, (unsigned)type,
                      (unsigned long)length, bytes, got, order == 0x4d4d);
    }
}

/* Where EXIF has 0 for unknown, the library goes by the same in powers of two, and makes it 1. */
static double unless_zero(double value, bool stated, double exif)
{
    return stated && exif == 0 && value == 1 ? 0 : value;
}

/* The size of the frame when it was taken, for a DNG that was reduced since (DNG 1.4:
 * OriginalDefaultFinalSize, against DefaultCropSize). */
static void note_reduction(struct exif_tags *tags, int width, int height)
{
    const double *was = tags->triple[EXIF_ORIGINAL_SIZE], *is = tags->triple[EXIF_CROP_SIZE];
    bool stated = tags->count[EXIF_ORIGINAL_SIZE] == 2 && tags->count[EXIF_CROP_SIZE] == 2;
    if (stated && is[0] >= 1 && is[1] >= 1 && was[0] > is[0] && was[1] > is[1]) {
        tags->number[EXIF_WIDTH] = width * was[0] / is[0];
        tags->number[EXIF_HEIGHT] = height * was[1] / is[1];
    }
}

/* Facts that the library found, perhaps in a maker's own tags, where the standard ones are silent.
 */
static void note_if_unknown(struct fact *fact, double value, double low, double high,
                            const char *source)
{
    if (fact->origin == FACT_UNKNOWN && value >= low && value <= high) {
        *fact = (struct fact){value, FACT_EXIF, source};
    }
}

static double signed_degrees(const float triple[3], char direction, char negative)
{
    double value = (double)triple[0] + (double)triple[1] / 60 + (double)triple[2] / 3600;
    return direction == negative ? -value : value;
}

static void note_gps(struct frame_facts *facts, const libraw_gps_info_t *gps)
{
    static const char source[] = "EXIF GPS";
    double latitude = signed_degrees(gps->latitude, gps->latref, 'S');
    double longitude = signed_degrees(gps->longitude, gps->longref, 'W');
    if (!gps->gpsparsed || (latitude == 0 && longitude == 0)) {
        return;
    }
    note_if_unknown(&facts->latitude_deg, latitude, -90, 90, source);
    note_if_unknown(&facts->longitude_deg, longitude, -180, 180, source);
    if (gps->altitude != 0) {
        note_if_unknown(&facts->height_m, (double)gps->altitude * (gps->altref == 1 ? -1 : 1), -500,
                        9000, source);
    }
}

static void read_metadata(struct raw_reader *r)
{
    static const char source[] = "the maker's tags";
    const libraw_imgother_t *other = &r->raw->other;
    struct frame_facts *facts = &r->frame->facts;
    struct exif_tags *tags = &r->tags;
    snprintf(tags->text[EXIF_MAKE], sizeof tags->text[EXIF_MAKE], "%.63s", r->raw->idata.make);
    snprintf(tags->text[EXIF_MODEL], sizeof tags->text[EXIF_MODEL], "%.63s", r->raw->idata.model);
    if (!tags->text[EXIF_LENS][0]) {
        snprintf(tags->text[EXIF_LENS], sizeof tags->text[EXIF_LENS], "%.63s", r->raw->lens.Lens);
    }
    if (tags->number[EXIF_WIDTH] == 0 || tags->number[EXIF_HEIGHT] == 0) {
        tags->number[EXIF_WIDTH] = r->cells.width;
        tags->number[EXIF_HEIGHT] = r->cells.height;
    }
    note_reduction(tags, r->cells.width, r->cells.height);
    exif_tags_facts(facts, tags, r->cells.width, r->cells.height);
    note_if_unknown(&facts->focal_mm, (double)other->focal_len, 0.5, 20000, source);
    note_if_unknown(
        &facts->exposure_s,
        unless_zero((double)other->shutter, r->exposure_stated, tags->number[EXIF_EXPOSURE_TIME]),
        1e-6, 86400, source);
    note_if_unknown(&facts->iso, (double)other->iso_speed, 1, 1e8, source);
    note_if_unknown(
        &facts->f_number,
        unless_zero((double)other->aperture, r->aperture_stated, tags->number[EXIF_F_NUMBER]), 0.3,
        200, source);
    note_gps(facts, &other->parsed_gps);
}

static int open_file(struct raw_reader *r)
{
    FILE *stream = picture_source_open(r->source, &r->size, r->err);
    if (!stream) {
        return ERROR_INPUT;
    }
    int code = raw_guard_check(stream, r->size, r->source->name, r->err);
    fclose(stream);
    if (code) {
        return code;
    }
    r->raw = libraw_init(LIBRAW_OPIONS_NO_MEMERR_CALLBACK | LIBRAW_OPIONS_NO_DATAERR_CALLBACK);
    if (!r->raw) {
        return error_memory(r->err);
    }
    libraw_set_dataerror_handler(r->raw, on_damage, r);
    libraw_set_progress_handler(r->raw, on_progress, r);
    libraw_set_exifparser_handler(r->raw, on_tag, r);
    code = open_bytes(r->raw, r->source);
    if (code == LIBRAW_FILE_UNSUPPORTED) {
        return error_set(r->err, ERROR_INPUT,
                         "%s: a camera raw file that is damaged or of a kind not known here",
                         r->source->name);
    }
    return code ? fail(r, code, "the headers") : 0;
}

/* The library takes tiles that are not there for black ones, and says nothing. A DNG's places are
 * exact; of other makers' files only the first one is. */
static bool is_cut(const struct raw_reader *r)
{
    struct tiff_file_extent extent;
    double size = (double)r->size;
    return tiff_file_measure(&extent, r->source) &&
           (extent.sensor_start >= size || (extent.is_dng && extent.sensor_end > size));
}

static int unpack(struct raw_reader *r)
{
    const libraw_image_sizes_t *s = &r->raw->sizes;
    double densest = r->raw->idata.dng_version ? pixels_per_byte_of_dng : pixels_per_byte_of_camera;
    int code = limits_check(r->source->name, s->raw_width, s->raw_height, r->size, densest, r->err);
    if (code) {
        return code;
    }
    code = is_cut(r) ? LIBRAW_IO_ERROR : libraw_unpack(r->raw);
    if (code || r->damaged) {
        return fail(r, code, "the pixels");
    }
    code = raw_cells_look(&r->cells, r->raw, r->source->name, r->err);
    return code || !raw_cells_are_blank(&r->cells)
               ? code
               : fail_short(r, "the pixels, of which there are none");
}

/* The library keeps the three bits that make an orientation: flip x, flip y, transpose. */
static int orientation(const struct raw_reader *r)
{
    static const int by_flip[8] = {ORIENT_AS_IS,      ORIENT_FLIP_X,    ORIENT_FLIP_Y,
                                   ORIENT_HALF_TURN,  ORIENT_TRANSPOSE, ORIENT_TURN_LEFT,
                                   ORIENT_TURN_RIGHT, ORIENT_TRANSVERSE};
    return by_flip[r->raw->sizes.flip & 7];
}

static int allocate(struct raw_reader *r)
{
    size_t width = (size_t)r->cells.width;
    int code = binner_start(&r->binner, r->frame, r->cells.width, r->cells.height, orientation(r),
                            r->cells.cell, 16, r->options, r->err);
    if (code || !(r->options->want_picture || r->options->want_colours)) {
        return code;
    }
    bool good = true;
    for (int c = 0; c < 3; c++) {
        r->colour[c] = malloc(width * sizeof **r->colour);
        good = good && r->colour[c];
    }
    code = good ? 0 : error_memory(r->err);
    if (!code && r->options->want_colours) {
        code = colour_cells_start(&r->tints, &r->binner, r->err);
    }
    return code || !r->options->want_picture ? code
                                             : picture_rows_start(&r->picture, &r->binner, r->err);
}

static void take_luminance(struct raw_reader *r)
{
    for (int y = 0; y < r->cells.height; y++) {
        raw_cells_luminance(binner_line(&r->binner), &r->cells, y);
        binner_add(&r->binner);
    }
}

/* One row of the mosaic's cells stands for those that are summed with it: colours are for looking
 * at, and the others would take as long again. */
static void take_colours(struct raw_reader *r)
{
    const float *const colour[3] = {r->colour[0], r->colour[1], r->colour[2]};
    int height = r->cells.height, step = r->tints.cell - r->tints.cell % r->cells.cell;
    for (int y = 0; y < height; y += step) {
        raw_cells_colours(r->colour, &r->cells, y);
        colour_cells_add(&r->tints, colour, height - y < step ? height - y : step);
    }
}

static void take_picture(struct raw_reader *r)
{
    const float *const colour[3] = {r->colour[0], r->colour[1], r->colour[2]};
    for (int y = 0; y < r->cells.height; y++) {
        if (stretch_wants(&r->picture.stretch, y)) {
            raw_cells_colours(r->colour, &r->cells, y - y % r->cells.cell);
            picture_rows_look(&r->picture, y, colour);
        }
    }
    picture_rows_settle(&r->picture, r->cells.full);
    for (int y = 0; y < r->cells.height; y += r->cells.cell) {
        int left = r->cells.height - y, times = left < r->cells.cell ? left : r->cells.cell;
        bool wanted = picture_rows_wants(&r->picture, times);
        if (wanted) {
            raw_cells_colours(r->colour, &r->cells, y);
        }
        picture_rows_add(&r->picture, wanted ? colour : NULL, times);
    }
}

static int run(struct raw_reader *r)
{
    int code = open_file(r);
    code = code ? code : unpack(r);
    if (code) {
        return code;
    }
    r->frame->luminance.full = r->cells.full;
    read_metadata(r);
    code = allocate(r);
    if (!code) {
        take_luminance(r);
    }
    if (!code && r->options->want_colours) {
        take_colours(r);
    }
    if (!code && r->options->want_picture) {
        take_picture(r);
    }
    return code;
}

int read_raw(struct frame *frame, const struct picture_source *source,
             const struct frame_options *options, struct error *err)
{
    struct raw_reader r = {.source = source, .frame = frame, .options = options, .err = err};
    int code = run(&r);
    if (r.raw) {
        libraw_close(r.raw);
    }
    for (int c = 0; c < 3; c++) {
        free(r.colour[c]);
    }
    raw_cells_free(&r.cells);
    binner_free(&r.binner);
    colour_cells_free(&r.tints);
    picture_rows_free(&r.picture);
    return code;
}
