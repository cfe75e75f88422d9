#include "image/read_fits.h"

#include "image/bayer.h"
#include "image/binner.h"
#include "image/colour_cells.h"
#include "image/fits_facts.h"
#include "image/fits_source.h"
#include "image/guards/fits_guard.h"
#include "image/guards/fits_tiles.h"
#include "image/guards/limits.h"
#include "image/picture_rows.h"

#include <fitsio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Rows are read in pieces that stay in the cache until they are converted. */
enum { PIECE_PIXELS = 1 << 17, MAX_AXES = 9 };

/* The tile codes of the FITS standard have no such bound as deflate has, but nothing with stars in
 * it comes near this. */
static const double tile_pixels_per_byte = 4096;

struct fits_reader {
    struct fits_source input;
    int status; /* of the library */
    const struct picture_source *source;
    const struct frame_options *options;
    struct frame *frame;
    struct binner binner;
    struct colour_cells cells;
    struct picture_rows picture;
    int width, height, planes; /* planes: 1 or 3 */
    struct fits_place place;
    int bitpix;
    int cell;       /* 2 for a colour filter mosaic, else 1 */
    int piece_rows; /* rows read at a time */
    float *piece[3];
    struct bayer bayer;
    float *colour[3], *upper; /* of a mosaic: rows of colours, and the cell's first row */
    struct error *err;
};

bool read_fits_recognise(const unsigned char *head, size_t size,
                         const struct picture_source *source)
{
    (void)source;
    return (size >= 9 && memcmp(head, "SIMPLE  =", 9) == 0) || fits_source_is_packed(head, size);
}

static int fail(struct fits_reader *r, const char *doing)
{
    if (r->status == MEMORY_ALLOCATION) {
        return error_memory(r->err);
    }
    if (r->status == END_OF_FILE || r->status == READ_ERROR) {
        return error_because(r->err,
                             error_set(r->err, ERROR_INPUT,
                                       "%s: the file ends early, while reading %s", r->source->name,
                                       doing),
                             CAUSE_SHORT);
    }
    char text[FLEN_STATUS];
    fits_get_errstatus(r->status, text);
    return error_set(r->err, ERROR_INPUT,
                     "%s: cannot be read as a FITS image: %s, while reading %s", r->source->name,
                     text, doing);
}

static int open_file(struct fits_reader *r)
{
    int code = fits_source_open(&r->input, &r->status, r->err);
    if (code || r->status == 0) {
        return code;
    }
    return r->input.zipped && r->status != MEMORY_ALLOCATION
               ? error_set(r->err, ERROR_INPUT, "%s: expected a whole FITS file in this gzip file",
                           r->source->name)
               : fail(r, "the first header");
}

/* Notes the size of the image in the current unit; false if there is none with two axes. Sets
 * planes to 0 when its further axes are neither 1 nor one 3. */
static bool measure_unit(struct fits_reader *r, double *width, double *height)
{
    int type = 0, axes = 0;
    LONGLONG length[MAX_AXES] = {0};
    fits_get_hdu_type(r->input.file, &type, &r->status);
    if (r->status || type != IMAGE_HDU || fits_get_img_dim(r->input.file, &axes, &r->status) ||
        fits_get_img_sizell(r->input.file, MAX_AXES, length, &r->status)) {
        return false;
    }
    axes = axes < MAX_AXES ? axes : MAX_AXES;
    LONGLONG planes = axes < 2 ? 0 : 1;
    for (int i = 0; i < axes; i++) {
        if (length[i] < 1) {
            return false;
        }
        planes = i < 2 || length[i] == 1 ? planes : planes == 1 ? length[i] : -1;
    }
    *width = (double)length[0];
    *height = (double)length[1];
    r->planes = planes == 1 || planes == 3 ? (int)planes : 0;
    return planes != 0;
}

