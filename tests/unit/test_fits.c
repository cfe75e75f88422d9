/* FITS files of every kind, and what is refused of them. */
#include "base/random.h"
#include "frame_reading.h"
#include "image/guards/gzip_check.h"
#include "image/guards/hcompress_check.h"
#include "image/guards/plio_check.h"
#include "image/guards/rice_check.h"
#include "near.h"
#include "picture_maker.h"
#include "stamps.h"

#include <fcntl.h>
#include <math.h>
#include <unistd.h>
#include <zlib.h>

Suite *fits_suite(void);

/* The file's first row is the display's last. */
static double fits_at(const struct frame *frame, int x, int row)
{
    int y = frame->rows == ROWS_BOTTOM_UP ? frame->height - 1 - row : row;
    return plane_at(frame, x, y);
}

START_TEST(test_fits_kinds)
{
    static const struct {
        int bitpix, compression;
        double offset, scale, full;
    } kinds[] = {
        {BYTE_IMG, 0, 0, 2, 255},
        {SBYTE_IMG, 0, -50, 1, 127},
        {SHORT_IMG, 0, -50, 300, 32767},
        {USHORT_IMG, 0, 0, 600, 65535},
        {LONG_IMG, 0, -1e6, 100000, 2147483647},
        {ULONG_IMG, 0, 0, 4e7, 4294967295},
        {LONGLONG_IMG, 0, 0, 1e6, 9223372036854775807.0},
        {FLOAT_IMG, 0, -0.5, 0.01, 0},
        {DOUBLE_IMG, 0, -0.5, 0.01, 0},
        {BYTE_IMG, GZIP_1, 0, 2, 255},
        {SHORT_IMG, RICE_1, -50, 300, 32767},
        {USHORT_IMG, RICE_1, 0, 600, 65535},
        {USHORT_IMG, GZIP_2, 0, 600, 65535},
        {LONG_IMG, RICE_1, -1e6, 100000, 2147483647},
        {FLOAT_IMG, GZIP_1, -0.5, 0.01, 0},
        {BYTE_IMG, HCOMPRESS_1, 0, 2, 255},
        {SHORT_IMG, HCOMPRESS_1, -50, 300, 32767},
        {LONG_IMG, HCOMPRESS_1, -1e6, 100000, 2147483647},
        {BYTE_IMG, PLIO_1, 0, 2, 255},
        {SHORT_IMG, PLIO_1, 0, 20, 32767},
    };
    double value[FITS_PIXELS];
    struct frame frame;
    const struct fits_kind kind = {kinds[_i].bitpix, kinds[_i].compression, 1, false};
    fits_fill(value, FITS_PIXELS, kinds[_i].offset, kinds[_i].scale);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    ck_assert_str_eq(frame.format, "FITS");
    ck_assert_int_eq(frame.rows, ROWS_BOTTOM_UP);
    ck_assert_int_eq(frame.width, FITS_WIDTH);
    ck_assert_int_eq(frame.height, FITS_HEIGHT);
    assert_near((double)frame.luminance.full / fmax(kinds[_i].full, 1), kinds[_i].full > 0 ? 1 : 0,
                1e-7, "full");
    for (int i = 0; i < FITS_PIXELS; i++) {
        /* A float holds 24 bits. */
        assert_near(fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH), value[i],
                    fabs(value[i]) * 1e-7, "value");
    }
    ck_assert_ptr_nonnull(frame.picture.rgb);
    frame_free(&frame);
}
END_TEST

/* Reads back small values and one card of text. */
static void read_with_card(struct frame *frame, double value[FITS_PIXELS], const char *key,
                           char *text)
{
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fits_fill(value, FITS_PIXELS, 0, 1);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, key, text, NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(frame, fits_done(file, "a.fits"), &plane_only);
}

