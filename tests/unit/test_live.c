/* The live page: its key, its address, its words. */
#include "base/text.h"
#include "near.h"
#include "page/live_act.h"
#include "page/live_address.h"
#include "page/live_feed.h"
#include "page/live_files.h"
#include "page/live_key.h"
#include "page/live_move.h"
#include "page/live_qr.h"
#include "page/live_state.h"
#include "stand_fixture.h"

#include <stdlib.h>
#include <string.h>

Suite *live_suite(void);

START_TEST(a_key_is_known_and_no_other)
{
    char key[LIVE_KEY_SIZE], other[LIVE_KEY_SIZE], near_miss[LIVE_KEY_SIZE];
    ck_assert_int_eq(live_key_make(key, NULL), 0);
    ck_assert_int_eq(live_key_make(other, NULL), 0);
    ck_assert_uint_eq(strlen(key), LIVE_KEY_SIZE - 1);
    ck_assert_uint_eq(strspn(key, "abcdefghijkmnpqrstuvwxyz23456789-"), LIVE_KEY_SIZE - 1);
    ck_assert_str_ne(key, other);
    ck_assert(live_key_matches(key, strlen(key), key));
    ck_assert(!live_key_matches(other, strlen(other), key));
    for (size_t i = 0; i < strlen(key); i++) {
        strcpy(near_miss, key);
        near_miss[i] = (char)(key[i] ^ 1);
        ck_assert(!live_key_matches(near_miss, strlen(key), key));
        ck_assert(!live_key_matches(key, i, key));
    }
    char twice[2 * LIVE_KEY_SIZE];
    snprintf(twice, sizeof twice, "%s%s", key, key);
    ck_assert(!live_key_matches(twice, strlen(twice), key));
}
END_TEST

START_TEST(addresses_are_told_from_folders)
{
    static const char *const good[] = {"192.168.1.20:8470", "0.0.0.0:0", "[::1]:8470",
                                       "tripod.local:80"};
    static const char *const bad[] = {"frames", "night:2026/x", "a:b",  "::1:8470", "host:70000",
                                      ":8470",  "host:",        "[]:1", "host:-1",  ""};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        ck_assert_msg(live_address_is_one(good[i]), "%s", good[i]);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_msg(!live_address_is_one(bad[i]), "%s", bad[i]);
    }
}
END_TEST

START_TEST(only_this_computer_needs_no_key)
{
    struct live_address address;
    struct error err = {0};
    ck_assert_int_eq(live_address_read(&address, "", NULL), 0);
    ck_assert(address.own && address.name[0] == '\0');
    ck_assert_int_eq(live_address_read(&address, "[::1]:8470", NULL), 0);
    ck_assert(address.own);
    ck_assert_int_eq(live_address_read(&address, "0.0.0.0:8470", NULL), 0);
    ck_assert(!address.own);
    ck_assert_int_eq(live_address_read(&address, "192.0.2.1:8470", NULL), 0); /* RFC 5737 */
    ck_assert(!address.own);
    ck_assert_int_eq(live_address_read(&address, "192.0.2.1", &err), ERROR_USAGE);
    ck_assert_ptr_nonnull(strstr(err.text, "ADDRESS:PORT"));
}
END_TEST

static int count_words(const char *text)
{
    int words = 0;
    for (const char *at = text; *at; at += strcspn(at, " ")) {
        at += strspn(at, " ");
        words += *at != '\0';
    }
    return words;
}

START_TEST(an_act_has_six_words_at_most)
{
    struct live_act act;
    for (int kind = 0; kind < ALERT_KINDS; kind++) {
        bool any = live_act_of_alert(&act, (enum alert_kind)kind);
        bool move = alert_wants_move((enum alert_kind)kind) || kind == ALERT_CENTRED;
        ck_assert_int_eq(any, alert_is_loud((enum alert_kind)kind) && !move);
        ck_assert(!any || (act.now && count_words(act.text) <= LIVE_ACT_WORDS));
    }
    live_act_at_start(&act);
    ck_assert_int_le(count_words(act.text), LIVE_ACT_WORDS);
    live_act_of_touch(&act);
    ck_assert_int_le(count_words(act.text), LIVE_ACT_WORDS);
}
END_TEST

