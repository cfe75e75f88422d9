#include "base/random.h"
#include "frame_reading.h"
#include "image/read_tiff.h"
#include "near.h"
#include "stamps.h"
#include "tiff_maker.h"

Suite *tiff_suite(void);

enum { WIDTH = 37, HEIGHT = 29 };

static double values[WIDTH * HEIGHT * 5];

/* Whole numbers that every kind holds exactly, different everywhere nearby. */
static void fill_values(const struct tiff_kind *k)
{
    int count = WIDTH * HEIGHT * (k->samples ? k->samples : 1);
    for (int i = 0; i < count; i++) {
        values[i] = (i * 37 + i / 101 * 11) % 120;
        if (k->format == SAMPLEFORMAT_INT) {
            values[i] -= 60;
        } else if (tiff_kind_bits(k) == 16 && k->format != SAMPLEFORMAT_IEEEFP) {
            values[i] *= 500;
        }
    }
}

static double want_value(const struct tiff_kind *k, int pixel)
{
    int samples = k->samples ? k->samples : 1;
    const double *v = values + pixel * samples;
    double top = k->format == SAMPLEFORMAT_IEEEFP ? 1 : ldexp(1, tiff_kind_bits(k)) - 1;
    if (k->alpha && v[samples - 1] == 0) {
        return NAN;
    }
    return k->min_is_white ? top - v[0] : samples < 3 ? v[0] : (v[0] + v[1] + v[2]) / 3;
}

static const struct tiff_kind kinds[] = {
    {0},
    {.bits = 16},
    {.bits = 32},
    {.bits = 8, .format = SAMPLEFORMAT_INT},
    {.bits = 16, .format = SAMPLEFORMAT_INT},
    {.bits = 32, .format = SAMPLEFORMAT_INT},
    {.bits = 16, .format = SAMPLEFORMAT_IEEEFP},
    {.bits = 32, .format = SAMPLEFORMAT_IEEEFP},
    {.bits = 64, .format = SAMPLEFORMAT_IEEEFP},
    {.samples = 3},
    {.samples = 3, .bits = 16, .apart = true},
    {.samples = 3, .bits = 32, .format = SAMPLEFORMAT_IEEEFP, .apart = true, .strip_rows = 4},
    {.samples = 4, .alpha = EXTRASAMPLE_UNASSALPHA},
    {.samples = 4, .alpha = EXTRASAMPLE_ASSOCALPHA, .bits = 16, .apart = true},
    {.samples = 2, .alpha = EXTRASAMPLE_UNASSALPHA, .bits = 16},
    {.min_is_white = true},
    {.min_is_white = true, .bits = 16},
    {.min_is_white = true, .bits = 32, .format = SAMPLEFORMAT_IEEEFP},
    {.tile = 16},
    {.tile = 32, .samples = 3, .bits = 16, .compression = COMPRESSION_ADOBE_DEFLATE},
    {.tile = 16, .samples = 3, .bits = 16, .apart = true, .compression = COMPRESSION_LZW},
    {.tile = 64, .bits = 32, .format = SAMPLEFORMAT_IEEEFP},
    {.compression = COMPRESSION_LZW, .strip_rows = 7},
    {.compression = COMPRESSION_PACKBITS, .strip_rows = 1},
    {.compression = COMPRESSION_ADOBE_DEFLATE, .bits = 16, .predictor = 2, .strip_rows = 5},
    {.compression = COMPRESSION_ADOBE_DEFLATE,
     .bits = 32,
     .format = SAMPLEFORMAT_IEEEFP,
     .predictor = 3},
    {.mode = "wb", .bits = 16},
    {.mode = "wb", .bits = 32, .format = SAMPLEFORMAT_IEEEFP, .samples = 3},
    {.mode = "w8", .bits = 16, .samples = 3},
    {.mode = "wb8", .bits = 64, .format = SAMPLEFORMAT_IEEEFP, .tile = 16},
};

/* Every value of every kind, in its place. */
START_TEST(test_kinds)
{
    const struct tiff_kind *k = &kinds[_i];
    const struct frame_options how = {0};
    struct frame frame = {0};
    fill_values(k);
    const char *path = tiff_make("a.png", WIDTH, HEIGHT, k, values); /* the content decides */
    read_good(&frame, path, &how);
    ck_assert_str_eq(frame.format, "TIFF");
    ck_assert_int_eq(frame.width, WIDTH);
    ck_assert_int_eq(frame.height, HEIGHT);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        double want = want_value(k, i), got = (double)frame.luminance.value[i];
        if (isnan(want)) {
            ck_assert_msg(isnan(got), "transparent at %d", i);
        } else { /* float carries 24 bits */
            assert_near(got, want, fabs(want) * 1e-7, "value");
        }
    }
    frame_free(&frame);
}
END_TEST