static int find_image(struct fits_reader *r, double *width, double *height)
{
    if (fits_movabs_hdu(r->input.file, r->place.unit, NULL, &r->status)) {
        return fail(r, "the headers");
    }
    bool found = measure_unit(r, width, height);
    if (r->status) {
        return fail(r, "the headers");
    }
    if (!found) {
        return error_set(r->err, ERROR_INPUT, "%s: no image in this FITS file", r->source->name);
    }
    if (r->planes == 0) {
        return error_set(r->err, ERROR_INPUT,
                         "%s: a FITS cube; expected one plane, or three for red, green and blue",
                         r->source->name);
    }
    return 0;
}

/* Returns whether the number is there. A damaged card counts as missing. */
static bool read_number(struct fits_reader *r, const char *key, double *value)
{
    int status = 0;
    return fits_read_key(r->input.file, TDOUBLE, key, value, NULL, &status) == 0;
}

static bool read_string(struct fits_reader *r, const char *key, char value[FLEN_VALUE])
{
    int status = 0;
    return fits_read_key(r->input.file, TSTRING, key, value, NULL, &status) == 0;
}

/* Whether colour filters lie over the pixels: four letters such as RGGB. COLORTYP may name other
 * things, too. */
static bool has_mosaic(struct fits_reader *r)
{
    char text[FLEN_VALUE];
    bool pattern = read_string(r, "BAYERPAT", text) || read_string(r, "COLORTYP", text);
    return pattern && strlen(text) == 4 && strspn(text, "RGBrgb") == 4;
}

/* The pattern's first row is that of the file's first pixels, whichever way up these are shown, and
 * the offsets count in the same order (common practice, no source). */
static void read_pattern(struct fits_reader *r)
{
    char text[FLEN_VALUE];
    double columns = 0, rows = 0;
    if (!read_string(r, "BAYERPAT", text)) {
        return;
    }
    bayer_read(&r->bayer, text);
    read_number(r, "XBAYROFF", &columns);
    read_number(r, "YBAYROFF", &rows);
    if (fabs(columns) < 1e6 && fabs(rows) < 1e6) {
        bayer_shift(&r->bayer, lround(columns), lround(rows));
    }
}

/* Cards of the image win over those of the primary header. */
static int read_metadata(struct fits_reader *r)
{
    char text[FLEN_VALUE];
    if (r->place.unit > 1) {
        fits_movabs_hdu(r->input.file, 1, NULL, &r->status);
        fits_facts_read(&r->frame->facts, r->input.file);
        fits_movabs_hdu(r->input.file, r->place.unit, NULL, &r->status);
    }
    fits_facts_read(&r->frame->facts, r->input.file);
    bool top_down = read_string(r, "ROWORDER", text) && strcmp(text, "TOP-DOWN") == 0;
    r->frame->rows = top_down ? ROWS_TOP_DOWN : ROWS_BOTTOM_UP;
    r->cell = r->planes == 1 && has_mosaic(r) ? 2 : 1;
    if (r->cell == 2) {
        read_pattern(r);
    }
    return r->status ? fail(r, "the headers") : 0;
}

static double pixels_per_byte(const struct fits_reader *r)
{
    if (r->place.tiled) {
        return tile_pixels_per_byte;
    }
    return (r->input.zipped ? FITS_DEFLATE_RATIO : 1) * 8.0 / (abs(r->bitpix) * r->planes);
}

/* Where integers end, as stored and then scaled; 0 for floats. */
static float full_value(struct fits_reader *r)
{
    double scale = 1, zero = 0;
    read_number(r, "BSCALE", &scale);
    read_number(r, "BZERO", &zero);
    if (r->bitpix < 0) {
        return 0;
    }
    double low = r->bitpix == 8 ? 0 : -ldexp(1, r->bitpix - 1);
    double high = r->bitpix == 8 ? 255 : ldexp(1, r->bitpix - 1) - 1;
    double full = zero + scale * (scale < 0 ? low : high);
    return full > 0 && full < 1e30 ? (float)full : 0;
}

/* A tile is unpacked as a whole, so pieces are whole tiles high. */
static int choose_piece_rows(const struct fits_reader *r)
{
    if (r->place.tiled) {
        return r->place.tile[1] < r->height ? (int)r->place.tile[1] : r->height;
    }
    int rows = PIECE_PIXELS / r->width;
    return rows < 1 ? 1 : rows < r->height ? rows : r->height;
}

