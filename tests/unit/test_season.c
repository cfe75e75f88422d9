/* Beyond tonight; tests/outside/check_season.py holds many more against astropy. */
#include "near.h"
#include "plan/plan_words.h"
#include "plan/season.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

Suite *season_suite(void);

static struct darkness night;

static void night_at(double latitude_deg, double longitude_deg, int year, int month, int day)
{
    const struct place place = {.latitude_deg = latitude_deg, .longitude_deg = longitude_deg};
    ck_assert(darkness_find(&night, &place, year, month, day, NAN, DARKNESS_ASTRONOMICAL));
}

static void assert_date(const struct season_date *date, const char *want)
{
    char text[48] = "none";
    if (date->any) {
        snprintf(text, sizeof text, "%04d-%02d-%02d", date->year, date->month, date->day);
    }
    ck_assert_str_eq(text, want);
}

/* astropy 5.2.1, get_sun and AltAz: the Sun's lowest altitude is -17.87 degrees on 2026-07-10 and
 * -18.006 on the 11th at 50 N 10 E, and -17.72 on 2026-09-03 and -18.09 on the 4th at 65 N 25 E. */
START_TEST(white_nights_end)
{
    struct season_date date;
    night_at(50, 10, 2026, 6, 18);
    ck_assert(season_dark_again(&date, &night, 60));
    assert_date(&date, "2026-07-11");
    night_at(65, 25, 2026, 6, 10);
    ck_assert(season_dark_again(&date, &night, 120));
    assert_date(&date, "2026-09-04");
    night_at(50, 10, 2026, 1, 18); /* tonight */
    ck_assert(season_dark_again(&date, &night, 60));
    assert_date(&date, "2026-01-18");
}
END_TEST

static struct season find(double ra_deg, double dec_deg, double moonless_hours)
{
    struct season season;
    const struct season_wish wish = {.ra_deg = ra_deg,
                                     .dec_deg = dec_deg,
                                     .least_altitude_deg = 30,
                                     .least_hours = 1,
                                     .moonless_hours = moonless_hours,
                                     .nights = 5,
                                     .utc_offset_min = 60};
    ck_assert(season_find(&season, &night, &wish));
    return season;
}

/* M 42 in June: the run goes over the end of a year, and the next night is its first. */
START_TEST(a_target_that_is_not_up_has_a_season)
{
    night_at(50, 10, 2026, 6, 18);
    const struct season season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.runs, 1);
    ck_assert(!season.all_year && season.nights == 0);
    assert_date(&season.next, "2026-09-30");
    assert_date(&season.run[0].from, "2026-09-30");
    assert_date(&season.run[0].until, "2027-03-03");
}
END_TEST

START_TEST(what_is_always_up_or_never)
{
    night_at(50, 10, 2026, 1, 18);
    struct season season = find(37.95, 89.26, 2); /* Polaris */
    ck_assert(season.all_year && season.runs == 0);
    assert_date(&season.next, "2026-01-18");
    season = find(200, -60, 2);
    ck_assert(!season.all_year && season.runs == 0 && !season.next.any && season.nights == 0);
}
END_TEST

/* New Moon on 2026-01-18, 19:52 UTC, full on 2026-02-01, 22:09 (from memory): the night of the new
 * one has all of the target's hours, those around the full one none. */
START_TEST(nights_without_the_moon)
{
    night_at(50, 10, 2026, 1, 18);
    struct season season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.nights, 5);
    assert_date(&season.moonless[0].date, "2026-01-18");
    assert_near(season.moonless[0].hours, 3.7, 0.4, "h");
    for (int i = 0; i < season.nights; i++) {
        const struct season_date *date = &season.moonless[i].date;
        ck_assert(season.moonless[i].hours >= 2);
        ck_assert(!(date->month == 1 && date->day >= 27) && !(date->month == 2 && date->day <= 2));
    }
    const struct season longer = find(83.82, -5.39, 3.6);
    ck_assert(longer.moonless[1].date.day != season.moonless[1].date.day ||
              longer.moonless[1].hours >= 3.6);
}
END_TEST

/* The same run of evenings seen from an evening within it and from one long before: a year is
 * closed to a ring of 366 evenings, whose last ones lie before the first. */
START_TEST(a_year_has_366_evenings)
{
    night_at(50, 10, 2026, 1, 18);
    struct season season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.runs, 1);
    assert_date(&season.run[0].from, "2026-09-30");
    assert_date(&season.run[0].until, "2026-03-03");
    night_at(50, 10, 2026, 4, 15);
    season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.runs, 1);
    assert_date(&season.run[0].from, "2026-09-30");
    assert_date(&season.run[0].until, "2027-03-03");
}
END_TEST

/* astropy 5.2.1, get_sun, get_body and AltAz, every two minutes: M 42 is above 30 degrees for 1.93
 * h of the dark without the Moon on 2026-10-10, and for 2.03 h on the 11th, the first such evening
 * of the autumn. That is the ninetieth from 14 July on, days 195 and 284 of the year. */
START_TEST(nights_without_the_moon_are_looked_for_within_ninety)
{
    night_at(50, 10, 2026, 9, 20);
    struct season season = find(83.82, -5.39, 2);
    ck_assert_int_ge(season.nights, 1);
    assert_date(&season.moonless[0].date, "2026-10-11");
    night_at(50, 10, 2026, 7, 14);
    season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.nights, 1);
    assert_date(&season.moonless[0].date, "2026-10-11");
    night_at(50, 10, 2026, 7, 13);
    season = find(83.82, -5.39, 2);
    ck_assert_int_eq(season.nights, 0);
}
END_TEST

START_TEST(the_words_of_a_season)
{
    char text[300];
    static struct season season;
    static struct plan_item item;
    const struct plan_settings settings = {.least_altitude_deg = 30};
    night_at(50, 10, 2026, 6, 18);
    season = find(83.82, -5.39, 2);
    struct plan_sheet sheet = {
        .settings = &settings, .night = &night, .item = &item, .season = &season};
    plan_write_season(text, sizeof text, &sheet);
    ck_assert_str_eq(text, "30 September to 3 March: above 30° for an hour or more in the dark; "
                           "next on 30 September 2026");
    plan_write_moonless(text, sizeof text, &sheet);
    ck_assert_str_eq(text, "no night with 2 h of it within 90 days");
    season_dark_again(&sheet.dark_again, &night, 60);
    plan_write_dark(text, sizeof text, &sheet);
    ck_assert_msg(strstr(text, "; not below -18° before 11 July") != NULL, "%s", text);
}
END_TEST

Suite *season_suite(void)
{
    Suite *s = suite_create("season");
    TCase *c = tcase_create("season");
    tcase_add_test(c, white_nights_end);
    tcase_add_test(c, a_target_that_is_not_up_has_a_season);
    tcase_add_test(c, what_is_always_up_or_never);
    tcase_add_test(c, nights_without_the_moon);
    tcase_add_test(c, a_year_has_366_evenings);
    tcase_add_test(c, nights_without_the_moon_are_looked_for_within_ninety);
    tcase_add_test(c, the_words_of_a_season);
    suite_add_tcase(s, c);
    return s;
}