START_TEST(test_picture)
{
    static const struct tiff_kind k = {.samples = 3};
    const struct frame_options how = {.want_picture = true};
    struct frame frame = {0};
    fill_values(&k);
    const char *path = tiff_make("a.tif", WIDTH, HEIGHT, &k, values);
    read_good(&frame, path, &how);
    for (int i = 0; i < WIDTH * HEIGHT * 3; i++) {
        ck_assert_int_eq(frame.picture.rgb[i], (int)values[i]);
    }
    frame_free(&frame);
}
END_TEST

/* A preview before the picture, as cameras and programs write it, is passed over. */
START_TEST(test_preview_first)
{
    static const struct tiff_kind k = {0};
    const struct frame_options how = {0};
    struct frame frame = {0};
    const char *path = scratch_path("a.tif");
    TIFF *tiff = TIFFOpen(path, "wl");
    fill_values(&k);
    tiff_put_fields(tiff, 8, 6, &k);
    TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, FILETYPE_REDUCEDIMAGE);
    tiff_put_rows(tiff, 8, 6, &k, values, 0);
    TIFFWriteDirectory(tiff);
    tiff_put_fields(tiff, WIDTH, HEIGHT, &k);
    tiff_put_rows(tiff, WIDTH, HEIGHT, &k, values, 0);
    TIFFWriteDirectory(tiff);
    TIFFClose(tiff);
    read_good(&frame, path, &how);
    ck_assert_int_eq(frame.width, WIDTH);
    assert_near(frame.luminance.value[WIDTH], values[WIDTH], 0, "value");
    frame_free(&frame);
}
END_TEST

START_TEST(test_facts)
{
    static const struct tiff_kind k = {0};
    const struct frame_options how = {0};
    struct frame frame = {0};
    const double south[] = {33, 30, 36}, west[] = {70, 45, 0};
    const char *path = scratch_path("a.tif");
    uint64_t camera = 0, place = 0;
    uint16_t iso = 1600;
    TIFF *tiff = TIFFOpen(path, "wb");
    TIFFCreateEXIFDirectory(tiff);
    TIFFSetField(tiff, EXIFTAG_FOCALLENGTH, 135.0);
    TIFFSetField(tiff, EXIFTAG_FOCALLENGTHIN35MMFILM, 216);
    TIFFSetField(tiff, EXIFTAG_EXPOSURETIME, 1.6);
    TIFFSetField(tiff, EXIFTAG_FNUMBER, 2.8);
    TIFFSetField(tiff, EXIFTAG_ISOSPEEDRATINGS, 1, &iso);
    TIFFSetField(tiff, EXIFTAG_PIXELXDIMENSION, WIDTH * 2);
    TIFFSetField(tiff, EXIFTAG_PIXELYDIMENSION, HEIGHT * 2);
    TIFFSetField(tiff, EXIFTAG_FOCALPLANEXRESOLUTION, 2500.0);
    TIFFSetField(tiff, EXIFTAG_FOCALPLANEYRESOLUTION, 2500.0);
    TIFFSetField(tiff, EXIFTAG_FOCALPLANERESOLUTIONUNIT, 3);
    TIFFSetField(tiff, EXIFTAG_DATETIMEORIGINAL, "2026:03:01 00:30:05");
    TIFFSetField(tiff, EXIFTAG_OFFSETTIMEORIGINAL, "+02:00");
    TIFFWriteCustomDirectory(tiff, &camera);
    TIFFFreeDirectory(tiff);
    TIFFCreateGPSDirectory(tiff);
    TIFFSetField(tiff, GPSTAG_LATITUDEREF, "S");
    TIFFSetField(tiff, GPSTAG_LATITUDE, south);
    TIFFSetField(tiff, GPSTAG_LONGITUDEREF, "W");
    TIFFSetField(tiff, GPSTAG_LONGITUDE, west);
    TIFFWriteCustomDirectory(tiff, &place);
    TIFFFreeDirectory(tiff);
    TIFFCreateDirectory(tiff);
    fill_values(&k);
    tiff_put_fields(tiff, WIDTH, HEIGHT, &k);
    TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_RIGHTTOP);
    TIFFSetField(tiff, TIFFTAG_EXIFIFD, camera);
    TIFFSetField(tiff, TIFFTAG_GPSIFD, place);
    tiff_put_rows(tiff, WIDTH, HEIGHT, &k, values, 0);
    TIFFClose(tiff);
    read_good(&frame, path, &how);
    ck_assert_int_eq(frame.width, HEIGHT);
    assert_near(frame.facts.focal_mm.value, 135, 1e-6, "mm");
    assert_near(frame.facts.focal_35mm.value, 216, 0, "mm");
    assert_near(frame.facts.exposure_s.value, 1.6, 1e-6, "s");
    assert_near(frame.facts.f_number.value, 2.8, 1e-6, "f-number");
    assert_near(frame.facts.iso.value, 1600, 0, "ISO");
    assert_near(frame.facts.pixel_um.value, 8, 1e-4, "um, of a picture half as large");
    ck_assert_str_eq(frame.facts.pixel_um.source, "focal-plane resolution, picture resized");
    assert_stamp(frame.facts.start_utc, "2026-02-28T22:30:05Z");
    assert_near(frame.facts.latitude_deg.value, -33.51, 1e-6, "deg");
    assert_near(frame.facts.longitude_deg.value, -70.75, 1e-6, "deg");
    frame_free(&frame);
}
END_TEST

