#include "base/random.h"
#include "exif_maker.h"
#include "image/exif.h"
#include "image/moment.h"
#include "near.h"
#include "stamps.h"

#include <stdlib.h>

Suite *exif_suite(void);

static const struct exif_tag camera[] = {
    {0x829a, EXIF_RATIONAL, 2.5, NULL}, /* exposure time */
    {0x829d, EXIF_RATIONAL, 2.8, NULL}, /* f number */
    {0x8827, EXIF_SHORT, 1600, NULL},   /* ISO */
    {0x9003, EXIF_ASCII, 0, "2026:03:01 00:30:05"},
    {0x9011, EXIF_ASCII, 0, "+02:00"},
    {0x9291, EXIF_ASCII, 0, "25"},
    {0x920a, EXIF_RATIONAL, 85, NULL},   /* focal length */
    {0xa002, EXIF_LONG, 6000, NULL},     /* width */
    {0xa003, EXIF_LONG, 4000, NULL},     /* height */
    {0xa20e, EXIF_RATIONAL, 2500, NULL}, /* focal plane resolution */
    {0xa20f, EXIF_RATIONAL, 2500, NULL},
    {0xa210, EXIF_SHORT, 3, NULL},   /* its unit: cm */
    {0xa405, EXIF_SHORT, 136, NULL}, /* 35 mm equivalent */
    {0, 0, 0, NULL},
};

static int read_block(struct frame_facts *facts, int orientation, const struct exif_tag *tags,
                      bool big_endian)
{
    struct exif_block block;
    exif_make(&block, orientation, tags, big_endian);
    memset(facts, 0, sizeof *facts);
    return exif_read(facts, block.bytes, block.size, 6000, 4000);
}

START_TEST(test_all_facts)
{
    struct frame_facts facts;
    ck_assert_int_eq(read_block(&facts, 6, camera, _i == 1), 6);
    assert_near(facts.focal_mm.value, 85, 1e-9, "mm");
    assert_near(facts.focal_35mm.value, 136, 0, "mm");
    assert_near(facts.exposure_s.value, 2.5, 1e-9, "s");
    assert_near(facts.iso.value, 1600, 0, "ISO");
    assert_near(facts.f_number.value, 2.8, 1e-9, "f number");
    assert_near(facts.pixel_um.value, 4, 1e-9, "um"); /* 10000 um / 2500 */
    ck_assert_int_eq(facts.pixel_um.origin, FACT_EXIF);
    ck_assert_int_eq(facts.sensor_width, 6000);
    ck_assert_int_eq(facts.sensor_height, 4000);
    assert_stamp(facts.start_local, "2026-03-01T00:30:05.25");
    assert_stamp(facts.start_utc, "2026-02-28T22:30:05.25Z");
}
END_TEST

START_TEST(test_nothing_known)
{
    struct frame_facts facts, empty;
    memset(&empty, 0, sizeof empty);
    ck_assert_int_eq(read_block(&facts, 0, NULL, false), 1);
    ck_assert_mem_eq(&facts, &empty, sizeof empty);
}
END_TEST

START_TEST(test_orientations)
{
    static const int stated[] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 65535},
                     want[] = {1, 2, 3, 4, 5, 6, 7, 8, 1, 1};
    struct frame_facts facts;
    ck_assert_int_eq(read_block(&facts, stated[_i], NULL, false), want[_i]);
}
END_TEST