static int allocate(struct fits_reader *r)
{
    r->piece_rows = choose_piece_rows(r);
    size_t pixels = (size_t)r->piece_rows * (size_t)r->width;
    for (int c = 0; c < r->planes; c++) {
        r->piece[c] = malloc(pixels * sizeof **r->piece);
        if (!r->piece[c]) {
            return error_memory(r->err);
        }
    }
    for (int c = 0; c < 4 && r->bayer.known; c++) {
        float **row = c < 3 ? &r->colour[c] : &r->upper;
        *row = malloc((size_t)r->width * sizeof **row);
        if (!*row) {
            return error_memory(r->err);
        }
    }
    r->frame->luminance.full = full_value(r);
    int orientation = r->frame->rows == ROWS_BOTTOM_UP ? ORIENT_FLIP_Y : ORIENT_AS_IS;
    int code = binner_start(&r->binner, r->frame, r->width, r->height, orientation, r->cell,
                            r->bitpix == 8 ? 8 : 16, r->options, r->err);
    if (!code && r->options->want_colours && (r->bayer.known || r->planes == 3)) {
        code = colour_cells_start(&r->cells, &r->binner, r->err);
    }
    return code || !r->options->want_picture ? code
                                             : picture_rows_start(&r->picture, &r->binner, r->err);
}

static int check_tiles(struct fits_reader *r)
{
    const long length[3] = {r->width, r->height, r->planes};
    double most = (r->input.zipped ? FITS_DEFLATE_RATIO : 1) * (double)r->input.packed_size;
    return fits_tiles_check(r->input.file, &r->place, length, most, r->source->name, r->err);
}

static int prepare(struct fits_reader *r)
{
    double width = 0, height = 0;
    int code = find_image(r, &width, &height);
    if (code) {
        return code;
    }
    if (fits_get_img_type(r->input.file, &r->bitpix, &r->status)) {
        return fail(r, "the headers");
    }
    code = limits_check(r->source->name, width, height, r->input.packed_size, pixels_per_byte(r),
                        r->err);
    if (code) {
        return code;
    }
    if (r->place.cut) {
        r->status = END_OF_FILE;
        return fail(r, "the image");
    }
    r->width = (int)width;
    r->height = (int)height;
    code = read_metadata(r);
    code = code || !r->place.tiled ? code : check_tiles(r);
    return code ? code : allocate(r);
}

/* Reads rows of all planes into the pieces. */
static int read_piece(struct fits_reader *r, int first, int rows)
{
    size_t count = (size_t)rows * (size_t)r->width;
    float blank = NAN;
    int any = 0; /* the library writes there without asking */
    /* Plain floats hold their NaN already; not asking for it spares the library a test a pixel. */
    float *null = r->bitpix > 0 || r->place.tiled ? &blank : NULL;
    for (int c = 0; c < r->planes; c++) {
        LONGLONG start = 1 + ((LONGLONG)c * r->height + first) * r->width;
        fits_read_img(r->input.file, TFLOAT, start, (LONGLONG)count, null, r->piece[c], &any,
                      &r->status);
        if (r->status == NUM_OVERFLOW) {
            r->status = 0; /* doubles that no float holds: they came as the largest float */
        }
        if (r->status) {
            char doing[64];
            snprintf(doing, sizeof doing, "rows %d to %d of %d", first + 1, first + rows,
                     r->height);
            return fail(r, doing);
        }
    }
    return 0;
}

/* A grey image stands for all three colours. */
static void find_colours(const float *colour[3], const struct fits_reader *r, size_t offset)
{
    for (int c = 0; c < 3; c++) {
        colour[c] = r->piece[r->planes == 1 ? 0 : c] + offset;
    }
}

/* Rows of a mosaic come in pairs, upper and lower; the same colours go to both. */
static void add_cells(struct fits_reader *r, const float *lower, int rows)
{
    const float *const colour[3] = {r->colour[0], r->colour[1], r->colour[2]};
    bayer_colours(r->colour, &r->bayer, r->upper, lower, r->width);
    picture_rows_add(&r->picture, colour, rows);
}