START_TEST(test_refused)
{
    static const struct {
        struct tiff_kind kind;
        const char *reason;
    } cases[] = {
        {{.samples = 4, .photometric = PHOTOMETRIC_SEPARATED}, "in printing colours (CMYK)"},
        {{.photometric = PHOTOMETRIC_PALETTE}, "with a colour palette; expected grey or RGB"},
        {{.photometric = PHOTOMETRIC_CIELAB, .samples = 3}, "a colour model that is not known"},
        {{.bits = 64}, "1 samples a pixel of 64 bits"},
        {{.bits = 8, .format = SAMPLEFORMAT_IEEEFP}, "1 samples a pixel of 8 bits"},
    };
    fill_values(&cases[_i].kind);
    check_refused(tiff_make("a.tif", WIDTH, HEIGHT, &cases[_i].kind, values), cases[_i].reason);
}
END_TEST

/* 10 GB and more in 300 bytes, however packed; nothing is allocated for it. */
START_TEST(test_absurd_claims)
{
    static const struct {
        int width, height, compression, tile;
        const char *reason;
    } cases[] = {
        {50000, 50000, COMPRESSION_NONE, 0, "the header states 50000 x 50000 pixels; expected at"},
        {2000000000, 5, COMPRESSION_NONE, 0, "the header states 2000000000 x 5 pixels"},
        {20000, 20000, COMPRESSION_NONE, 0, "but the file has only"},
        {20000, 20000, COMPRESSION_ADOBE_DEFLATE, 0, "but the file has only"},
        {1000, 100, COMPRESSION_NONE, 0, "but the file has only"},
        {16, 16, COMPRESSION_ADOBE_DEFLATE, 1 << 20, "tiles of absurd size"},
    };
    struct tiff_kind k = {
        .compression = cases[_i].compression, .tile = cases[_i].tile, .no_values = true};
    check_refused(tiff_make("a.tif", cases[_i].width, cases[_i].height, &k, NULL),
                  cases[_i].reason);
}
END_TEST

/* Patches the entry with this tag in the first directory of a little-endian file. */
static void patch_entry(unsigned char *bytes, size_t size, unsigned tag, uint32_t value)
{
    uint32_t at = bytes[4] | (uint32_t)bytes[5] << 8 | (uint32_t)bytes[6] << 16;
    ck_assert_uint_lt(at + 2, size);
    for (unsigned i = 0; i < bytes[at]; i++) {
        unsigned char *entry = bytes + at + 2 + 12 * i;
        if ((entry[0] | (unsigned)entry[1] << 8) == tag) {
            memcpy(entry + 8, &value, sizeof value);
            return;
        }
    }
    ck_abort_msg("no entry with tag %u", tag);
}