START_TEST(test_fits_row_order)
{
    double value[FITS_PIXELS];
    struct frame frame;
    read_with_card(&frame, value, "ROWORDER", _i ? "TOP-DOWN" : "BOTTOM-UP");
    ck_assert_int_eq(frame.rows, _i ? ROWS_TOP_DOWN : ROWS_BOTTOM_UP);
    assert_near(plane_at(&frame, 2, 0), value[(_i ? 0 : FITS_HEIGHT - 1) * FITS_WIDTH + 2], 0,
                "value");
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_colour)
{
    double value[3 * FITS_PIXELS];
    struct frame frame;
    const struct fits_kind kind = {SHORT_IMG, _i ? RICE_1 : 0, 3, _i == 1};
    fits_fill(value, 3 * FITS_PIXELS, 0, 100);
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    for (int i = 0; i < FITS_PIXELS; i++) {
        double mean = (value[i] + value[i + FITS_PIXELS] + value[i + 2 * FITS_PIXELS]) / 3;
        assert_near(fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH), mean, 0.001, "value");
    }
    frame_free(&frame);
}
END_TEST

/* NaN and infinity in floats, BLANK in integers: no data. In the picture they are black. */
START_TEST(test_fits_blank)
{
    double value[FITS_PIXELS];
    struct frame frame;
    int status = 0, blank = 77;
    const struct fits_kind kind = {_i ? FLOAT_IMG : SHORT_IMG, 0, 1, false};
    fits_fill(value, FITS_PIXELS, 1000, 1);
    value[5] = _i ? (double)NAN : blank;
    value[6] = _i ? (double)INFINITY : blank;
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    if (_i == 0) {
        fits_write_key(file, TINT, "BLANK", &blank, NULL, &status);
    }
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &with_picture);
    for (int i = 0; i < FITS_PIXELS; i++) {
        double got = fits_at(&frame, i % FITS_WIDTH, i / FITS_WIDTH);
        if (i == 5 || i == 6) {
            ck_assert(isnan(got));
        } else {
            assert_near(got, value[i], 0, "value");
        }
    }
    ck_assert_int_eq(frame.picture.rgb[3 * ((FITS_HEIGHT - 1) * FITS_WIDTH + 5)], 0);
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_facts)
{
    double value[FITS_PIXELS] = {0}, focal = 135, pitch = 3.76, exposure = 2.5, zero = 0;
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, _i ? RICE_1 : 0, 1, _i == 1};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "DATE-OBS", "2026-03-14T21:04:05.25", NULL, &status);
    fits_write_key(file, TDOUBLE, "EXPTIME", &exposure, NULL, &status);
    fits_write_key(file, TDOUBLE, "FOCALLEN", &focal, NULL, &status);
    fits_write_key(file, TDOUBLE, "XPIXSZ", &pitch, NULL, &status);
    fits_write_key(file, TDOUBLE, "YPIXSZ", &pitch, NULL, &status);
    fits_write_key(file, TDOUBLE, "ISOSPEED", &zero, NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &plane_only);
    assert_near(frame.facts.focal_mm.value, 135, 0, "mm");
    assert_near(frame.facts.pixel_um.value, 3.76, 1e-12, "um");
    assert_near(frame.facts.exposure_s.value, 2.5, 0, "s");
    ck_assert_int_eq(frame.facts.focal_mm.origin, FACT_FITS);
    ck_assert_int_eq(frame.facts.iso.origin, FACT_UNKNOWN);
    assert_stamp(frame.facts.start_utc, "2026-03-14T21:04:05.25Z");
    assert_stamp(frame.facts.start_local, "");
    frame_free(&frame);
}
END_TEST

/* Another time scale than UTC, and pixels that aren't square, are no facts. */
START_TEST(test_fits_doubtful_facts)
{
    double value[FITS_PIXELS] = {0}, across = 3.76, down = 7.52;
    struct frame frame;
    int status = 0;
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "DATE-OBS", "2026-03-14T21:04:05.25", NULL, &status);
    fits_write_key(file, TSTRING, "TIMESYS", "TAI", NULL, &status);
    fits_write_key(file, TDOUBLE, "XPIXSZ", &across, NULL, &status);
    fits_write_key(file, TDOUBLE, "YPIXSZ", &down, NULL, &status);
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &plane_only);
    ck_assert_int_eq(frame.facts.pixel_um.origin, FACT_UNKNOWN);
    assert_stamp(frame.facts.start_utc, "");
    frame_free(&frame);
}
END_TEST