static void look_at_row(struct fits_reader *r, int row, size_t offset)
{
    const float *colour[3];
    if (!r->picture.binner && !r->cells.binner) {
        return;
    }
    find_colours(colour, r, offset);
    if (!r->bayer.known) {
        picture_rows_look(&r->picture, row, colour);
        colour_cells_add(&r->cells, colour, 1);
    } else if (row % 2 == 0) {
        memcpy(r->upper, colour[0], (size_t)r->width * sizeof *r->upper);
    } else if (r->cells.binner || stretch_wants(&r->picture.stretch, row - 1)) {
        bayer_colours(r->colour, &r->bayer, r->upper, colour[0], r->width);
        picture_rows_look(&r->picture, row - 1, (const float *const *)r->colour);
        colour_cells_add(&r->cells, (const float *const *)r->colour, 2);
    }
}

/* Infinite values, and those beyond use, would spoil every sum they enter; they count as blank. */
static void take_plane_row(struct fits_reader *r, int row, size_t offset)
{
    const float limit = 1e30F, third = 1.0F / 3.0F;
    float *restrict line = binner_line(&r->binner);
    const float *red = r->piece[0] + offset;
    if (r->planes == 1) {
        for (int x = 0; x < r->width; x++) {
            line[x] = fabsf(red[x]) < limit ? red[x] : NAN;
        }
    } else {
        const float *green = r->piece[1] + offset, *blue = r->piece[2] + offset;
        for (int x = 0; x < r->width; x++) {
            float sum = red[x] + green[x] + blue[x];
            line[x] = fabsf(sum) < limit ? sum * third : NAN;
        }
    }
    binner_add(&r->binner);
    look_at_row(r, row, offset);
}

static void take_picture_row(struct fits_reader *r, int row, size_t offset)
{
    const float *colour[3];
    if (!r->bayer.known) {
        find_colours(colour, r, offset);
        picture_rows_add(&r->picture, colour, 1);
    } else if (row % 2 == 0) {
        memcpy(r->upper, r->piece[0] + offset, (size_t)r->width * sizeof *r->upper);
        if (row == r->height - 1 && row > 0) { /* half a cell is left over: it lacks a colour */
            picture_rows_add(&r->picture, NULL, 1);
        } else if (row == r->height - 1) {
            add_cells(r, r->upper, 1);
        }
    } else {
        add_cells(r, r->piece[0] + offset, 2);
    }
}

static int each_row(struct fits_reader *r, void (*take)(struct fits_reader *, int, size_t))
{
    for (int first = 0; first < r->height; first += r->piece_rows) {
        int rows = r->height - first < r->piece_rows ? r->height - first : r->piece_rows;
        int code = read_piece(r, first, rows);
        if (code) {
            return code;
        }
        for (int i = 0; i < rows; i++) {
            take(r, first + i, (size_t)i * (size_t)r->width);
        }
    }
    return 0;
}

static int run(struct fits_reader *r)
{
    int code = fits_source_start(&r->input, r->source, r->err);
    code = code ? code : fits_guard_find_image(&r->place, &r->input.plain, r->err);
    code = code ? code : open_file(r);
    code = code ? code : prepare(r);
    code = code ? code : each_row(r, take_plane_row);
    if (!code && r->options->want_picture) {
        picture_rows_settle(&r->picture, r->frame->luminance.full);
        code = each_row(r, take_picture_row);
    }
    return code;
}

int read_fits(struct frame *frame, const struct picture_source *source,
              const struct frame_options *options, struct error *err)
{
    struct fits_reader r = {.source = source, .frame = frame, .options = options, .err = err};
    int code = run(&r);
    fits_source_close(&r.input);
    for (int c = 0; c < 3; c++) {
        free(r.piece[c]);
        free(r.colour[c]);
    }
    free(r.upper);
    binner_free(&r.binner);
    colour_cells_free(&r.cells);
    picture_rows_free(&r.picture);
    return code;
}