START_TEST(test_wrong_places)
{
    static const struct {
        unsigned tag;
        uint32_t value;
        const char *reason;
    } cases[] = {
        {TIFFTAG_STRIPOFFSETS, 0xfffffff0, "cannot be read as a TIFF picture"},
        {TIFFTAG_STRIPOFFSETS, 1 << 20, "cannot be read as a TIFF picture"},
        {TIFFTAG_ROWSPERSTRIP, 3, "cannot be read as a TIFF picture"},
    };
    static const struct tiff_kind k = {0};
    size_t size;
    fill_values(&k);
    unsigned char *bytes = scratch_read(tiff_make("a.tif", WIDTH, HEIGHT, &k, values), &size);
    patch_entry(bytes, size, cases[_i].tag, cases[_i].value);
    check_refused(scratch_write("b.tif", bytes, size), cases[_i].reason);
    free(bytes);
}
END_TEST

/* Directories that point at each other; the one with EXIF at the file's own, too. */
START_TEST(test_cycles)
{
    static const struct tiff_kind k = {0};
    const struct frame_options how = {0};
    struct frame frame = {0};
    size_t size;
    fill_values(&k);
    const char *path = scratch_path("a.tif");
    TIFF *tiff = TIFFOpen(path, "wl");
    tiff_put_fields(tiff, WIDTH, HEIGHT, &k);
    TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, _i == 0 ? FILETYPE_REDUCEDIMAGE : 0);
    TIFFSetField(tiff, TIFFTAG_EXIFIFD, (uint64_t)8);
    TIFFSetField(tiff, TIFFTAG_GPSIFD, (uint64_t)8);
    tiff_put_rows(tiff, WIDTH, HEIGHT, &k, values, 0);
    TIFFClose(tiff);
    unsigned char *bytes = scratch_read(path, &size);
    uint32_t at = bytes[4] | (uint32_t)bytes[5] << 8 | (uint32_t)bytes[6] << 16;
    patch_entry(bytes, size, TIFFTAG_EXIFIFD, at);
    patch_entry(bytes, size, TIFFTAG_GPSIFD, at);
    memcpy(bytes + at + 2 + 12 * bytes[at], &at, sizeof at); /* the next is this one */
    path = scratch_write("b.tif", bytes, size);
    free(bytes);
    if (_i == 0) {
        check_refused(path, "expected a picture of full size");
    } else {
        read_good(&frame, path, &how);
        frame_free(&frame);
    }
}
END_TEST

/* Cut at 20 places and flipped anywhere: a sentence, or a frame; never more. */
START_TEST(test_damage)
{
    const struct tiff_kind *k = &kinds[_i];
    const struct frame_options how = {.want_picture = true};
    struct random random = {(uint64_t)_i + 1};
    size_t size;
    fill_values(k);
    unsigned char *bytes = scratch_read(tiff_make("a.tif", WIDTH, HEIGHT, k, values), &size);
    for (int i = 0; i < 60; i++) {
        unsigned char *bad = malloc(size);
        size_t length = i < 20 ? size * (size_t)i / 20 + 1 : size;
        struct frame frame = {0};
        struct error err = {0};
        ck_assert_ptr_nonnull(bad);
        memcpy(bad, bytes, size);
        for (int flips = 0; i >= 20 && flips < 3; flips++) {
            bad[random_bits(&random) % size] ^= (unsigned char)(1U << random_bits(&random) % 8);
        }
        const char *path = scratch_write("b.tif", bad, length);
        int code = frame_read(&frame, path, &how, &err);
        ck_assert(code == 0 || (code == ERROR_INPUT && strstr(err.text, path)));
        ck_assert_msg(i >= 20 || code, "cut after %zu of %zu bytes", length, size);
        frame_free(&frame);
        free(bad);
    }
    free(bytes);
}
END_TEST

Suite *tiff_suite(void)
{
    Suite *suite = suite_create("tiff");
    TCase *tests = tcase_create("tiff");
    int all = (int)(sizeof kinds / sizeof *kinds);
    tcase_add_checked_fixture(tests, scratch_make, scratch_remove);
    tcase_set_timeout(tests, 120);
    tcase_add_loop_test(tests, test_kinds, 0, all);
    tcase_add_test(tests, test_picture);
    tcase_add_test(tests, test_preview_first);
    tcase_add_test(tests, test_facts);
    tcase_add_loop_test(tests, test_refused, 0, 5);
    tcase_add_loop_test(tests, test_absurd_claims, 0, 6);
    tcase_add_loop_test(tests, test_wrong_places, 0, 3);
    tcase_add_loop_test(tests, test_cycles, 0, 2);
    tcase_add_loop_test(tests, test_damage, 0, all);
    suite_add_tcase(suite, tests);
    return suite;
}
