#include "base/decimal.h"
#include "base/random.h"
#include "base/text.h"
#include "near.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *text_suite(void);

/* One rounding of a double near 360 degrees is 6e-14. */
static const double rounding = 1e-12;

struct sample {
    const char *text;
    double want; /* NaN: must be refused */
};

static void check_samples(bool (*read)(double *, const char *), const struct sample *samples)
{
    for (const struct sample *s = samples; s->text; s++) {
        double got = -12345;
        bool good = read(&got, s->text);
        ck_assert_msg(good == !isnan(s->want), "\"%s\" was %s", s->text,
                      good ? "accepted" : "refused");
        if (good) {
            ck_assert_msg(fabs(got - s->want) <= rounding, "\"%s\" gave %.15g, expected %.15g",
                          s->text, got, s->want);
        } else {
            assert_near(got, -12345, 0, "left alone");
        }
    }
}

START_TEST(test_double)
{
    static const struct sample samples[] = {
        {"0", 0},      {"-0.5", -0.5},  {"+7", 7},       {".25", 0.25},  {"5.", 5},
        {"1e3", 1000}, {"1E-3", 0.001}, {" 2.5\t", 2.5}, {"1e+2", 100},  {"007", 7},
        {"", NAN},     {" ", NAN},      {".", NAN},      {"-", NAN},     {"1,5", NAN},
        {"1e", NAN},   {"1e+", NAN},    {"nan", NAN},    {"inf", NAN},   {"0x10", NAN},
        {"1 2", NAN},  {"1e999", NAN},  {"--1", NAN},    {"1.2.3", NAN}, {"5px", NAN},
        {NULL, 0},
    };
    check_samples(text_read_double, samples);
}
END_TEST

/* strtod, which rounds correctly, is the measure: nothing may be off by more than one unit. */
START_TEST(test_double_is_exact)
{
    struct random r = {5};
    for (int i = 0; i < 50000; i++) {
        char text[64];
        double magnitude = random_between(&r, -30, 30), got;
        snprintf(text, sizeof text, "%.*g", 1 + i % 20, random_normal(&r) * pow(10, magnitude));
        ck_assert(text_read_double(&got, text));
        double want = strtod(text, NULL);
        double unit = nextafter(fabs(want), INFINITY) - fabs(want);
        ck_assert_msg(fabs(got - want) <= unit, "%s gave %.17g, expected %.17g", text, got, want);
    }
}
END_TEST

START_TEST(test_double_long_digits)
{
    double got;
    ck_assert(text_read_double(&got, "3.14159265358979323846264338327950288419716939937510"));
    assert_near(got, 3.14159265358979323846, 1e-15, "number");
    ck_assert(text_read_double(&got, "100000000000000000000000000000000000000000"));
    assert_near(got / 1e41, 1, 1e-15, "ratio");
    ck_assert(text_read_double(&got, "0.00000000000000000000000000000000000000000001"));
    assert_near(got / 1e-44, 1, 1e-15, "ratio");
    ck_assert(text_read_double(&got, "1e-99999999999999999999"));
    assert_near(got, 0, 0, "number");
}
END_TEST

START_TEST(test_decimal_stops_at_end)
{
    const char *text = "12345";
    double got = 0;
    ck_assert_ptr_eq(decimal_read(&got, text, text + 3), text + 3);
    assert_near(got, 123, 0, "number");
    ck_assert_ptr_null(decimal_read(&got, text, text));
    const char *power = "5e7";
    ck_assert_ptr_eq(decimal_read(&got, power, power + 2), power + 1);
    assert_near(got, 5, 0, "number");
}
END_TEST

START_TEST(test_long)
{
    long got = 42;
    ck_assert(text_read_long(&got, " -17 "));
    ck_assert_int_eq(got, -17);
    ck_assert(text_read_long(&got, "+9"));
    ck_assert_int_eq(got, 9);
    static const char *const bad[] = {"", "x", "1.5", "1e3", "0x10", "99999999999999999999", "- 1"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_msg(!text_read_long(&got, bad[i]), "\"%s\" was accepted", bad[i]);
    }
    ck_assert_int_eq(got, 9);
}
END_TEST

