/* Time zones: compiled files, rules, clocks that are put back and forward.
 * tests/outside/check_zones.py holds the system's zones against Python's. */
#include "near.h"
#include "scratch.h"
#include "sky/zone_file.h"
#include "zone_maker.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

Suite *zone_suite(void);

static struct utc at(const char *text)
{
    struct utc utc;
    ck_assert(time_read(&utc, text));
    return utc;
}

static void expect_word(const struct zone *zone, const char *when, const char *want)
{
    char text[40];
    zone_write(text, sizeof text, zone_at(zone, at(when)));
    ck_assert_msg(strcmp(text, want) == 0, "%s: %s, expected %s", when, text, want);
}

static void make_zone(struct zone *zone)
{
    struct zone_bytes made;
    struct error err = {0};
    zone_make(&made);
    ck_assert_msg(zone_file_parse(zone, made.bytes, made.size, "made", &err) == 0, "%s", err.text);
}

START_TEST(changes_of_the_table_and_of_the_rule_hold)
{
    struct zone zone;
    make_zone(&zone);
    ck_assert(zone_is_known(&zone));
    expect_word(&zone, "1880-01-01T00:00:00Z", "LMT (UTC+00:53)");
    expect_word(&zone, "1996-03-31T00:59:59Z", "CET (UTC+01:00)");
    expect_word(&zone, "1996-03-31T01:00:00Z", "CEST (UTC+02:00)");
    expect_word(&zone, "1996-10-27T00:59:59Z", "CEST (UTC+02:00)");
    expect_word(&zone, "1996-10-27T01:00:00Z", "CET (UTC+01:00)");
    expect_word(&zone, "2026-03-29T00:59:59Z", "CET (UTC+01:00)");
    expect_word(&zone, "2026-03-29T01:00:00Z", "CEST (UTC+02:00)");
    expect_word(&zone, "2026-10-25T00:59:59Z", "CEST (UTC+02:00)");
    expect_word(&zone, "2026-10-25T01:00:00Z", "CET (UTC+01:00)");
    expect_word(&zone, "2026-12-31T23:59:59Z", "CET (UTC+01:00)");
}
END_TEST

START_TEST(a_clock_put_back_shows_an_hour_twice_and_forward_never)
{
    static const struct {
        const char *shown, *utc;
        enum zone_shows shows;
    } row[] = {{"2026-08-12T21:00:00", "2026-08-12T19:00:00", ZONE_ONCE},
               {"2026-01-12T21:00:00", "2026-01-12T20:00:00", ZONE_ONCE},
               {"2026-10-25T01:59:59", "2026-10-24T23:59:59", ZONE_ONCE},
               {"2026-10-25T02:00:00", "2026-10-25T00:00:00", ZONE_TWICE},
               {"2026-10-25T02:59:59", "2026-10-25T00:59:59", ZONE_TWICE},
               {"2026-10-25T03:00:00", "2026-10-25T02:00:00", ZONE_ONCE},
               {"2026-03-29T01:59:59", "2026-03-29T00:59:59", ZONE_ONCE},
               {"2026-03-29T02:00:00", "2026-03-29T01:00:00", ZONE_NEVER},
               {"2026-03-29T02:59:59", "2026-03-29T01:59:59", ZONE_NEVER},
               {"2026-03-29T03:00:00", "2026-03-29T01:00:00", ZONE_ONCE}};
    struct zone zone;
    make_zone(&zone);
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct utc utc;
        ck_assert_msg(zone_to_utc(&utc, &zone, at(row[i].shown)) == row[i].shows, "%s",
                      row[i].shown);
        /* A Julian date in two parts is good to microseconds. */
        assert_near(time_between(at(row[i].utc), utc), 0, 1e-4, row[i].shown);
    }
}
END_TEST

START_TEST(a_change_in_the_night_is_found)
{
    struct zone zone;
    struct utc when;
    make_zone(&zone);
    ck_assert(zone_change(&when, &zone, at("2026-10-24T11:00:00"), at("2026-10-25T11:00:00")));
    assert_near(time_between(at("2026-10-25T01:00:00"), when), 0, 1e-3, "s");
    ck_assert(!zone_change(&when, &zone, at("2026-10-25T11:00:00"), at("2026-10-26T11:00:00")));
    zone_fix(&zone, 60);
    ck_assert(!zone_change(&when, &zone, at("2026-03-01T11:00:00"), at("2026-06-01T11:00:00")));
}
END_TEST

START_TEST(offsets_hold_all_year)
{
    struct zone zone = {0};
    ck_assert(!zone_is_known(&zone));
    zone_fix(&zone, -210);
    ck_assert(zone_is_known(&zone));
    expect_word(&zone, "2026-08-12T00:00:00Z", "UTC-03:30");
    assert_near(zone_ahead_min(&zone, at("2026-01-12T00:00:00Z")), -210, 0, "min");
    zone_fix(&zone, 0);
    expect_word(&zone, "2026-08-12T00:00:00Z", "UTC");
}
END_TEST