/* A move to the right and up, of a level head at that place. */
static void ask(struct live_move *move, const struct stand *stand, double pan, double tilt)
{
    const struct head level = {0};
    *move = (struct live_move){
        .known = true, .stand = *stand, .least_pan_deg = 0.05, .least_tilt_deg = 0.03};
    head_axes(&move->axes, &level, &stand->view);
    head_turn(&move->asked, &move->axes, pan, tilt);
}

/* Azimuth and altitude of the renderer are those of its own astronomy (ERFA): what is turned there
 * must be measured, whatever the sky does meanwhile. */
START_TEST(a_move_is_measured_while_the_sky_turns)
{
    struct random random = {5};
    for (int i = 0; i < 50; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        tripod.altitude_deg = random_between(&random, 15, 70);
        struct stand stand = tripod_stand(&tripod, true);
        double pan = random_between(&random, -6, 6), tilt = random_between(&random, -4, 4);
        double later_s = random_between(&random, 0, 600);
        struct live_move move;
        struct live_moved moved;
        ask(&move, &stand, 3, 1);
        tripod.azimuth_deg += pan;
        tripod.altitude_deg += tilt;
        struct wcs wcs = tripod_wcs(&tripod, later_s);
        ck_assert(live_move_measure(&moved, &move, &wcs, later_s));
        assert_near(moved.pan_deg, pan, 0.003, "deg: refraction that changes by its own change");
        assert_near(moved.tilt_deg, tilt, 0.003, "deg");
    }
}
END_TEST

static void expect_words(double asked_pan, double asked_tilt, double pan, double tilt,
                         const char *expected)
{
    struct random random = {7};
    struct tripod tripod = tripod_anywhere(&random);
    struct stand stand = tripod_stand(&tripod, true);
    struct live_move move;
    const struct live_moved moved = {pan, tilt};
    char text[LIVE_MOVE_SIZE];
    ask(&move, &stand, asked_pan, asked_tilt);
    live_move_write(text, sizeof text, &move, &moved);
    ck_assert_str_eq(text, expected);
}

START_TEST(a_move_is_told_with_what_is_to_go)
{
    expect_words(3.4, 0, 3.1, 0, "moved 3.1° right of 3.4; 0.3 to go");
    expect_words(-3.4, 0, -3.6, 0, "moved 3.6° left of 3.4; 0.2 too far");
    expect_words(3.4, 0, 3.41, 0.2, "moved 3.4° right of 3.4; done");
    expect_words(3.4, 0.9, 3.1, 0.91, "moved 3.1° right of 3.4, 0.3 to go; 0.91° up of 0.90, done");
    expect_words(0, -0.9, 1, -0.5, "moved 0.50° down of 0.90; 0.40 to go");
    expect_words(3.4, 0, -0.5, 0, "moved 0.5° left of 3.4; 3.9 to go");
    expect_words(0.01, 0.01, 2, 2, "");
}
END_TEST

START_TEST(what_is_taken_lasts_when_something_newer_comes)
{
    struct live_feed feed = {0};
    ck_assert_int_eq(live_feed_open(&feed, NULL), 0);
    ck_assert_ptr_null(live_feed_take(&feed, LIVE_STATE));
    ck_assert_int_eq(live_feed_number(&feed, LIVE_STATE), 0);
    live_feed_publish(&feed, LIVE_STATE, live_blob_make("first", 5));
    struct live_blob *first = live_feed_take(&feed, LIVE_STATE);
    for (int i = 0; i < 100000; i++) { /* the pipe fills up, and nobody waits */
        live_feed_publish(&feed, LIVE_STATE, live_blob_make("second", 6));
    }
    ck_assert_int_eq(first->number, 1);
    ck_assert_int_eq(memcmp(first->bytes, "first", 5), 0);
    ck_assert_int_eq(live_feed_number(&feed, LIVE_STATE), 100001);
    live_blob_drop(first);
    live_feed_drain(&feed);
    live_feed_close(&feed);
    live_feed_close(&feed);
}
END_TEST