START_TEST(test_ra)
{
    const double deneb = 15 * (20 + 58 / 60.0 + 47 / 3600.0);
    const struct sample samples[] = {
        {"314.696", 314.696},
        {"0", 0},
        {"359.9999", 359.9999},
        {"20h58m47.0s", deneb},
        {"20h58m47", deneb},
        {"20:58:47", deneb},
        {"20h 58m 47s", deneb},
        {" 20H 58M 47S ", deneb},
        {"20 58 47", deneb},
        {"20\u02b058\u1d5047\u02e2", deneb},
        {"20h\u00a058m\u00a047s", deneb},
        {"12.5h", 187.5},
        {"5h30m", 82.5},
        {"5h30", 82.5},
        {"5:30", 82.5},
        {"83.8\u00b0", 83.8},
        {"83d48m", 83.8},
        {"0h0m0s", 0},
        {"-0", 0},
        {"360", NAN},
        {"-1", NAN},
        {"24h", NAN},
        {"24:00:00", NAN},
        {"-1h30m", NAN},
        {"5h60m", NAN},
        {"5h30m60s", NAN},
        {"5.5h30m", NAN},
        {"5h-30m", NAN},
        {"5m30s", NAN},
        {"5h30s", NAN},
        {"5h30'", NAN},
        {"5:30m", NAN},
        {"5h30:10", NAN},
        {"1:2:3:4", NAN},
        {"5h30m10sx", NAN},
        {"deneb", NAN},
        {"", NAN},
        {"h", NAN},
        {NULL, 0},
    };
    check_samples(text_read_ra, samples);
}
END_TEST

START_TEST(test_dec)
{
    const double deneb = 44 + 20 / 60.0 + 2 / 3600.0;
    const struct sample samples[] = {
        {"+44.33", 44.33},
        {"+44\u00b020'02\"", deneb},
        {"44\u00b0 20\u2032 02\u2033", deneb},
        {"44\u00b020\u201902\u201d", deneb},
        {"44\u00ba20'02''", deneb},
        {"+44:20:02", deneb},
        {"44d20m02s", deneb},
        {"+44 20 02", deneb},
        {"44\u00b020'02", deneb},
        {"-0:30", -0.5},
        {"-0\u00b000'36\"", -0.01},
        {"\u22125\u00b0 30\u2032", -5.5},
        {"- 5.5", -5.5},
        {"90", 90},
        {"-90:00:00", -90},
        {"90:00:01", NAN},
        {"-90.1", NAN},
        {"12h30m", NAN},
        {"44\u00b020m02\"", NAN},
        {"44\u00b060'", NAN},
        {"44'", NAN},
        {"--5", NAN},
        {"5-30", NAN},
        {"", NAN},
        {"+", NAN},
        {NULL, 0},
    };
    check_samples(text_read_dec, samples);
}
END_TEST

START_TEST(test_radec)
{
    static const struct {
        const char *text;
        double ra, dec;
    } good[] = {
        {"83.8,-5.5", 83.8, -5.5},
        {"83.8 -5.5", 83.8, -5.5},
        {" 83.8 , -5.5 ", 83.8, -5.5},
        {"5h36m00s -5\u00b030'00\"", 84, -5.5},
        {"5:36:00,-5:30:00", 84, -5.5},
        {"05 36 00 -05 30 00", 84, -5.5},
        {"05h 36m 00s, -05\u00b0 30' 00\"", 84, -5.5},
        {"5h 36m 0s +5\u00b0 30' 0\"", 84, 5.5},
    };
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        double ra = 0, dec = 0;
        ck_assert_msg(text_read_radec(&ra, &dec, good[i].text), "%s", good[i].text);
        assert_near(ra, good[i].ra, rounding, good[i].text);
        assert_near(dec, good[i].dec, rounding, good[i].text);
    }
    /* The fourth can be split in two ways. */
    static const char *const bad[] = {"",      "83.8", "1,2,3",    "10 20 30", "M 42",
                                      "83.8,", ",5",   "5h36m00s", "400,5",    "5,95"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double ra = 7, dec = 8;
        ck_assert_msg(!text_read_radec(&ra, &dec, bad[i]), "\"%s\" was accepted", bad[i]);
        ck_assert(ra == 7 && dec == 8);
    }
}
END_TEST