START_TEST(test_fits_mosaic)
{
    double value[FITS_PIXELS];
    struct frame frame;
    read_with_card(&frame, value, "BAYERPAT", "RGGB");
    ck_assert_int_eq(frame.luminance.bin, 2);
    ck_assert_int_eq(frame.luminance.width, FITS_WIDTH / 2);
    frame_free(&frame);
}
END_TEST

/* Every pixel's value is that of its filter, so that each colour must come out alike everywhere. */
START_TEST(test_fits_mosaic_offsets)
{
    static const double of_filter[2][2] = {{200, 100}, {100, 20}}; /* RGGB */
    const struct frame_options shown = {.want_picture = true, .keep_levels = true};
    const struct fits_kind kind = {BYTE_IMG, 0, 1, false};
    int columns = _i % 2, rows = _i / 2 % 2, status = 0;
    double value[FITS_PIXELS];
    struct frame frame;
    for (int i = 0; i < FITS_PIXELS; i++) {
        value[i] = of_filter[(i / FITS_WIDTH + rows) % 2][(i % FITS_WIDTH + columns) % 2];
    }
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    fits_write_key(file, TSTRING, "BAYERPAT", "RGGB", NULL, &status);
    fits_write_key(file, TINT, "XBAYROFF", &columns, NULL, &status);
    fits_write_key(file, TINT, "YBAYROFF", &rows, NULL, &status);
    if (_i >= 4) {
        fits_write_key(file, TSTRING, "ROWORDER", "TOP-DOWN", NULL, &status);
    }
    ck_assert_int_eq(status, 0);
    read_good(&frame, fits_done(file, "a.fits"), &shown);
    for (int i = 0; i < FITS_PIXELS; i++) {
        static const unsigned char colours[] = {200, 100, 20};
        ck_assert_mem_eq(frame.picture.rgb + 3 * i, colours, 3);
    }
    frame_free(&frame);
}
END_TEST