START_TEST(the_state_outlives_the_frames_that_it_was_told_of)
{
    static struct watch_session session;
    static struct live_state state;
    const struct night_step step = {.cadence_s = 2, .time_s = 0};
    struct night_frame frame = {.read = true, .solved = true, .exposure_s = 2, .detected = 100};
    struct json json = {0};
    live_act_at_start(&state.act);
    ck_assert_int_eq(live_state_begin(&state, &session, NULL), 0);
    frame.name = text_copy("folder/one.jpg");
    frame.says = text_copy("good: round stars");
    ck_assert_int_eq(live_state_frame(&state, &frame, &step, NULL), 0);
    night_frame_free(&frame);
    ck_assert_int_eq(live_state_write(&json, &state, NULL), 0);
    ck_assert_ptr_nonnull(strstr(json.text, "\"name\": \"one.jpg\""));
    ck_assert_ptr_nonnull(strstr(json.text, "\"text\": \"good: round stars\""));
    ck_assert_ptr_nonnull(strstr(json.text, "\"ribbon\": \"k\""));
    json_free(&json);
    live_state_free(&state);
}
END_TEST

START_TEST(the_files_of_the_page_are_built_in)
{
    const struct live_file *page = live_files_find("");
    ck_assert(page && memcmp(page->bytes, "<!doctype html>", 15) == 0);
    ck_assert(live_files_find("live.css") && live_files_find("live.js"));
    ck_assert_ptr_null(live_files_find("live.html"));
    ck_assert_ptr_null(live_files_find("../live.css"));
}
END_TEST

START_TEST(a_code_is_square_and_a_long_text_is_refused)
{
    char *text = NULL, too_long[4000];
    size_t size = 0;
    struct error err = {0};
    FILE *out = open_memstream(&text, &size);
    ck_assert_int_eq(live_qr_write(out, "http://192.0.2.1:8470/k7f2-m9qd-x3ab/", NULL), 0);
    fclose(out);
    int lines = 0;
    for (size_t i = 0; i < size; i++) {
        lines += text[i] == '\n';
    }
    ck_assert_int_eq(lines, (29 + 8 + 1) / 2); /* version 3 holds 53 bytes: 29 modules, margin 4 */
    free(text);
    memset(too_long, 'a', sizeof too_long - 1);
    too_long[sizeof too_long - 1] = '\0';
    ck_assert_int_eq(live_qr_write(stderr, too_long, &err), ERROR_USAGE);
}
END_TEST

Suite *live_suite(void)
{
    Suite *s = suite_create("live");
    TCase *c = tcase_create("page");
    tcase_add_test(c, a_key_is_known_and_no_other);
    tcase_add_test(c, addresses_are_told_from_folders);
    tcase_add_test(c, only_this_computer_needs_no_key);
    tcase_add_test(c, an_act_has_six_words_at_most);
    tcase_add_test(c, a_move_is_measured_while_the_sky_turns);
    tcase_add_test(c, a_move_is_told_with_what_is_to_go);
    tcase_add_test(c, what_is_taken_lasts_when_something_newer_comes);
    tcase_add_test(c, the_state_outlives_the_frames_that_it_was_told_of);
    tcase_add_test(c, the_files_of_the_page_are_built_in);
    tcase_add_test(c, a_code_is_square_and_a_long_text_is_refused);
    suite_add_tcase(s, c);
    return s;
}
