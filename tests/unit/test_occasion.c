/* When a frame was taken, by a clock of some zone. */
#include "jobs/occasion.h"
#include "near.h"
#include "rig/rig_in_use.h"
#include "scratch.h"
#include "stamps.h"
#include "zone_maker.h"

#include <sys/stat.h>

Suite *occasion_suite(void);

static struct rig_in_use use;
static struct occasion occasion;

/* A settings file, and a folder with one zone, Berlin. */
static int open_rig(const char *text, const char *given, struct error *err)
{
    struct zone_bytes made;
    const struct rig_choice choice = {0};
    zone_make(&made);
    scratch_write("Berlin", made.bytes, made.size);
    const char *name = scratch_write("rig.ini", text, strlen(text));
    memset(&use, 0, sizeof use);
    int code = rig_in_use_read(&use, name, &choice, err);
    return code ? code : rig_in_use_read_zones(&use, scratch_folder, given, "rig.ini", err);
}

static const char garden[] = "[place Garden]\nlatitude = 50\nlongitude = 10\n";
static const char bodies[] = "[body Otter]\nmodel = OTTER\npixels = 6000x4000\npixel = 3.7\n"
                             "[body Heron]\nmodel = HERON\npixels = 6000x4000\npixel = 3.7\n"
                             "zone = UTC\n[defaults]\nbody = Otter\n";

static void find(const char *place_key, const char *given, const char *camera, const char *local,
                 const char *utc)
{
    char text[400];
    struct error err = {0};
    struct frame_facts facts = {0};
    const struct occasion_settings settings = {0};
    snprintf(text, sizeof text, "%s%s\n%s", garden, place_key, bodies);
    ck_assert_msg(open_rig(text, given, &err) == 0, "%s", err.text);
    snprintf(facts.camera, sizeof facts.camera, "%s", camera);
    facts.start_local = make_stamp(local);
    facts.start_utc = make_stamp(utc);
    occasion_find(&occasion, &facts, &use.rig, &settings);
}

static void expect(const char *start, const char *zone)
{
    char text[40];
    ck_assert(occasion.has_utc);
    time_write(text, sizeof text, occasion.start, 0);
    ck_assert_str_eq(text, start);
    occasion_write_zone(text, sizeof text, &occasion);
    ck_assert_str_eq(text, zone);
}

START_TEST(a_zone_knows_summer_time_and_an_offset_does_not)
{
    find("zone = Berlin", NULL, "OTTER", "2026-08-12T23:00:00", "");
    expect("2026-08-12T21:00:00Z", "CEST (UTC+02:00)");
    find("zone = Berlin", NULL, "OTTER", "2026-02-12T23:00:00", "");
    expect("2026-02-12T22:00:00Z", "CET (UTC+01:00)");
    find("utc offset = +01:00", NULL, "OTTER", "2026-08-12T23:00:00", "");
    expect("2026-08-12T22:00:00Z", "UTC+01:00");
    find("", NULL, "OTTER", "2026-08-12T23:00:00", "");
    ck_assert(!occasion.has_utc && occasion.has_clock);
}
END_TEST

START_TEST(before_the_first_frame_the_settings_tell_the_zone)
{
    struct utc today;
    char text[40];
    ck_assert(time_read(&today, "2026-08-12T19:00:00Z"));
    find("zone = Berlin", NULL, "OTTER", "", "");
    occasion_write_usual_zone(text, sizeof text, &use.rig, today);
    ck_assert_str_eq(text, "CEST (UTC+02:00)");
    find("", NULL, "OTTER", "", "");
    occasion_write_usual_zone(text, sizeof text, &use.rig, today);
    ck_assert_str_eq(text, "");
}
END_TEST

START_TEST(a_body_may_have_a_clock_of_its_own)
{
    find("zone = Berlin", NULL, "HERON", "2026-08-12T23:00:00", "");
    expect("2026-08-12T23:00:00Z", "UTC");
    find("", NULL, "HERON", "2026-08-12T23:00:00", "");
    expect("2026-08-12T23:00:00Z", "UTC");
    find("zone = Berlin", "-3:30", "HERON", "2026-08-12T23:00:00", "");
    expect("2026-08-13T02:30:00Z", "UTC-03:30");
    find("zone = Berlin", NULL, "unknown", "2026-08-12T23:00:00", "");
    expect("2026-08-12T21:00:00Z", "CEST (UTC+02:00)");
}
END_TEST

