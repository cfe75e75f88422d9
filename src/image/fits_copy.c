#include "image/fits_copy.h"

#include "base/file.h"
#include "base/fits_record.h"
#include "image/fits_source.h"
#include "image/guards/fits_guard.h"
#include "image/read_fits.h"
#include "sky/wcs_fits.h"

#include <fitsio.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* A FITS file that grows in memory. */
struct fits_memory {
    fitsfile *file;
    void *bytes;
    size_t size;
    int status; /* of the library */
};

static int fail(const struct fits_memory *memory, const char *name, struct error *err)
{
    char text[FLEN_STATUS];
    if (memory->status == MEMORY_ALLOCATION) {
        return error_memory(err);
    }
    fits_get_errstatus(memory->status, text);
    return error_set(err, ERROR_OUTPUT, "%s: cannot be made: %s", name, text);
}

static int start(struct fits_memory *memory, struct error *err)
{
    *memory = (struct fits_memory){.size = 8 * FITS_RECORD};
    memory->bytes = calloc(1, memory->size); /* CFITSIO looks at what is there before it writes */
    if (!memory->bytes) {
        return error_memory(err);
    }
    fits_create_memfile(&memory->file, &memory->bytes, &memory->size, 1 << 20, realloc,
                        &memory->status);
    return 0;
}

static void finish(struct fits_memory *memory)
{
    int status = 0;
    if (memory->file) {
        fits_close_file(memory->file, &status);
    }
    free(memory->bytes);
}

/* Whether a keyword says where another solution thought that the image points. */
static bool is_of_wcs(const char *key)
{
    static const char *const patterns[] = {
        "CTYPE#", "CUNIT#",  "CRPIX#",  "CRVAL#",  "CDELT#",  "CROTA#",
        "CD#_#",  "PC#_#",   "PV#_#",   "A_*",     "B_*",     "AP_*",
        "BP_*",   "LONPOLE", "LATPOLE", "WCSAXES", "RADESYS", "EQUINOX",
    };
    int match = 0, exact = 0;
    for (size_t i = 0; !match && i < sizeof patterns / sizeof *patterns; i++) {
        char pattern[FLEN_KEYWORD], name[FLEN_KEYWORD];
        snprintf(pattern, sizeof pattern, "%s", patterns[i]);
        snprintf(name, sizeof name, "%s", key);
        fits_compare_str(pattern, name, CASESEN, &match, &exact);
    }
    return match != 0;
}

static void keyword_of(char key[FLEN_KEYWORD], const char *card)
{
    snprintf(key, FLEN_KEYWORD, "%.*s", (int)strcspn(card, " =") < 8 ? (int)strcspn(card, " =") : 8,
             card);
}

/* From the last to the first, since records behind a deleted one move up. */
static void drop_old_wcs(struct fits_memory *memory)
{
    int records = 0, room = 0;
    fits_get_hdrspace(memory->file, &records, &room, &memory->status);
    for (int i = records; i > 0; i--) {
        char card[FLEN_CARD], key[FLEN_KEYWORD];
        fits_read_record(memory->file, i, card, &memory->status);
        keyword_of(key, card);
        if (!memory->status && is_of_wcs(key)) {
            fits_delete_record(memory->file, i, &memory->status);
        }
    }
}

static int put_wcs(struct fits_memory *memory, const struct wcs *wcs, bool top_down,
                   struct error *err)
{
    char *cards;
    int count;
    int code = wcs_fits_cards(&cards, &count, wcs, top_down, err);
    for (int i = 0; !code && i < count; i++) {
        char card[FLEN_CARD], key[FLEN_KEYWORD];
        snprintf(card, sizeof card, "%.80s", cards + 80 * (size_t)i);
        keyword_of(key, card);
        if (key[0] && strcmp(key, "COMMENT") != 0) {
            fits_update_card(memory->file, key, card, &memory->status);
        }
    }
    if (!code) {
        free(cards);
    }
    return code;
}

static int copy_units(struct fits_memory *memory, const struct picture_source *source,
                      struct error *err)
{
    struct fits_place place = {0};
    struct fits_source input = {0};
    int code = fits_source_start(&input, source, err);
    code = code ? code : fits_guard_find_image(&place, &input.plain, err);
    code = code ? code : fits_source_open(&input, &memory->status, err);
    if (!code) {
        fits_copy_file(input.file, memory->file, 1, 1, 1, &memory->status);
        fits_movabs_hdu(memory->file, place.unit, NULL, &memory->status);
    }
    if (!code && !memory->status) {
        drop_old_wcs(memory);
    }
    fits_source_close(&input);
    return code;
}