/* Southern summer time runs over the new year; Morocco's words are numbers; the days of POSIX are
 * counted in three ways. The rules are those of the TZ Database for Sydney, Lord Howe and Godthab
 * (2025b), and of POSIX.1-2017, 8.3. */
START_TEST(rules_of_each_form_are_understood)
{
    static const struct {
        const char *rule, *when, *word;
    } row[] = {{"AEST-10AEDT,M10.1.0,M4.1.0/3", "2026-01-01T00:00:00Z", "AEDT (UTC+11:00)"},
               {"AEST-10AEDT,M10.1.0,M4.1.0/3", "2026-04-04T15:59:59Z", "AEDT (UTC+11:00)"},
               {"AEST-10AEDT,M10.1.0,M4.1.0/3", "2026-04-04T16:00:00Z", "AEST (UTC+10:00)"},
               {"<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", "2026-07-01T00:00:00Z", "UTC+10:30"},
               {"<-02>2<-01>,M3.5.0/-1,M10.5.0/0", "2026-03-29T00:59:59Z", "UTC-02:00"},
               {"<-02>2<-01>,M3.5.0/-1,M10.5.0/0", "2026-03-29T01:00:00Z", "UTC-01:00"},
               {"AAA0BBB,J60/0,J300", "2024-02-29T23:59:59Z", "AAA (UTC)"},
               {"AAA0BBB,J60/0,J300", "2024-03-01T00:00:00Z", "BBB (UTC+01:00)"},
               {"AAA0BBB,J60/0,J300", "2023-03-01T00:00:00Z", "BBB (UTC+01:00)"},
               {"AAA0BBB,59/0,300", "2024-02-29T00:00:00Z", "BBB (UTC+01:00)"},
               {"XXX3EDT4,0/0,J365/23", "2026-12-31T23:59:59Z", "EDT (UTC-04:00)"},
               {"XXX3EDT4,0/0,J365/25", "2027-01-01T04:30:00Z", "EDT (UTC-04:00)"},
               {"UTC0", "2026-12-31T23:59:59Z", "UTC"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct zone zone = {.kinds = 1};
        ck_assert_msg(zone_rule_read(&zone.rule, row[i].rule, strlen(row[i].rule)), "%s",
                      row[i].rule);
        expect_word(&zone, row[i].when, row[i].word);
    }
}
END_TEST

START_TEST(what_is_no_rule_is_refused)
{
    static const char *const bad[] = {"",
                                      "CET",
                                      "CE-1",
                                      "CET-25",
                                      "<C\033T>-1",
                                      "<CET-1",
                                      "CET-1CEST",
                                      "CET-1CEST,M3.5.0",
                                      "CET-1CEST,M13.5.0,M10.5.0",
                                      "CET-1CEST,M3.6.0,M10.5.0",
                                      "CET-1CEST,M3.5.7,M10.5.0",
                                      "CET-1CEST,J0,J300",
                                      "CET-1CEST,J1,J366",
                                      "CET-1CEST,M3.5.0/168,M10.5.0",
                                      "CET-1CEST,M3.5.0,M10.5.0/3 ",
                                      "CET-1:60",
                                      "LONGLONGLONG-1"};
    struct zone_rule rule;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_msg(!zone_rule_read(&rule, bad[i], strlen(bad[i])), "\"%s\" goes by", bad[i]);
        ck_assert(!rule.given);
    }
}
END_TEST

static void expect_refusal(const struct zone_bytes *made, const char *want)
{
    struct zone zone;
    struct error err = {0};
    ck_assert_msg(zone_file_parse(&zone, made->bytes, made->size, "made", &err) == ERROR_INPUT,
                  "expected \"%s\"", want);
    ck_assert_msg(strstr(err.text, want) != NULL, "\"%s\", expected \"%s\"", err.text, want);
    ck_assert(!zone_is_known(&zone));
}