START_TEST(what_the_file_states_goes_before_settings_and_behind_what_is_given)
{
    find("zone = Berlin", NULL, "OTTER", "2026-08-12T23:00:00", "2026-08-12T22:00:00Z");
    expect("2026-08-12T22:00:00Z", "UTC+01:00");
    find("zone = Berlin", NULL, "OTTER", "2026-08-12T23:00:00", "2026-08-12T21:00:00Z");
    expect("2026-08-12T21:00:00Z", "CEST (UTC+02:00)");
    find("zone = Berlin", "+00:00", "OTTER", "2026-08-12T23:00:00", "2026-08-12T21:00:00Z");
    expect("2026-08-12T23:00:00Z", "UTC");
    find("", NULL, "OTTER", "", "2026-08-12T21:00:00Z");
    expect("2026-08-12T21:00:00Z", "UTC");
}
END_TEST

START_TEST(which_of_two_times_was_taken_is_said)
{
    char text[120];
    find("zone = Berlin", NULL, "OTTER", "2026-10-25T02:30:00", "");
    expect("2026-10-25T00:30:00Z", "CEST (UTC+02:00)");
    occasion_write_change(text, sizeof text, &occasion);
    ck_assert_str_eq(text,
                     "it showed that time twice, as clocks went back: the first, CEST, is taken");
    find("zone = Berlin", NULL, "OTTER", "2026-03-29T02:30:00", "");
    expect("2026-03-29T01:30:00Z", "CEST (UTC+02:00)");
    occasion_write_change(text, sizeof text, &occasion);
    ck_assert_str_eq(text, "clocks went forward past that time: taken as if it had not");
    find("zone = Berlin", NULL, "OTTER", "2026-03-29T03:30:00", "");
    occasion_write_change(text, sizeof text, &occasion);
    ck_assert_str_eq(text, "");
}
END_TEST

static void expect_refusal(const char *key, const char *given, int code, const char *want)
{
    char text[400];
    struct error err = {0};
    snprintf(text, sizeof text, "%s%s\n", garden, key);
    ck_assert_int_eq(open_rig(text, given, &err), code);
    ck_assert_msg(strstr(err.text, want) != NULL, "\"%s\", expected \"%s\"", err.text, want);
}

/* A kilometre is 0.0089932 degrees of latitude, on a sphere of 6371 km. */
static bool has_skyline_if_away(double north_m)
{
    static const char text[] = "[place Garden]\nlatitude = 50\nlongitude = 10\nskyline = 0:10\n";
    const struct occasion_settings settings = {0};
    struct frame_facts facts = {.latitude_deg = {50 + north_m / 1000 * 0.0089932, FACT_EXIF, "GPS"},
                                .longitude_deg = {10, FACT_EXIF, "GPS"}};
    struct error err = {0};
    ck_assert_msg(open_rig(text, NULL, &err) == 0, "%s", err.text);
    occasion_find(&occasion, &facts, &use.rig, &settings);
    ck_assert_str_eq(occasion.place_source, "from the frame's GPS");
    return occasion.skyline != NULL;
}

START_TEST(the_skyline_is_that_of_the_place_within_200_m)
{
    ck_assert(has_skyline_if_away(185));
    ck_assert(!has_skyline_if_away(215));
    find("skyline = 0:10", NULL, "OTTER", "2026-08-12T23:00:00", "");
    ck_assert(occasion.skyline && occasion.skyline->points == 1);
    find("", NULL, "OTTER", "2026-08-12T23:00:00", "");
    ck_assert(!occasion.skyline);
}
END_TEST

START_TEST(zones_that_are_not_there_are_refused)
{
    expect_refusal(
        "zone = Berln", NULL, ERROR_INPUT,
        "rig.ini: zone of \"Garden\" in line 1: \"Berln\" is no time zone; did you mean Berlin?");
    expect_refusal("zone = +15:00", NULL, ERROR_INPUT,
                   "\"+15:00\" is no time zone; expected a name");
    expect_refusal("", "Berln", ERROR_USAGE, "\"Berln\" is no time zone; did you mean Berlin?");
    expect_refusal("zone = Berlin\nutc offset = +01:00", NULL, ERROR_INPUT,
                   "line 1: the place \"Garden\" has a zone and a utc offset: keep one");
}
END_TEST

Suite *occasion_suite(void)
{
    Suite *suite = suite_create("occasion");
    TCase *c = scratch_case(suite, "zones");
    tcase_add_test(c, a_zone_knows_summer_time_and_an_offset_does_not);
    tcase_add_test(c, before_the_first_frame_the_settings_tell_the_zone);
    tcase_add_test(c, a_body_may_have_a_clock_of_its_own);
    tcase_add_test(c, what_the_file_states_goes_before_settings_and_behind_what_is_given);
    tcase_add_test(c, which_of_two_times_was_taken_is_said);
    tcase_add_test(c, the_skyline_is_that_of_the_place_within_200_m);
    tcase_add_test(c, zones_that_are_not_there_are_refused);
    return suite;
}