/* Values that no camera means. */
START_TEST(test_absurd)
{
    static const struct exif_tag absurd[] = {
        {0x829a, EXIF_RATIONAL, 0, NULL},
        {0x829d, EXIF_RATIONAL, NAN, NULL},
        {0x8827, EXIF_SHORT, 0, NULL},
        {0x9003, EXIF_ASCII, 0, "0000:00:00 00:00:00"},
        {0x920a, EXIF_RATIONAL, 0, NULL},
        {0xa002, EXIF_LONG, 0, NULL},
        {0xa003, EXIF_LONG, 4e9, NULL},
        {0xa20e, EXIF_RATIONAL, NAN, NULL},
        {0xa210, EXIF_SHORT, 3, NULL},
        {0xa405, EXIF_SHORT, 0, NULL},
        {0, 0, 0, NULL},
    };
    struct frame_facts facts, empty;
    memset(&empty, 0, sizeof empty);
    ck_assert_int_eq(read_block(&facts, 0, absurd, true), 1);
    ck_assert_mem_eq(&facts, &empty, sizeof empty);
}
END_TEST

static double read_pitch(double x, double y, int unit, int width, int height)
{
    const struct exif_tag tags[] = {
        {0xa002, EXIF_LONG, 6000, NULL},  {0xa003, EXIF_LONG, 4000, NULL},
        {0xa20e, EXIF_RATIONAL, x, NULL}, {0xa20f, EXIF_RATIONAL, y, NULL},
        {0xa210, EXIF_SHORT, unit, NULL}, {0, 0, 0, NULL},
    };
    struct exif_block block;
    struct frame_facts facts = {0};
    exif_make(&block, 0, tags, false);
    exif_read(&facts, block.bytes, block.size, width, height);
    return facts.pixel_um.origin == FACT_EXIF ? facts.pixel_um.value : NAN;
}

START_TEST(test_pitch)
{
    assert_near(read_pitch(5080, 5080, 2, 6000, 4000), 5, 1e-6, "um, from inches");
    assert_near(read_pitch(2500, 2500, 3, 6000, 4000), 4, 1e-6, "um, from cm");
    assert_near(read_pitch(250, 250, 4, 6000, 4000), 4, 1e-6, "um, from mm");
    assert_near(read_pitch(0.25, 0.25, 5, 6000, 4000), 4, 1e-6, "um, from um");
    assert_near(read_pitch(2500, 2500, 3, 3000, 2000), 8, 1e-6, "um, half as large");
    assert_near(read_pitch(2500, 2500, 3, 2000, 3000), 8, 1e-6, "um, turned before");
    ck_assert_msg(isnan(read_pitch(2500, 2500, 3, 3000, 3000)), "cropped to a square");
    ck_assert_msg(isnan(read_pitch(2500, 1250, 3, 6000, 4000)), "pixels that aren't square");
    ck_assert_msg(isnan(read_pitch(2500, 2500, 1, 6000, 4000)), "no unit");
    ck_assert_msg(isnan(read_pitch(2500, 2500, 9, 6000, 4000)), "an unknown unit");
    ck_assert_msg(isnan(read_pitch(1, 1, 3, 6000, 4000)), "a pixel of a centimetre");
}
END_TEST

START_TEST(test_large_iso)
{
    static const struct exif_tag tags[] = {
        {0x8827, EXIF_SHORT, 65535, NULL}, {0x8832, EXIF_LONG, 102400, NULL}, {0, 0, 0, NULL}};
    struct frame_facts facts;
    read_block(&facts, 0, tags, false);
    assert_near(facts.iso.value, 102400, 0, "ISO");
}
END_TEST

START_TEST(test_second_date)
{
    static const struct exif_tag tags[] = {{0x9003, EXIF_ASCII, 0, "    :  :     :  :  "},
                                           {0x9004, EXIF_ASCII, 0, "2025:12:31 23:59:59"},
                                           {0x9012, EXIF_ASCII, 0, "-00:30"},
                                           {0, 0, 0, NULL}};
    struct frame_facts facts;
    read_block(&facts, 0, tags, true);
    assert_stamp(facts.start_local, "2025-12-31T23:59:59");
    assert_stamp(facts.start_utc, "2026-01-01T00:29:59Z");
}
END_TEST

