#include "image/guards/fits_guard.h"

#include "base/decimal.h"
#include "base/fits_record.h"
#include "image/guards/limits.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { WORD = 20, MAX_AXES = 9, MAX_TILE_AXES = 3, MAX_UNITS = 1000, MAX_BLOCKS = 2000 };

enum number { BITPIX, NAXIS, PCOUNT, GCOUNT, TFIELDS, ZBITPIX, ZNAXIS, NUMBERS };

/* What one header states; numbers are NaN where it is silent. */
struct unit {
    double number[NUMBERS];
    double length[MAX_AXES + 1];          /* NAXISn, from 1 */
    double tiled_length[MAX_AXES + 1];    /* ZNAXISn */
    double tile[MAX_AXES + 1];            /* ZTILEn */
    double option[MAX_AXES + 1];          /* ZVALn */
    char option_name[MAX_AXES + 1][WORD]; /* ZNAMEn */
    char kind[WORD], code[WORD];          /* XTENSION, empty in the first unit; ZCMPTYPE */
    bool tiled, twice, ended;
};

struct guard {
    gzFile file;                         /* of a file; reads plain ones, too */
    const struct picture_source *memory; /* bytes, which are not packed; NULL: a file */
    size_t at;                           /* in the bytes */
    const char *name;
    int unit;
    double start; /* of the unit in the file, bytes */
    int blocks;   /* of its header */
    struct error *err;
};

static int refuse(const struct guard *g, const char *expected)
{
    return error_set(g->err, ERROR_INPUT, "%s: FITS header %d: expected %s", g->name, g->unit,
                     expected);
}

static void note(struct unit *u, double *slot, double value)
{
    u->twice = u->twice || (!isnan(*slot) && *slot != value);
    *slot = value;
}

/* The number behind the stem in the card's keyword, 1..MAX_AXES; 0 if it is another keyword. */
static int index_after(const char *card, const char *stem)
{
    size_t length = strlen(stem);
    if (memcmp(card, stem, length) != 0 || card[length] < '1' || card[length] > '9') {
        return 0;
    }
    for (size_t i = length + 1; i < 8; i++) {
        if (card[i] != ' ') {
            return 0;
        }
    }
    return card[length] - '0';
}

static bool is_key(const char *card, const char *key)
{
    size_t length = strlen(key);
    return memcmp(card, key, length) == 0 && memcmp(card + length, "        ", 8 - length) == 0;
}

static const char *skip_blanks(const char *p, const char *end)
{
    while (p < end && *p == ' ') {
        p++;
    }
    return p;
}

/* The card's text value, up to WORD - 1 characters without trailing blanks; empty if it has none.
 */
static void read_word(char word[WORD], const char *card)
{
    const char *end = card + FITS_CARD, *p = skip_blanks(card + 10, end);
    size_t length = 0;
    if (p < end && *p == '\'') {
        for (p++; p < end && *p != '\'' && length < WORD - 1; p++) {
            word[length++] = *p;
        }
    }
    while (length > 0 && word[length - 1] == ' ') {
        length--;
    }
    word[length] = '\0';
}

static void read_number_card(struct unit *u, const char *card, double value)
{
    static const char *const keys[] = {"BITPIX",  "NAXIS",   "PCOUNT", "GCOUNT",
                                       "TFIELDS", "ZBITPIX", "ZNAXIS"};
    for (int i = 0; i < (int)(sizeof keys / sizeof *keys); i++) {
        if (is_key(card, keys[i])) {
            note(u, &u->number[i], value);
        }
    }
    double *lists[] = {u->length, u->tiled_length, u->tile, u->option};
    static const char *const stems[] = {"NAXIS", "ZNAXIS", "ZTILE", "ZVAL"};
    for (int i = 0; i < (int)(sizeof stems / sizeof *stems); i++) {
        int index = index_after(card, stems[i]);
        if (index > 0) {
            note(u, &lists[i][index], value);
        }
    }
}