/* One colour of a row of the picture, as the file's numbers. */
static void take_colour(uint16_t *row, const struct picture *picture, int y, int colour)
{
    size_t first = 3 * (size_t)y * (size_t)picture->width + (size_t)colour;
    for (int x = 0; x < picture->width; x++) {
        size_t at = first + 3 * (size_t)x;
        row[x] = picture->deep ? picture->deep[at] : picture->rgb[at];
    }
}

static int put_picture(struct fits_memory *memory, const struct frame *frame, struct error *err)
{
    const struct picture *picture = &frame->picture;
    long length[3] = {picture->width, picture->height, 3};
    uint16_t *row = malloc((size_t)picture->width * sizeof *row);
    if (!row) {
        return error_memory(err);
    }
    fits_create_img(memory->file, picture->deep ? USHORT_IMG : BYTE_IMG, 3, length,
                    &memory->status);
    LONGLONG place = 1;
    for (int c = 0; c < 3; c++) {
        for (int y = picture->height - 1; y >= 0; y--, place += picture->width) {
            take_colour(row, picture, y, c);
            fits_write_img(memory->file, TUSHORT, place, picture->width, row, &memory->status);
        }
    }
    free(row);
    return 0;
}

static int write_out(struct fits_memory *memory, const struct file_target *target,
                     struct error *err)
{
    LONGLONG head, data, end = 0;
    struct file_out out = {0};
    int units = 0;
    fits_flush_file(memory->file, &memory->status);
    fits_get_num_hdus(memory->file, &units, &memory->status);
    fits_movabs_hdu(memory->file, units, NULL, &memory->status);
    fits_get_hduaddrll(memory->file, &head, &data, &end, &memory->status);
    if (memory->status) {
        return fail(memory, target->name, err);
    }
    int code = file_out_open_to(&out, target, err);
    if (code) {
        return code;
    }
    fwrite(memory->bytes, 1, (size_t)end, out.stream); /* the commit finds and names a failure */
    return file_out_commit(&out, err);
}

/* A FITS file as it is on the disk. The guard has looked at it. */
struct fits_there {
    struct file_map map;
    void *bytes;
    size_t size;
    fitsfile *file;
};

static bool open_there(struct fits_there *there, const char *name)
{
    int status = 0;
    struct fits_place place;
    *there = (struct fits_there){0};
    const struct picture_source source = picture_source_file(name);
    if (fits_guard_find_image(&place, &source, NULL) || file_map_open(&there->map, name, NULL)) {
        return false;
    }
    there->bytes = (void *)(uintptr_t)there->map.bytes; /* only read: CFITSIO asks for no const */
    there->size = there->map.size;
    fits_open_memfile(&there->file, "there", READONLY, &there->bytes, &there->size, 0, NULL,
                      &status);
    return status == 0;
}

static void close_there(struct fits_there *there)
{
    int status = 0;
    if (there->file) {
        fits_close_file(there->file, &status);
    }
    file_map_close(&there->map);
}

/* Where the data of a unit are; false if the file has none or is cut short. */
static bool find_data(LONGLONG *start, LONGLONG *length, fitsfile *file, int unit, size_t size)
{
    LONGLONG head, end = 0;
    int status = 0;
    fits_movabs_hdu(file, unit, NULL, &status);
    fits_get_hduaddrll(file, &head, start, &end, &status);
    *length = end - *start;
    return status == 0 && *start >= 0 && *length >= 0 && (uintmax_t)end <= size;
}

/* Whether all units of both hold the same data, byte for byte. */
static bool same_data(struct fits_memory *memory, const struct fits_there *there)
{
    int units = 0, units_there = 0, status = 0;
    fits_get_num_hdus(memory->file, &units, &status);
    fits_get_num_hdus(there->file, &units_there, &status);
    bool same = status == 0 && units == units_there;
    for (int unit = 1; same && unit <= units; unit++) {
        LONGLONG start, length, start_there, length_there;
        same = find_data(&start, &length, memory->file, unit, memory->size) &&
               find_data(&start_there, &length_there, there->file, unit, there->size) &&
               length == length_there &&
               memcmp((char *)memory->bytes + start, there->map.bytes + start_there,
                      (size_t)length) == 0;
    }
    return same;
}