START_TEST(test_no_offset)
{
    static const struct exif_tag tags[] = {{0x9003, EXIF_ASCII, 0, "2025:12:31 23:59:59"},
                                           {0x9011, EXIF_ASCII, 0, "   :  "},
                                           {0, 0, 0, NULL}};
    struct frame_facts facts;
    read_block(&facts, 0, tags, true);
    assert_stamp(facts.start_local, "2025-12-31T23:59:59");
    assert_stamp(facts.start_utc, "");
}
END_TEST

/* Cut anywhere or with any byte changed, it must be read without harm, to facts within bounds. */
START_TEST(test_damage)
{
    struct exif_block block;
    struct random r = {11};
    exif_make(&block, 6, camera, _i == 1);
    for (size_t size = 0; size <= block.size; size++) {
        struct frame_facts facts = {0};
        unsigned char *copy = malloc(size + 1); /* so that a sanitizer sees its end */
        ck_assert_ptr_nonnull(copy);
        memcpy(copy, block.bytes, size);
        exif_read(&facts, copy, size, 6000, 4000);
        free(copy);
    }
    for (int i = 0; i < 3000; i++) {
        struct exif_block bad = block;
        struct frame_facts facts = {0};
        bad.bytes[random_bits(&r) % bad.size] = (unsigned char)random_bits(&r);
        int orientation = exif_read(&facts, bad.bytes, bad.size, 6000, 4000);
        ck_assert(orientation >= 1 && orientation <= 8);
        ck_assert(facts.focal_mm.origin == FACT_UNKNOWN ||
                  (facts.focal_mm.value > 0 && facts.focal_mm.value < 1e5));
    }
}
END_TEST

START_TEST(test_moment)
{
    struct time_stamp m;
    ck_assert(moment_read(&m, "2026-03-14T21:04:05.98765", NULL));
    assert_stamp(m, "2026-03-14T21:04:05.987");
    ck_assert(moment_read(&m, "2026:03:14 21:04:05", "25"));
    assert_stamp(m, "2026-03-14T21:04:05.25");
    ck_assert(moment_read(&m, "2026:03:14 21:04:05.5", "x"));
    assert_stamp(m, "2026-03-14T21:04:05.5");
    static const char *const bad[] = {
        "",
        "2026-03-14",
        "2026-02-29T00:00:00",
        "2100-02-29T00:00:00",
        "2026-13-01T00:00:00",
        "2026-00-01T00:00:00",
        "2026-01-00T00:00:00",
        "2026-01-01T24:00:00",
        "2026-01-01T00:60:00",
        "2026-01-01T00:00:60",
        "1970-01-01T00:00:00",
        "2026:01-01T00:00:00",
        "2026-01-01T00-00-00",
        "2026-01-01T0a:00:00",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_msg(!moment_read(&m, bad[i], NULL), "%s", bad[i]);
    }
    ck_assert(moment_read(&m, "2024-02-29 00:00:00", NULL));
}
END_TEST

START_TEST(test_offsets)
{
    int minutes = 7;
    ck_assert(moment_read_offset(&minutes, "-09:30"));
    ck_assert_int_eq(minutes, -570);
    ck_assert(!moment_read_offset(&minutes, "+15:00"));
    ck_assert(!moment_read_offset(&minutes, "09:30"));
    ck_assert(!moment_read_offset(&minutes, "+0930"));
}
END_TEST

Suite *exif_suite(void)
{
    Suite *suite = suite_create("exif");
    TCase *c = tcase_create("exif");
    tcase_add_loop_test(c, test_all_facts, 0, 2);
    tcase_add_test(c, test_nothing_known);
    tcase_add_loop_test(c, test_orientations, 0, 10);
    tcase_add_test(c, test_absurd);
    tcase_add_test(c, test_pitch);
    tcase_add_test(c, test_large_iso);
    tcase_add_test(c, test_second_date);
    tcase_add_test(c, test_no_offset);
    tcase_add_loop_test(c, test_damage, 0, 2);
    tcase_add_test(c, test_moment);
    tcase_add_test(c, test_offsets);
    suite_add_tcase(suite, c);
    return suite;
}