static void read_card(struct unit *u, const char *card)
{
    char word[WORD];
    double value;
    const char *p = skip_blanks(card + 10, card + FITS_CARD);
    if (is_key(card, "END")) {
        u->ended = true;
        return;
    }
    if (card[8] != '=') {
        return;
    }
    read_word(word, card);
    if (is_key(card, "ZCMPTYPE")) {
        u->twice = u->twice || u->code[0];
        memcpy(u->code, word, sizeof word);
    } else if (is_key(card, "ZIMAGE")) {
        u->tiled = u->tiled || (p < card + FITS_CARD && *p == 'T');
    } else if (index_after(card, "ZNAME") > 0) {
        memcpy(u->option_name[index_after(card, "ZNAME")], word, sizeof word);
    } else if (decimal_read(&value, p, card + FITS_CARD)) {
        read_number_card(u, card, value);
    }
}

static void start_unit(struct unit *u)
{
    memset(u, 0, sizeof *u);
    for (int i = 0; i < NUMBERS; i++) {
        u->number[i] = NAN;
    }
    for (int i = 0; i <= MAX_AXES; i++) {
        u->length[i] = u->tiled_length[i] = u->tile[i] = u->option[i] = NAN;
    }
}

static bool seek_to(struct guard *g, double start)
{
    if (!g->memory) {
        return gzseek(g->file, (z_off_t)start, SEEK_SET) >= 0;
    }
    g->at = start < (double)g->memory->size ? (size_t)start : g->memory->size;
    return true;
}

static int read_block(struct guard *g, char block[FITS_RECORD])
{
    if (!g->memory) {
        return gzread(g->file, block, FITS_RECORD);
    }
    size_t left = g->memory->size - g->at, count = left < FITS_RECORD ? left : FITS_RECORD;
    memcpy(block, g->memory->bytes + g->at, count);
    g->at += count;
    return (int)count;
}

/* Reads the header at g->start. *more is false where no further unit begins. */
static int read_unit(struct guard *g, struct unit *u, bool *more)
{
    char block[FITS_RECORD];
    start_unit(u);
    *more = true;
    if (!seek_to(g, g->start)) {
        *more = false;
        return 0;
    }
    for (g->blocks = 0; !u->ended; g->blocks++) {
        int got = read_block(g, block);
        bool first = g->blocks == 0;
        if (first && g->unit > 1 && (got < FITS_RECORD || memcmp(block, "XTENSION=", 9) != 0)) {
            *more = false;
            return 0;
        }
        if (got < FITS_RECORD || g->blocks == MAX_BLOCKS) {
            return error_because(
                g->err, refuse(g, "an END card; the file ends early or is damaged"), CAUSE_SHORT);
        }
        if (first && memcmp(block, "SIMPLE  =", 9) != 0 && g->unit == 1) {
            return refuse(g, "a FITS file to begin with SIMPLE");
        }
        if (first) {
            read_word(u->kind, block);
        }
        for (int i = 0; i < FITS_RECORD && !u->ended; i += FITS_CARD) {
            read_card(u, block + i);
        }
    }
    return 0;
}

static bool is_between(double value, double low, double high)
{
    return value >= low && value <= high && value == floor(value);
}

static bool is_bitpix(double value)
{
    return value == 8 || value == 16 || value == 32 || value == 64 || value == -32 || value == -64;
}

/* Bytes of the unit's data, without padding. */
static double data_size(const struct unit *u)
{
    double groups = isnan(u->number[GCOUNT]) ? 1 : u->number[GCOUNT];
    double more = isnan(u->number[PCOUNT]) ? 0 : u->number[PCOUNT];
    double product = u->number[NAXIS] > 0 ? 1 : 0;
    for (int i = 1; i <= (int)u->number[NAXIS]; i++) {
        product *= i == 1 && u->length[1] == 0 ? 1 : u->length[i]; /* random groups */
    }
    return fabs(u->number[BITPIX]) / 8 * groups * (more + product);
}

