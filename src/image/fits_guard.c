#include "image/fits_guard.h"

#include "base/decimal.h"
#include "image/limits.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum {
    BLOCK = 2880,
    WORD = 20,
    CARD = 80,
    MAX_AXES = 9,
    MAX_TILE_AXES = 3,
    MAX_UNITS = 1000,
    MAX_BLOCKS = 2000
};

enum number {
    BITPIX,
    NAXIS,
    PCOUNT,
    GCOUNT,
    TFIELDS,
    ZBITPIX,
    ZNAXIS,
    BLOCKSIZE,
    BYTEPIX,
    NUMBERS
};

/* What one header states; numbers are NaN where it is silent. */
struct unit {
    double number[NUMBERS];
    double length[MAX_AXES + 1], tile_length[MAX_AXES + 1], tile[MAX_AXES + 1]; /* from 1 */
    double option[MAX_AXES + 1];                                                /* ZVALn */
    char option_name[MAX_AXES + 1]; /* ZNAMEn: first letters tell BLOCKSIZE and BYTEPIX apart */
    char kind[WORD], code[WORD];    /* XTENSION, empty in the first unit; ZCMPTYPE */
    bool tiled, twice, ended;
};

struct guard {
    gzFile file; /* reads plain files, too */
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
    const char *end = card + CARD, *p = skip_blanks(card + 10, end);
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
    double *lists[] = {u->length, u->tile_length, u->tile, u->option};
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
    const char *p = skip_blanks(card + 10, card + CARD);
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
        u->tiled = u->tiled || (p < card + CARD && *p == 'T');
    } else if (index_after(card, "ZNAME") > 0) {
        u->option_name[index_after(card, "ZNAME")] = strcmp(word, "BLOCKSIZE") == 0 ? 'L'
                                                     : strcmp(word, "BYTEPIX") == 0 ? 'Y'
                                                                                    : ' ';
    } else if (decimal_read(&value, p, card + CARD)) {
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
        u->length[i] = u->tile_length[i] = u->tile[i] = u->option[i] = NAN;
    }
}

static void settle_options(struct unit *u)
{
    for (int i = 1; i <= MAX_AXES; i++) {
        if (u->option_name[i] == 'L') {
            note(u, &u->number[BLOCKSIZE], u->option[i]);
        } else if (u->option_name[i] == 'Y') {
            note(u, &u->number[BYTEPIX], u->option[i]);
        }
    }
}

/* Reads the header at g->start. *more is false where no further unit begins. */
static int read_unit(struct guard *g, struct unit *u, bool *more)
{
    char block[BLOCK];
    start_unit(u);
    *more = true;
    if (gzseek(g->file, (z_off_t)g->start, SEEK_SET) < 0) {
        *more = false;
        return 0;
    }
    for (g->blocks = 0; !u->ended; g->blocks++) {
        int got = gzread(g->file, block, BLOCK);
        bool first = g->blocks == 0;
        if (first && g->unit > 1 && (got < BLOCK || memcmp(block, "XTENSION=", 9) != 0)) {
            *more = false;
            return 0;
        }
        if (got < BLOCK || g->blocks == MAX_BLOCKS) {
            return refuse(g, "an END card; the file ends early or is damaged");
        }
        if (first && memcmp(block, "SIMPLE  =", 9) != 0 && g->unit == 1) {
            return refuse(g, "a FITS file to begin with SIMPLE");
        }
        if (first) {
            read_word(u->kind, block);
        }
        for (int i = 0; i < BLOCK && !u->ended; i += CARD) {
            read_card(u, block + i);
        }
    }
    settle_options(u);
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

/* The axes of a tiled image and their division; one row of the table holds one tile. */
static int check_tiles(const struct guard *g, const struct unit *u)
{
    double tiles = 1, pixels = 1;
    if (!is_between(u->number[ZNAXIS], 1, MAX_TILE_AXES)) {
        return refuse(g, "ZNAXIS from 1 to 3");
    }
    for (int i = 1; i <= (int)u->number[ZNAXIS]; i++) {
        double length = u->tile_length[i];
        double tile = !isnan(u->tile[i]) ? u->tile[i] : i == 1 ? length : 1;
        if (!is_between(length, 1, 1e6) || !is_between(tile, 1, fmax(length, 32))) {
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

static int check_code(const struct guard *g, const struct unit *u)
{
    static const char *const known[] = {"RICE_1", "RICE_ONE", "GZIP_1", "GZIP_2"};
    bool good = false;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        good = good || strcmp(u->code, known[i]) == 0;
    }
    if (!good) {
        return error_set(g->err, ERROR_INPUT,
                         "%s: FITS image compressed by \"%s\"; expected RICE_1, GZIP_1 or GZIP_2",
                         g->name, u->code);
    }
    double block = u->number[BLOCKSIZE], bytes = u->number[BYTEPIX];
    if ((!isnan(block) && !is_between(block, 1, 1024)) ||
        (!isnan(bytes) && bytes != 1 && bytes != 2 && bytes != 4)) {
        return refuse(g, "BLOCKSIZE from 1 to 1024 and BYTEPIX 1, 2 or 4");
    }
    return is_bitpix(u->number[ZBITPIX]) ? 0 : refuse(g, "ZBITPIX 8, 16, 32, 64, -32 or -64");
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

static int walk(struct guard *g)
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
        if (code || has_image(&u)) {
            return code;
        }
        double header = (double)g->blocks * BLOCK;
        g->start += header + ceil(data_size(&u) / BLOCK) * BLOCK;
    }
    return error_set(g->err, ERROR_INPUT, "%s: no image in the first %d units of this FITS file",
                     g->name, MAX_UNITS);
}

int fits_guard_find_image(int *unit, const char *name, struct error *err)
{
    struct guard g = {.name = name, .err = err};
    g.file = gzopen(name, "rb");
    if (!g.file) {
        return error_set(err, ERROR_INPUT, "%s: cannot be opened", name);
    }
    int code = walk(&g);
    gzclose(g.file);
    if (!code) {
        *unit = g.unit;
    }
    return code;
}