/* Whether the file holds the same data, so that writing it anew loses no pixel. */
static bool holds_same_data(struct fits_memory *memory, const char *name)
{
    struct fits_there there;
    fits_flush_file(memory->file, &memory->status);
    bool same = open_there(&there, name) && !memory->status && same_data(memory, &there);
    close_there(&there);
    return same;
}

bool fits_copy_has_data(const unsigned char *bytes, size_t size)
{
    for (size_t block = 0; block + FITS_RECORD <= size; block += FITS_RECORD) {
        for (size_t at = block; at < block + FITS_RECORD; at += FITS_CARD) {
            if (memcmp(bytes + at, "END     ", 8) == 0) {
                return size > block + FITS_RECORD;
            }
        }
    }
    return true;
}

/* Whether the name is taken by pixels: not by a header alone, nor by what is no file. */
static bool has_pixels(const char *name)
{
    const struct picture_source source = picture_source_file(name);
    struct file_map map = {0};
    bool found = file_map_open(&map, name, NULL) == 0 &&
                 read_fits_recognise(map.bytes, map.size, &source) &&
                 fits_copy_has_data(map.bytes, map.size);
    file_map_close(&map);
    return found;
}

/* A FITS file that is there may only give way to one with the same pixels. */
static int check_target(struct fits_memory *memory, const char *name, struct error *err)
{
    if (!has_pixels(name) || holds_same_data(memory, name)) {
        return 0;
    }
    error_set(err, ERROR_OUTPUT,
              "%s: is a FITS file with other data than this frame's, which stay as they are", name);
    return error_remedied(err, ERROR_OUTPUT, REMEDY_REPLACE);
}

int fits_copy_write(const struct file_target *target, const struct picture_source *source,
                    const struct frame *frame, const struct wcs *wcs, bool replace,
                    struct error *err)
{
    bool from_fits = frame->can.fits_header;
    struct fits_memory memory;
    int code = start(&memory, err);
    if (!code) {
        code = from_fits ? copy_units(&memory, source, err) : put_picture(&memory, frame, err);
    }
    if (!code && !memory.status) {
        code = put_wcs(&memory, wcs, from_fits && frame->rows == ROWS_TOP_DOWN, err);
    }
    code = code || !memory.status ? code : fail(&memory, target->name, err);
    code = code || replace || target->memory ? code : check_target(&memory, target->name, err);
    code = code ? code : write_out(&memory, target, err);
    finish(&memory);
    return code;
}

static int check_updatable(const char *name, const struct frame *frame, struct error *err)
{
    struct file_map map = {0};
    int code = file_map_open(&map, name, err);
    bool packed = !code && map.size > 2 && map.bytes[0] == 0x1f && map.bytes[1] == 0x8b;
    file_map_close(&map);
    if (!code && (packed || !frame->can.fits_header)) {
        error_set(err, ERROR_USAGE, "%s: %s, so its header cannot be updated", name,
                  packed ? "is packed with gzip" : "is no FITS file");
        return error_remedied(err, ERROR_USAGE, REMEDY_NEW_FITS);
    }
    return code;
}

/* Sums that the header has of itself must stay true. */
static void renew_checksum(struct fits_memory *memory)
{
    char card[FLEN_CARD];
    int missing = 0;
    fits_read_card(memory->file, "CHECKSUM", card, &missing);
    if (!missing) {
        fits_write_chksum(memory->file, &memory->status);
    }
}

int fits_copy_update(const char *name, const struct frame *frame, const struct wcs *wcs,
                     struct error *err)
{
    const struct picture_source source = picture_source_file(name);
    const struct file_target target = {.name = name};
    struct fits_memory memory = {0};
    int code = check_updatable(name, frame, err);
    code = code ? code : start(&memory, err);
    code = code ? code : copy_units(&memory, &source, err);
    if (!code && !memory.status) {
        code = put_wcs(&memory, wcs, frame->rows == ROWS_TOP_DOWN, err);
        renew_checksum(&memory);
    }
    code = code || !memory.status ? code : fail(&memory, name, err);
    if (!code && !holds_same_data(&memory, name)) {
        error_set(err, ERROR_OUTPUT,
                  "%s: its data would not stay as they are, so nothing is written", name);
        code = error_remedied(err, ERROR_OUTPUT, REMEDY_NEW_FITS);
    }
    code = code ? code : write_out(&memory, &target, err);
    finish(&memory);
    return code;
}