static int check_array(const struct guard *g, const struct unit *u)
{
    if (u->twice) {
        return refuse(g, "each keyword of the image's shape once");
    }
    if (!is_bitpix(u->number[BITPIX])) {
        return refuse(g, "BITPIX 8, 16, 32, 64, -32 or -64");
    }
    if (!is_between(u->number[NAXIS], 0, MAX_AXES)) {
        return refuse(g, "NAXIS from 0 to 9");
    }
    for (int i = 1; i <= (int)u->number[NAXIS]; i++) {
        if (!is_between(u->length[i], 0, 1e15)) {
            return refuse(g, "a whole number, not negative, for each axis (NAXISn)");
        }
    }
    bool counts = (isnan(u->number[PCOUNT]) || is_between(u->number[PCOUNT], 0, 1e15)) &&
                  (isnan(u->number[GCOUNT]) || is_between(u->number[GCOUNT], 0, 1e9)) &&
                  (isnan(u->number[TFIELDS]) || is_between(u->number[TFIELDS], 0, 999));
    if (!counts || data_size(u) > 1e17) {
        return refuse(g, "PCOUNT, GCOUNT, TFIELDS and the size of the data in range");
    }
    return 0;
}

/* Length of the tiles along an axis; the standard's default is a row of the image. */
static double tile_length(const struct unit *u, int axis)
{
    return !isnan(u->tile[axis]) ? u->tile[axis] : axis == 1 ? u->tiled_length[1] : 1;
}

/* The axes of a tiled image and their division; one row of the table holds one tile. */
static int check_tiles(const struct guard *g, const struct unit *u)
{
    double tiles = 1, pixels = 1, longest = 32; /* some writers make square tiles of any picture */
    if (!is_between(u->number[ZNAXIS], 1, MAX_TILE_AXES)) {
        return refuse(g, "ZNAXIS from 1 to 3");
    }
    for (int i = 1; i <= (int)u->number[ZNAXIS]; i++) {
        longest = fmax(longest, u->tiled_length[i]);
    }
    for (int i = 1; i <= (int)u->number[ZNAXIS]; i++) {
        double length = u->tiled_length[i], tile = tile_length(u, i);
        if (!is_between(length, 1, 1e6) || !is_between(tile, 1, longest)) {
            return refuse(g, "ZNAXISn and ZTILEn above 0, and tiles within the image");
        }
        tiles *= ceil(length / tile);
        pixels *= tile;
    }
    if (u->number[NAXIS] != 2 || u->length[2] != tiles || pixels > LIMIT_PIXELS) {
        return refuse(g, "a table with one row for each tile");
    }
    return 0;
}

/* Codes of FITS 4.0, section 10.4, and an old name of one. */
static const struct {
    const char *name;
    enum fits_tile_code code;
} codes[] = {{"RICE_1", TILE_RICE}, {"RICE_ONE", TILE_RICE}, {"GZIP_1", TILE_GZIP},
             {"GZIP_2", TILE_GZIP}, {"PLIO_1", TILE_PLIO},   {"HCOMPRESS_1", TILE_HCOMPRESS}};

static bool find_code(enum fits_tile_code *code, const struct unit *u)
{
    for (size_t i = 0; i < sizeof codes / sizeof *codes; i++) {
        if (strcmp(u->code, codes[i].name) == 0) {
            *code = codes[i].code;
            return true;
        }
    }
    return false;
}

static int check_code(const struct guard *g, const struct unit *u)
{
    enum fits_tile_code code;
    if (!find_code(&code, u)) {
        return error_set(g->err, ERROR_INPUT,
                         "%s: FITS image compressed by \"%s\"; expected RICE_1, GZIP_1, GZIP_2, "
                         "PLIO_1 or HCOMPRESS_1",
                         g->name, u->code);
    }
    return is_bitpix(u->number[ZBITPIX]) ? 0 : refuse(g, "ZBITPIX 8, 16, 32, 64, -32 or -64");
}