/* A name that the library would take apart is a name like any other. */
START_TEST(test_fits_literal_names)
{
    static const char *const names[] = {"a[1:2,3:4].fits", "mem:x.fits", " blank.fits",
                                        "~tilde.fits",     "a.fits+1",   "a.fits(b)"};
    double value[FITS_PIXELS] = {0};
    const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    fits_done(fits_make("plain.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value), "plain.fits");
    ck_assert_int_eq(rename(scratch_path("plain.fits"), scratch_path(names[_i])), 0);
    struct frame frame;
    read_good(&frame, scratch_path(names[_i]), &plane_only);
    frame_free(&frame);
    int here = open(".", O_RDONLY);
    ck_assert_int_eq(chdir(scratch_folder), 0);
    read_good(&frame, names[_i], &plane_only);
    frame_free(&frame);
    ck_assert_int_eq(fchdir(here), 0);
    close(here);
}
END_TEST

START_TEST(test_fits_refused)
{
    double value[4 * FITS_PIXELS] = {0};
    const struct fits_kind cube = {SHORT_IMG, 0, 4, false};
    static const char *const empty[] = {"SIMPLE  =                    T",
                                        "BITPIX  =                    8",
                                        "NAXIS   =                    0", "END", NULL};
    static const char *const line[] = {"SIMPLE  =                    T",
                                       "BITPIX  =                    8",
                                       "NAXIS   =                    1",
                                       "NAXIS1  =                  100",
                                       "END",
                                       NULL};
    static const char *const no_bitpix[] = {"SIMPLE  =                    T",
                                            "NAXIS   =                    2", "END", NULL};
    static const char *const no_end[] = {"SIMPLE  =                    T",
                                         "BITPIX  =                    8", NULL};
    fitsfile *file = fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &cube, value);
    check_refused(fits_done(file, "a.fits"), "a FITS cube; expected one plane, or three");
    check_refused(fits_by_hand("a.fits", empty, 0), "no image in this FITS file");
    check_refused(fits_by_hand("a.fits", line, 2880), "no image in this FITS file");
    check_refused(fits_by_hand("a.fits", no_bitpix, 2880), "header 1: expected BITPIX 8, 16,");
    check_refused(fits_by_hand("a.fits", no_end, 0),
                  "header 1: expected an END card; the file ends early");
}
END_TEST

/* Headers that claim more than there is, and tiles that are damaged. */

static void fits_claim(const char *width, const char *height, const char *reason)
{
    char card[2][81];
    snprintf(card[0], sizeof card[0], "NAXIS1  = %20s", width);
    snprintf(card[1], sizeof card[1], "NAXIS2  = %20s", height);
    const char *const cards[] = {"SIMPLE  =                    T",
                                 "BITPIX  =                  -64",
                                 "NAXIS   =                    2",
                                 card[0],
                                 card[1],
                                 "END",
                                 NULL};
    check_refused(fits_by_hand("a.fits", cards, 2880), reason);
}

START_TEST(test_fits_claims)
{
    fits_claim("50000", "8000", "states 50000 x 8000 pixels, but the file has only 5760 bytes");
    fits_claim("60001", "10", "at most 60000 a side");
    fits_claim("2000000000", "2000000000", "the size of the data in range");
    fits_claim("2000000", "2000000", "at most 60000 a side");
    fits_claim("-5", "8", "a whole number, not negative, for each axis (NAXISn)");
    fits_claim("5.5", "8", "a whole number, not negative, for each axis (NAXISn)");
    fits_claim("0", "8", "no image in this FITS file");
    fits_claim("100", "100", "but the file has only 5760 bytes");
    fits_claim("20", "19", "the file ends early");
}
END_TEST

/* Puts another value into a card of the tiled file; the first card of that name counts. */
static void tile_claim(const char *key, const char *value, const char *reason)
{
    size_t size;
    unsigned char *bytes = scratch_read(scratch_path("tiled.fits"), &size);
    size_t place = 2880; /* after the first header, which is empty */
    while (place < size && memcmp(bytes + place, key, strlen(key)) != 0) {
        place += 80;
    }
    ck_assert_msg(place < size, "no %s", key);
    char card[81];
    snprintf(card, sizeof card, "%-8s= %20s%50s", key, value, "");
    memcpy(bytes + place, card, 80);
    check_refused(scratch_write("claim.fits", bytes, size), reason);
    free(bytes);
}

START_TEST(test_fits_tile_claims)
{
    static const struct {
        const char *key, *value, *reason;
    } samples[] = {
        {"ZTILE1", "0", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZTILE2", "-1", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZTILE1", "60000", "tiles within the image"},
        {"ZNAXIS1", "0", "header 2: expected ZNAXISn and ZTILEn above 0"},
        {"ZNAXIS2", "10", "a table with one row for each tile"},
        {"ZTILE2", "3", "a table with one row for each tile"},
        {"ZNAXIS", "4", "ZNAXIS from 1 to 3"},
        {"ZBITPIX", "17", "ZBITPIX 8, 16, 32, 64, -32 or -64"},
        {"ZCMPTYPE", "'OWN_1   '", "\"OWN_1\"; expected RICE_1, GZIP_1, GZIP_2, PLIO_1 or"},
        {"ZCMPTYPE", "'PLIO_1  '", "FITS tile 1 of 9 is damaged or ends early"},
        {"ZCMPTYPE", "'HCOMPRESS_1'", "FITS tile 1 of 9 is damaged or ends early"},
        {"ZVAL1", "0", "BLOCKSIZE from 1 to 1024"},
        {"ZVAL2", "3", "BYTEPIX 1, 2 or 4"},
        {"BITPIX", "9", "header 2: expected BITPIX 8, 16, 32, 64, -32 or -64"},
        {"NAXIS", "12", "NAXIS from 0 to 9"},
        {"PCOUNT", "-1", "the size of the data in range"},
        {"TFIELDS", "1000000", "the size of the data in range"},
        {"NAXIS2", "1", "a table with one row for each tile"},
    };
    static const struct fits_kind kind = {SHORT_IMG, RICE_1, 1, false};
    double value[FITS_PIXELS];
    fits_fill(value, FITS_PIXELS, 0, 200);
    fits_done(fits_make("tiled.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value), "tiled.fits");
    tile_claim(samples[_i].key, samples[_i].value, samples[_i].reason);
}
END_TEST

/* Coded bytes of nothing but zeros: a run that never ends. */
START_TEST(test_fits_endless_run)
{
    static const struct fits_kind kind = {SHORT_IMG, RICE_1, 1, false};
    double value[FITS_PIXELS];
    size_t size;
    fits_fill(value, FITS_PIXELS, 0, 200);
    fitsfile *file = fits_make("tiled.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value);
    unsigned char *bytes = scratch_read(fits_done(file, "tiled.fits"), &size);
    size_t heap = size - 2880 + (size_t)FITS_HEIGHT * 8; /* behind the table's descriptors */
    memset(bytes + heap + 3, 0, size - heap - 3);
    bytes[heap + 2] = 0x20; /* the first block: one bit a pixel is split off */
    check_refused(scratch_write("a.fits", bytes, size),
                  "FITS tile 1 of 9 is damaged or ends early");
    free(bytes);
}
END_TEST

/* A bit string written as text; spaces don't count. Returns the number of whole bytes. */
static size_t pack_bits(unsigned char *bytes, const char *text)
{
    size_t count = 0;
    memset(bytes, 0, 64);
    for (const char *p = text; *p; p++) {
        if (*p != ' ') {
            bytes[count / 8] |= (unsigned char)((*p - '0') << (7 - count % 8));
            count++;
        }
    }
    return (count + 7) / 8;
}

/* Streams after FITS 4.0, section 10.4.1: first pixel, then for each block the split plus one and
 * the codes. Whole they pass; without their last byte, or with a pixel more, they don't. */
START_TEST(test_rice_streams)
{
    static const struct {
        int pixel_bytes, block;
        long pixels;
        const char *bits;
    } samples[] = {
        {1, 4, 4, "00000111 000"},                               /* all the same */
        {1, 4, 4, "00000111 011 110 0111 000101 100"},           /* two bits split off */
        {1, 2, 4, "00000111 111 11110000 00001111 000"},         /* plain differences */
        {2, 2, 2, "0000000000000111 0001 00000000000000001 01"}, /* a long run */
        {2, 1, 1, "0000000000000111 0110 00101010"},
        {4, 2, 2, "00000000000000000000000000000111 00010 10 00011"},
    };
    unsigned char bytes[64];
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        size_t size = pack_bits(bytes, samples[i].bits);
        int wide = samples[i].pixel_bytes, block = samples[i].block;
        long pixels = samples[i].pixels;
        ck_assert_msg(rice_check(bytes, size, pixels, wide, block), "%s", samples[i].bits);
        ck_assert_msg(!rice_check(bytes, size - 1, pixels, wide, block), "%s", samples[i].bits);
        ck_assert_msg(!rice_check(bytes, size, pixels + 2 * block, wide, block), "%s",
                      samples[i].bits);
    }
    ck_assert(!rice_check(bytes, 0, 1, 2, 32));
}
END_TEST

START_TEST(test_gzip_streams)
{
    unsigned char plain_bytes[1000], packed[2000], copy[2000];
    uLongf size = sizeof packed;
    struct random r = {5};
    for (size_t i = 0; i < sizeof plain_bytes; i++) {
        plain_bytes[i] = (unsigned char)(random_bits(&r) % 16);
    }
    ck_assert_int_eq(compress(packed, &size, plain_bytes, sizeof plain_bytes), Z_OK);
    ck_assert(gzip_check(packed, size, sizeof plain_bytes));
    ck_assert_msg(!gzip_check(packed, size, sizeof plain_bytes - 1), "more than there is room for");
    for (uLongf cut = 0; cut < size; cut++) {
        ck_assert_msg(!gzip_check(packed, cut, sizeof plain_bytes), "cut at %lu", cut);
        memcpy(copy, packed, size);
        copy[cut] ^= 0x40;
        bool padded = cut == size - 5; /* the codes end within this byte; the checksum follows */
        ck_assert_msg(padded || !gzip_check(copy, size, sizeof plain_bytes), "changed at %lu", cut);
    }
}
END_TEST

/* Changes a few bits of bytes that lie in memory of just their size; whatever passes the check must
 * keep the library within what it reads and writes, which sanitizers would notice. */
static void flip_bits(unsigned char *bytes, size_t size, struct random *random)
{
    for (int i = 0; i < 2; i++) {
        bytes[random_bits(random) % size] ^= (unsigned char)(1U << random_bits(random) % 8);
    }
}

static unsigned char *copy_of(const void *bytes, size_t size)
{
    unsigned char *copy = malloc(size);
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, bytes, size);
    return copy;
}

/* As CFITSIO codes it: whole it passes, cut anywhere or for another size it does not. */
START_TEST(test_hcompress_streams)
{
    static const int sides[][2] = {{4, 4}, {13, 9}, {16, 64}, {5, 40}, {33, 31}};
    int wide = sides[_i][0], high = sides[_i][1], status = 0, value[64 * 64];
    char coded[64 * 64 * 8];
    long size = sizeof coded;
    struct random random = {(uint64_t)_i + 3};
    for (int i = 0; i < wide * high; i++) {
        value[i] = (int)(random_bits(&random) % (_i % 2 ? 40000 : 12)) - 5;
    }
    fits_hcompress(value, wide, high, 0, coded, &size, &status);
    ck_assert_int_eq(status, 0);
    unsigned char *bytes = copy_of(coded, (size_t)size);
    ck_assert(hcompress_check(bytes, (size_t)size, wide, high, 31));
    ck_assert(!hcompress_check(bytes, (size_t)size, wide + 1, high, 31));
    ck_assert(!hcompress_check(bytes, (size_t)size, wide, high, 1));
    for (long cut = 0; cut < size; cut++) {
        ck_assert_msg(!hcompress_check(bytes, (size_t)cut, wide, high, 31), "cut at %ld", cut);
    }
    free(bytes);
    for (int i = 0; i < 2000; i++) {
        int *out = malloc((size_t)(wide * high) * sizeof *out), nx, ny, scale;
        bytes = copy_of(coded, (size_t)size);
        flip_bits(bytes, (size_t)size, &random);
        if (hcompress_check(bytes, (size_t)size, wide, high, 31)) {
            status = 0;
            fits_hdecompress(bytes, 0, out, &ny, &nx, &scale, &status);
            ck_assert_int_eq(status, 0);
        }
        free(out);
        free(bytes);
    }
}
END_TEST

/* The library's own encoder; its name is not in its header. */
int pl_p2li(int *pixels, int first, short *list, int count);
int pl_l2pi(short *list, int first, int *pixels, int count);

START_TEST(test_plio_streams)
{
    enum { PIXELS = 500 };
    int value[PIXELS], out[PIXELS];
    int16_t list[3 * PIXELS];
    struct random random = {9};
    for (int i = 0; i < PIXELS; i++) {
        value[i] = i % 50 < 20 ? 7000000 : i % 7 ? 0 : (int)(random_bits(&random) % 5000);
    }
    size_t words = (size_t)pl_p2li(value, 1, list, PIXELS);
    ck_assert(plio_check(list, words, PIXELS));
    ck_assert(plio_check(list, words, PIXELS + 10)); /* the rest is zeros */
    ck_assert(!plio_check(list, words, PIXELS - 1));
    for (size_t cut = 0; cut < words; cut++) {
        ck_assert_msg(!plio_check(list, cut, PIXELS), "cut at %zu", cut);
    }
    for (int i = 0; i < 5000; i++) {
        unsigned char *bytes = copy_of(list, words * sizeof *list);
        flip_bits(bytes, words * sizeof *list, &random);
        if (plio_check((const void *)bytes, words, PIXELS)) {
            pl_l2pi((void *)bytes, 1, out, PIXELS);
        }
        free(bytes);
    }
}
END_TEST

/* Packs bytes as .Z files are: each stands for itself, and before codes would have to be wider all
 * is forgotten. Eight codes of nine bits are nine bytes. */
static size_t pack_lzw(unsigned char *out, const unsigned char *bytes, size_t count)
{
    static const unsigned char head[] = {0x1f, 0x9d, 0x90};
    size_t bit = 8 * sizeof head;
    memcpy(out, head, sizeof head);
    for (size_t i = 0, codes = 0; i < count; codes++) {
        unsigned code = codes % 200 == 199 ? 256 : bytes[i];
        i += code < 256;
        for (int k = 0; k < 9; k++, bit++) {
            out[bit / 8] =
                (unsigned char)((bit % 8 ? out[bit / 8] : 0) | (code >> k & 1U) << bit % 8);
        }
    }
    return (bit + 7) / 8;
}

/* As it is, cut and damaged: a frame or a sentence. 200 codes are whole groups of eight. */
START_TEST(test_fits_lzw)
{
    static const struct fits_kind kind = {SHORT_IMG, 0, 1, false};
    double value[FITS_PIXELS];
    size_t size;
    struct frame frame;
    struct error err = {0};
    struct random random = {3};
    fits_fill(value, FITS_PIXELS, 0, 1);
    unsigned char *bytes = scratch_read(
        fits_done(fits_make("a.fits", FITS_WIDTH, FITS_HEIGHT, &kind, value), "a.fits"), &size);
    unsigned char *packed = calloc(2, size);
    ck_assert_ptr_nonnull(packed);
    size_t length = pack_lzw(packed, bytes, size);
    read_good(&frame, scratch_write("a.fits.Z", packed, length), &plane_only);
    assert_near(fits_at(&frame, 3, 4), value[4 * FITS_WIDTH + 3], 0, "value");
    frame_free(&frame);
    const struct picture_source memory = picture_source_bytes(packed, length, "memory");
    ck_assert_int_eq(frame_read_from(&frame, &memory, &plane_only, NULL), 0);
    frame_free(&frame);
    check_refused(scratch_write("b.fits.Z", packed, length / 4), "ends early");
    check_refused(scratch_write("b.fits.Z", packed, 3), "the LZW-packed file is damaged");
    for (int i = 0; i < 300; i++) {
        unsigned char *bad = copy_of(packed, length);
        flip_bits(bad, i % 2 ? length : 2900, &random);
        int code = frame_read(&frame, scratch_write("b.fits.Z", bad, length), &plane_only, &err);
        ck_assert(code == 0 || code == ERROR_INPUT);
        frame_free(&frame);
        free(bad);
    }
    free(packed);
    free(bytes);
}
END_TEST

/* A shape stated twice: the two readers of the header might take different ones. */
START_TEST(test_fits_twice)
{
    static const char *const cards[] = {"SIMPLE  =                    T",
                                        "BITPIX  =                    8",
                                        "NAXIS   =                    2",
                                        "NAXIS1  =                   10",
                                        "NAXIS2  =                   10",
                                        "NAXIS1  =                   20",
                                        "END",
                                        NULL};
    check_refused(fits_by_hand("a.fits", cards, 2880), "each keyword of the image's shape once");
}
END_TEST

Suite *fits_suite(void)
{
    Suite *suite = suite_create("fits");
    TCase *good = scratch_case(suite, "read"), *bad = scratch_case(suite, "refused");
    tcase_add_loop_test(good, test_fits_kinds, 0, 20);
    tcase_add_loop_test(good, test_fits_row_order, 0, 2);
    tcase_add_loop_test(good, test_fits_colour, 0, 2);
    tcase_add_loop_test(good, test_fits_blank, 0, 2);
    tcase_add_loop_test(good, test_fits_facts, 0, 2);
    tcase_add_test(good, test_fits_doubtful_facts);
    tcase_add_test(good, test_fits_mosaic);
    tcase_add_loop_test(good, test_fits_mosaic_offsets, 0, 8);
    tcase_add_loop_test(good, test_fits_literal_names, 0, 6);
    tcase_add_test(bad, test_fits_refused);
    tcase_add_test(bad, test_fits_claims);
    tcase_add_loop_test(bad, test_fits_tile_claims, 0, 18);
    tcase_add_test(bad, test_fits_twice);
    tcase_add_test(bad, test_fits_endless_run);
    tcase_add_test(bad, test_rice_streams);
    tcase_add_test(bad, test_gzip_streams);
    tcase_add_loop_test(bad, test_hcompress_streams, 0, 5);
    tcase_add_test(bad, test_plio_streams);
    tcase_add_test(bad, test_fits_lzw);
    return suite;
}
