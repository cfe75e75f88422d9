/* What people, cameras and logs write of times. */
#include "near.h"
#include "sky/time.h"
#include "stamps.h"

Suite *time_suite(void);

START_TEST(reads_offsets_as_people_write_them)
{
    static const struct {
        const char *text;
        double minutes;
    } good[] = {{"+01:00", 60},  {"1:00", 60},     {"01:00", 60},   {"+1", 60},       {"1", 60},
                {"-3:30", -210}, {"-03:30", -210}, {"+14:00", 840}, {"-14:00", -840}, {"0", 0},
                {"+05:45", 345}, {"-00:30", -30},  {"12", 720}};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        double minutes = 1e9;
        ck_assert_msg(time_read_offset(&minutes, good[i].text), "%s", good[i].text);
        assert_near(minutes, good[i].minutes, 0, "min");
    }
}
END_TEST

START_TEST(refuses_what_is_no_offset)
{
    static const char *const bad[] = {"",     "+",   "-",   "UTC",    "Z",   "+14:01", "-15",
                                      "1:60", "1:5", "1:",  "001:00", "+-1", "5.5",    "1:2:3",
                                      " 1",   "1 ",  "100", "+1:000", ":30", "+01:0x"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double minutes = 17;
        ck_assert_msg(!time_read_offset(&minutes, bad[i]), "\"%s\" goes by", bad[i]);
        assert_near(minutes, 17, 0, "min");
    }
}
END_TEST

START_TEST(stamps_are_printed_as_they_were_read)
{
    static const struct {
        const char *text;
        bool zoned;
    } same[] = {{"2026-02-24T20:30:02.00Z", true},
                {"2026-02-24T20:30:02", false},
                {"2026-03-14T21:04:05.987", false},
                {"2016-12-31T23:59:60.5Z", true},
                {"2026-03-14T21:04:05.123456789", false}};
    for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
        struct time_stamp stamp = make_stamp(same[i].text);
        ck_assert(stamp.known && stamp.zoned == same[i].zoned);
        assert_stamp(stamp, same[i].text);
    }
    assert_stamp(make_stamp("2026-02-24 20:30:02.5+01:00"), "2026-02-24T19:30:02.5Z");
    ck_assert(!make_stamp("").known);
    ck_assert(!make_stamp("yesterday").known);
    assert_stamp(make_stamp("yesterday"), "");
}
END_TEST

/* A camera's clock has days of 86400 s; the day of 2016-12-31 had 86401 s of UTC (IERS Bulletin C
 * 52), over which time_add would lose part of a second. */
START_TEST(clocks_of_cameras_count_no_leap_second)
{
    static const struct {
        const char *from;
        int minutes;
        const char *to;
    } samples[] = {
        {"2024-03-01T00:00:00", -1, "2024-02-29T23:59:00"},
        {"2023-03-01T00:00:00", -1, "2023-02-28T23:59:00"},
        {"2026-01-01T05:00:00", -840, "2025-12-31T15:00:00"},
        {"2025-12-31T23:00:00", 90, "2026-01-01T00:30:00"},
        {"2026-04-30T12:00:00", 720, "2026-05-01T00:00:00"},
        {"2017-01-01T00:30:00.999", -60, "2016-12-31T23:30:00.999"},
        {"2016-12-31T23:59:59.999", -840, "2016-12-31T09:59:59.999"},
        {"2016-12-31T12:00:00.000", 720, "2017-01-01T00:00:00.000"},
    };
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        struct time_stamp stamp = make_stamp(samples[i].from);
        stamp.utc = time_add_clock(stamp.utc, 60.0 * samples[i].minutes);
        assert_stamp(stamp, samples[i].to);
        stamp.utc = time_add_clock(stamp.utc, -60.0 * samples[i].minutes);
        assert_stamp(stamp, samples[i].from);
    }
}
END_TEST

START_TEST(dates_are_of_the_calendar)
{
    struct utc utc = {7, 7};
    int year, month, day;
    ck_assert(!time_from_date(&utc, 2026, 2, 29, 12) && !time_from_date(&utc, 2026, 13, 1, 0));
    ck_assert(!time_from_date(&utc, 1700, 1, 1, 0) && !time_from_date(&utc, 2300, 1, 1, 0));
    assert_near(utc.day, 7, 0, "days");
    ck_assert(time_from_date(&utc, 2024, 2, 29, 20));
    assert_stamp(time_stamp_utc(utc, 0), "2024-02-29T20:00:00Z");
    time_date(&year, &month, &day, time_add(utc, 4 * 3600));
    ck_assert_int_eq(year, 2024);
    ck_assert_int_eq(month, 3);
    ck_assert_int_eq(day, 1);
}
END_TEST

Suite *time_suite(void)
{
    Suite *suite = suite_create("time");
    TCase *c = tcase_create("offsets");
    tcase_add_test(c, reads_offsets_as_people_write_them);
    tcase_add_test(c, refuses_what_is_no_offset);
    suite_add_tcase(suite, c);
    c = tcase_create("stamps");
    tcase_add_test(c, stamps_are_printed_as_they_were_read);
    tcase_add_test(c, clocks_of_cameras_count_no_leap_second);
    tcase_add_test(c, dates_are_of_the_calendar);
    suite_add_tcase(suite, c);
    return suite;
}