/* The library takes the two options by their places, whatever their names. */
static int settle_rice(const struct guard *g, const struct unit *u, struct fits_place *place)
{
    static const char *const names[] = {"", "BLOCKSIZE", "BYTEPIX"};
    double value[3] = {0, 32, 4}; /* the standard's defaults */
    for (int i = 1; i <= 2; i++) {
        if (u->option_name[i][0] || !isnan(u->option[i])) {
            value[i] = strcmp(u->option_name[i], names[i]) == 0 ? u->option[i] : NAN;
        }
    }
    if (!is_between(value[1], 1, 1024) || !(value[2] == 1 || value[2] == 2 || value[2] == 4)) {
        return refuse(g, "BLOCKSIZE from 1 to 1024, then BYTEPIX 1, 2 or 4");
    }
    place->block = (int)value[1];
    place->pixel_bytes = (int)value[2];
    return 0;
}

static int settle_place(const struct guard *g, const struct unit *u, struct fits_place *place)
{
    place->unit = g->unit;
    place->tiled = u->tiled;
    place->tiles = u->tiled ? (long)u->length[2] : 0;
    for (int i = 0; i < 3; i++) {
        place->tile[i] = u->tiled && i < (int)u->number[ZNAXIS] ? (long)tile_length(u, i + 1) : 1;
    }
    if (!u->tiled) {
        return 0;
    }
    find_code(&place->code, u);
    place->pixel_bits = (int)u->number[ZBITPIX];
    return place->code == TILE_RICE ? settle_rice(g, u, place) : 0;
}

static bool has_image(const struct unit *u)
{
    bool array = u->kind[0] == '\0' || strcmp(u->kind, "IMAGE") == 0;
    bool found = u->tiled ? u->number[ZNAXIS] >= 2 : array && u->number[NAXIS] >= 2;
    for (int i = 1; !u->tiled && found && i <= (int)u->number[NAXIS]; i++) {
        found = u->length[i] >= 1;
    }
    return found;
}

/* Beyond the end of a file that lies in memory the library finds zeros. */
static bool is_cut(const struct guard *g, const struct unit *u)
{
    double end = g->start + (double)g->blocks * FITS_RECORD + data_size(u);
    return g->memory && end > (double)g->memory->size;
}

static int walk(struct guard *g, struct fits_place *place)
{
    for (g->unit = 1; g->unit <= MAX_UNITS; g->unit++) {
        struct unit u;
        bool more;
        int code = read_unit(g, &u, &more);
        if (code || !more) {
            return code ? code
                        : error_set(g->err, ERROR_INPUT, "%s: no image in this FITS file", g->name);
        }
        code = check_array(g, &u);
        code = code || !u.tiled ? code : check_tiles(g, &u);
        code = code || !u.tiled ? code : check_code(g, &u);
        if (!code && has_image(&u)) {
            place->cut = is_cut(g, &u);
            return settle_place(g, &u, place);
        }
        if (code) {
            return code;
        }
        double header = (double)g->blocks * FITS_RECORD;
        g->start += header + ceil(data_size(&u) / FITS_RECORD) * FITS_RECORD;
    }
    return error_set(g->err, ERROR_INPUT, "%s: no image in the first %d units of this FITS file",
                     g->name, MAX_UNITS);
}

int fits_guard_find_image(struct fits_place *place, const struct picture_source *source,
                          struct error *err)
{
    struct guard g = {.name = source->name, .err = err};
    if (source->bytes) {
        g.memory = source;
        return walk(&g, place);
    }
    g.file = gzopen(source->name, "rb");
    if (!g.file) {
        return error_set(err, ERROR_INPUT, "%s: cannot be opened", source->name);
    }
    int code = walk(&g, place);
    gzclose(g.file);
    return code;
}