START_TEST(test_write)
{
    char out[32];
    static const struct {
        double deg;
        const char *ra, *dec, *angle;
    } samples[] = {
        {314.6958333, "20h58m47.0s", NULL, "314.7\u00b0"},
        {359.9999999, "00h00m00.0s", NULL, "360.0\u00b0"},
        {-15, "23h00m00.0s", "-15\u00b000'00\"", "-15.0\u00b0"},
        {735, "01h00m00.0s", NULL, "735.0\u00b0"},
        {44.3338889, "02h57m20.1s", "+44\u00b020'02\"", "44.3\u00b0"},
        {0.9999, NULL, "+01\u00b000'00\"", "1.0\u00b0"},
        {0.75, NULL, "+00\u00b045'00\"", "45'"},
        {0.0164, NULL, NULL, "59\""},
        {0.01666, NULL, NULL, "1'"},
        {0.0001, NULL, "+00\u00b000'00\"", "0.4\""},
        {0, "00h00m00.0s", "+00\u00b000'00\"", "0\""},
        {-0.0001, NULL, "+00\u00b000'00\"", "-0.4\""},
        {NAN, "?", "?", "?"},
    };
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        if (samples[i].ra) {
            text_write_ra(out, sizeof out, samples[i].deg);
            ck_assert_str_eq(out, samples[i].ra);
        }
        if (samples[i].dec) {
            text_write_dec(out, sizeof out, samples[i].deg);
            ck_assert_str_eq(out, samples[i].dec);
        }
        text_write_angle(out, sizeof out, samples[i].deg);
        ck_assert_str_eq(out, samples[i].angle);
    }
}
END_TEST

/* What is written can be read, to the precision that was written. */
START_TEST(test_round_trip)
{
    struct random r = {9};
    for (int i = 0; i < 20000; i++) {
        char text[40];
        double ra = random_between(&r, 0, 360), dec = random_between(&r, -90, 90), got;
        text_write_ra(text, sizeof text, ra);
        ck_assert_msg(text_read_ra(&got, text), "%s", text);
        assert_near_turn(got, ra, 0.05 / 240 + rounding);
        text_write_dec(text, sizeof text, dec);
        ck_assert_msg(text_read_dec(&got, text), "%s", text);
        assert_near(got, dec, 0.5 / 3600 + rounding, text);
    }
}
END_TEST

START_TEST(test_short_buffer)
{
    char out[6] = "xxxxx";
    text_write_ra(out, sizeof out, 314.6958333);
    ck_assert_str_eq(out, "20h58");
}
END_TEST

/* With whatever locale is installed that writes 1,5. */
START_TEST(test_locale)
{
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "nl_NL.UTF-8"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (setlocale(LC_ALL, names[i])) {
            break;
        }
    }
    double got;
    char out[32];
    ck_assert(text_read_double(&got, "12345678901234567890.5"));
    assert_near(got / 12345678901234567890.5, 1, 1e-15, "ratio");
    ck_assert(text_read_double(&got, "1.5"));
    assert_near(got, 1.5, 0, "number");
    text_write_ra(out, sizeof out, 1.5);
    ck_assert_str_eq(out, "00h06m00.0s");
    setlocale(LC_ALL, "C");
}
END_TEST

START_TEST(test_copy)
{
    char *copy = text_copy("a word");
    ck_assert_str_eq(copy, "a word");
    free(copy);
}
END_TEST

Suite *text_suite(void)
{
    Suite *suite = suite_create("text");
    TCase *c = tcase_create("text");
    tcase_add_test(c, test_double);
    tcase_add_test(c, test_double_is_exact);
    tcase_add_test(c, test_double_long_digits);
    tcase_add_test(c, test_decimal_stops_at_end);
    tcase_add_test(c, test_long);
    tcase_add_test(c, test_ra);
    tcase_add_test(c, test_dec);
    tcase_add_test(c, test_radec);
    tcase_add_test(c, test_write);
    tcase_add_test(c, test_round_trip);
    tcase_add_test(c, test_short_buffer);
    tcase_add_test(c, test_locale);
    tcase_add_test(c, test_copy);
    suite_add_tcase(suite, c);
    return suite;
}