START_TEST(each_damage_has_its_sentence)
{
    struct zone_bytes made;
    static const struct {
        size_t at;
        unsigned char value;
        const char *want;
    } row[] = {{0, 'X', "made: not a time zone: expected TZif"},
               {35, 200, "it ends too early"},
               {ZONE_MADE_V1_END, 'X', "expected TZif"},
               {ZONE_MADE_V1_END + 28, 0xff, "it ends too early"}, /* leaps */
               {ZONE_MADE_V1_END + 32, 0xff, "it ends too early"},
               {ZONE_MADE_V1_END + 39, 0, "expected 1 to 32 kinds"},
               {ZONE_MADE_CHANGES, 0x7f, "expected changes in order"},
               {ZONE_MADE_CHANGES + 24, 3, "expected changes in order, to kinds"},
               {ZONE_MADE_KINDS, 1, "offsets of less than 26 hours"},
               {ZONE_MADE_KINDS + 4, 2, "offsets of less than 26 hours"},
               {ZONE_MADE_KINDS + 5, 13, "3 to 11 letters"},
               {ZONE_MADE_KINDS + 5, 12, "3 to 11 letters"},
               {ZONE_MADE_KINDS + 18, '\033', "3 to 11 letters"},
               {ZONE_MADE_KINDS + 31, 'C', "expected a line with its rule"},
               {ZONE_MADE_KINDS + 33, '9', "expected a rule like"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        zone_make(&made);
        made.bytes[row[i].at] = row[i].value;
        expect_refusal(&made, row[i].want);
    }
}
END_TEST

START_TEST(a_file_cut_anywhere_is_refused)
{
    struct zone_bytes made, cut;
    zone_make(&made);
    for (size_t size = 0; size < made.size; size++) {
        cut = made;
        cut.size = size;
        expect_refusal(&cut, "made: not a time zone: ");
    }
}
END_TEST

START_TEST(leap_seconds_are_refused)
{
    struct zone_bytes made;
    zone_make(&made);
    made.bytes[ZONE_MADE_V1_END + 31] = 1;
    memset(made.bytes + made.size, 0, 12);
    made.size += 12;
    expect_refusal(&made, "it counts leap seconds");
}
END_TEST

START_TEST(a_file_of_version_1_has_no_rule)
{
    struct zone_bytes made = {.size = 0};
    struct zone zone;
    struct error err = {0};
    zone_put_text(&made, "TZif\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0", 20);
    const int counts[] = {0, 0, 0, 1, 1, 4};
    for (int i = 0; i < 6; i++) {
        zone_put(&made, counts[i], 4);
    }
    zone_put(&made, -1, 4);
    zone_put_text(&made, "\0", 1);
    zone_put(&made, -12600, 4);
    zone_put_text(&made, "\0\0NST", 6);
    ck_assert_msg(zone_file_parse(&zone, made.bytes, made.size, "made", &err) == 0, "%s", err.text);
    ck_assert(!zone.rule.given);
    expect_word(&zone, "2026-08-12T00:00:00Z", "NST (UTC-03:30)");
}
END_TEST

START_TEST(zones_are_found_by_name_and_names_that_come_near_are_said)
{
    static const struct {
        const char *typed, *want;
    } row[] = {{"Europe/Berln", "\"Europe/Berln\" is no time zone; did you mean Europe/Berlin?"},
               {"europe/berlin", "did you mean Europe/Berlin?"},
               {"Berlin", "did you mean Europe/Berlin?"},
               {"Europe", "no time zone; expected a name like"},
               {"Mars/Olympus", "no time zone; expected a name like"},
               {"../Europe/Berlin", "did you mean Europe/Berlin?"},
               {"/Europe/Berlin", "did you mean Europe/Berlin?"},
               {"", "no time zone"}};
    const char *folder = scratch_folder;
    struct zone_bytes made;
    struct zone zone;
    struct error err = {0};
    zone_make(&made);
    ck_assert_int_eq(mkdir(scratch_path("Europe"), 0700), 0);
    scratch_write("Europe/Berlin", made.bytes, made.size);
    ck_assert_msg(zone_file_read(&zone, folder, "Europe/Berlin", &err) == 0, "%s", err.text);
    ck_assert_str_eq(zone.name, "Europe/Berlin");
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        ck_assert_int_eq(zone_file_read(&zone, folder, row[i].typed, &err), ERROR_USAGE);
        ck_assert_msg(strstr(err.text, row[i].want) != NULL, "%s: %s", row[i].typed, err.text);
        ck_assert(!zone_is_known(&zone));
    }
    ck_assert_int_eq(unlink(scratch_path("Europe/Berlin")), 0);
    const char *nowhere = scratch_path("nothing");
    ck_assert_int_eq(zone_file_read(&zone, nowhere, "Europe/Berlin", &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, "install the package tzdata") != NULL, "%s", err.text);
}
END_TEST

Suite *zone_suite(void)
{
    Suite *suite = suite_create("zone");
    TCase *c = tcase_create("zones");
    tcase_add_test(c, changes_of_the_table_and_of_the_rule_hold);
    tcase_add_test(c, a_clock_put_back_shows_an_hour_twice_and_forward_never);
    tcase_add_test(c, a_change_in_the_night_is_found);
    tcase_add_test(c, offsets_hold_all_year);
    tcase_add_test(c, rules_of_each_form_are_understood);
    tcase_add_test(c, what_is_no_rule_is_refused);
    tcase_add_test(c, each_damage_has_its_sentence);
    tcase_add_test(c, a_file_cut_anywhere_is_refused);
    tcase_add_test(c, leap_seconds_are_refused);
    tcase_add_test(c, a_file_of_version_1_has_no_rule);
    TCase *files = scratch_case(suite, "files");
    tcase_add_test(files, zones_are_found_by_name_and_names_that_come_near_are_said);
    suite_add_tcase(suite, c);
    return suite;
}
