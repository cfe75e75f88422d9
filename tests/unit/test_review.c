/* Made-up nights whose story is known: what is kept, what happened, what the frames share. */
#include "base/units.h"
#include "draw/html.h"
#include "near.h"
#include "night_fixture.h"
#include "objects/outline.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *review_suite(void);

/* 40 frames every 5 s, the camera turned back by what has drifted after 20 of them. */
static void make_night(struct night_list *list)
{
    struct error err = {0};
    for (int i = 0; i < 40; i++) {
        char name[40];
        double seconds = 5 * i + (i >= 20 ? 25 : 0), batch_start = i >= 20 ? 125 : 0;
        snprintf(name, sizeof name, "frame-%02d.jpg", i);
        struct night_frame frame =
            night_fixture_frame(name, seconds, 80 + 15.0410686 / 3600 * (seconds - batch_start));
        ck_assert_int_eq(night_list_add(list, &frame, &err), 0);
    }
}

START_TEST(test_quiet_night)
{
    struct night_list list = {0};
    make_night(&list);
    struct review *review = night_fixture_review(&list, NULL);
    ck_assert_int_eq(review->count[JUDGE_KEEP], 40);
    ck_assert_int_eq(review->batches, 2);
    ck_assert_int_eq(review->events, 1);
    ck_assert_int_eq(review->event[0].kind, REVIEW_RECENTRED);
    ck_assert_int_eq(review->event[0].first, 20);
    /* At 125 s the camera is back where it was at the night's begin. */
    assert_near(review->event[0].amount, 15.0410686 / 3600 * 125, 1e-4, "deg");
    assert_near(review->kept_s, 80, 1e-9, "s");
    assert_near(review->cadence_s, 5, 0.02, "s");
    assert_near(review->drift_px_s, 15.041 / 6, 0.03, "px/s");
    assert_near(review->length_s, 5 * 39 + 25 + 2, 0.02, "s");
    night_fixture_free(review, &list);
}
END_TEST

/* The frames lie side by side in right ascension: what all show is the width less the drift. */
START_TEST(test_crop)
{
    struct night_list list = {0};
    make_night(&list);
    struct review *review = night_fixture_review(&list, NULL);
    const struct review_cover *cover = &review->cover;
    double drift_px = 95 * 15.0410686 / 6, cell = 1800 / 180.0;
    ck_assert(cover->crop_width <= 1800 - drift_px + 1);
    assert_near(cover->crop_width, 1800 - drift_px, 2 * cell + 1, "px");
    assert_near(cover->crop_height, 1200, 2 * cell + 1, "px");
    /* Each corner of the crop is inside each frame. */
    struct wcs reference, wcs;
    ck_assert(night_frame_wcs(&reference, review->frame[review->reference].frame));
    for (int i = 0; i < review->frames; i++) {
        ck_assert(night_frame_wcs(&wcs, review->frame[i].frame));
        for (int corner = 0; corner < 4; corner++) {
            double v[3], x, y;
            wcs_direction(v, &reference, cover->crop_left - 0.5 + corner % 2 * cover->crop_width,
                          cover->crop_top - 0.5 + corner / 2 * cover->crop_height);
            ck_assert(wcs_pixel(&x, &y, &wcs, v));
            ck_assert_msg(x > -1.5 && x < 1800.5 && y > -1.5 && y < 1200.5, "%g %g", x, y);
        }
    }
    night_fixture_free(review, &list);
}
END_TEST

/* Half of the frames are turned by 30 degrees: the largest rectangle that all show is 1200 px wide
 * (x and y halves of it, x sin 30 + y cos 30 = 600, x y largest where both terms are equal), too
 * little for a nebula of 1500 by 60 px. Around that they show one of 2 (600 - 750 sin 30) / cos 30
 * = 520 px at most. */
START_TEST(test_crop_holds_the_outline)
{
    enum { CORNERS = 4 };
    struct night_list list = {0};
    struct error err = {0};
    const float along = (float)tan(1.25 * RAD_PER_DEG), across = (float)tan(0.05 * RAD_PER_DEG);
    struct outline_line *hull = calloc(1, sizeof *hull + CORNERS * sizeof hull->point[0]);
    ck_assert_ptr_nonnull(hull);
    hull->count = CORNERS;
    for (int i = 0; i < CORNERS; i++) {
        hull->point[i] =
            (struct outline_point){i == 0 || i == 3 ? along : -along, i < 2 ? across : -across};
    }
    struct outline outline = {.hull = hull};
    struct aim_target target = {.name = "the bar", .shape = {80, 0, 0.4, 0.4, 0, false, &outline}};
    for (int i = 0; i < 20; i++) {
        char name[40];
        snprintf(name, sizeof name, "frame-%02d.jpg", i);
        struct night_frame frame = night_fixture_frame(name, 5 * i, 80);
        frame.up_angle_deg = i < 10 ? 0 : 30;
        frame.health.fwhm_px = i < 10 ? 2.4 : 2.5; /* an upright one is the reference */
        ck_assert_int_eq(night_list_add(&list, &frame, &err), 0);
    }
    struct review *free_choice = night_fixture_review(&list, NULL);
    struct review *bound = night_fixture_review(&list, &target);
    const struct review_cover *without = &free_choice->cover, *with = &bound->cover;
    ck_assert_int_eq(without->rims, 0);
    assert_near(without->crop_width, 1200, 40, "px"); /* cells of 10 px, and a flat maximum */
    ck_assert_int_eq(with->rims, CORNERS);
    ck_assert_int_eq(with->crop_holds, CORNERS);
    ck_assert_double_ge(with->crop_width, 1500);
    char words[60];
    ck_assert(!review_write_crop(words, sizeof words, free_choice));
    ck_assert(review_write_crop(words, sizeof words, bound));
    ck_assert_str_eq(words, "the bar is wholly in it");
    assert_near(with->crop_height, 520, 30, "px");
    free(hull);
    review_free(free_choice);
    free(free_choice);
    night_fixture_free(bound, &list);
}
END_TEST

START_TEST(test_verdicts)
{
    struct night_list list = {0};
    make_night(&list);
    for (int i = 10; i < 13; i++) {
        list.frame[i].detected = 100; /* cloud */
    }
    list.frame[15].health.fwhm_px = 3.5;
    list.frame[25].health.faults = 1U << HEALTH_DOUBLE;
    list.frame[26].health.sky_level = 300;
    list.frame[33].health.trail_px = 12;
    list.frame[28].solved = false;
    list.frame[29].solved = false;
    list.frame[29].health.look.kind = KIND_DARK;
    list.frame[30].solved = list.frame[30].read = false;
    struct review *review = night_fixture_review(&list, NULL);
    static const struct {
        int frame;
        enum judge_verdict verdict;
        enum judge_cause cause;
    } want[] = {{9, JUDGE_KEEP, JUDGE_NOTHING}, {10, JUDGE_DROP, JUDGE_STARS},
                {12, JUDGE_DROP, JUDGE_STARS},  {15, JUDGE_DOUBTFUL, JUDGE_WIDTH},
                {25, JUDGE_DROP, JUDGE_BLUR},   {26, JUDGE_DROP, JUDGE_SKY},
                {33, JUDGE_DROP, JUDGE_LENGTH}, {28, JUDGE_DROP, JUDGE_UNSOLVED},
                {29, JUDGE_APART, JUDGE_KIND},  {30, JUDGE_DROP, JUDGE_UNREAD}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        const struct judgement *j = &review->frame[want[i].frame].judgement;
        ck_assert_int_eq(j->verdict, want[i].verdict);
        ck_assert_int_eq(j->cause, want[i].cause);
    }
    ck_assert_int_eq(review->count[JUDGE_KEEP], 30);
    ck_assert_int_eq(review->events, 2);
    ck_assert_int_eq(review->event[0].kind, REVIEW_CLOUD);
    ck_assert_int_eq(review->event[0].first, 10);
    ck_assert_int_eq(review->event[0].last, 12);
    night_fixture_free(review, &list);
}
END_TEST

START_TEST(test_knock_and_gap)
{
    struct night_list list = {0};
    struct error err = {0};
    for (int i = 0; i < 30; i++) {
        double seconds = 5 * i + (i >= 20 ? 300 : 0);
        struct night_frame frame =
            night_fixture_frame("a.jpg", seconds, 80 + 15.0410686 / 3600 * seconds);
        frame.name[0] = (char)('a' + i % 26);
        frame.dec_deg = i >= 8 ? 0.05 : 0;
        ck_assert_int_eq(night_list_add(&list, &frame, &err), 0);
    }
    struct review *review = night_fixture_review(&list, NULL);
    ck_assert_int_eq(review->events, 2);
    ck_assert_int_eq(review->event[0].kind, REVIEW_KNOCKED);
    ck_assert_int_eq(review->event[0].first, 8);
    assert_near(review->event[0].amount, 0.05, 1e-3, "deg");
    ck_assert_int_eq(review->event[1].kind, REVIEW_GAP);
    ck_assert_int_eq(review->event[1].first, 20);
    assert_near(review->event[1].amount, 305, 0.1, "s");
    night_fixture_free(review, &list);
}
END_TEST

/* A mount that follows the sky is not touched all the time. */
START_TEST(test_tracked)
{
    struct night_list list = {0};
    struct error err = {0};
    for (int i = 0; i < 20; i++) {
        struct night_frame frame = night_fixture_frame("a.jpg", 60 * i, 80);
        frame.name[0] = (char)('a' + i);
        ck_assert_int_eq(night_list_add(&list, &frame, &err), 0);
    }
    struct review *review = night_fixture_review(&list, NULL);
    ck_assert_int_eq(review->events, 0);
    ck_assert_int_eq(review->batches, 1);
    night_fixture_free(review, &list);
}
END_TEST

START_TEST(test_target)
{
    struct night_list list = {0};
    struct aim_target target;
    make_night(&list);
    aim_target_radec(&target, 81.45,
                     0); /* east, and so to the left: it comes in as the sky drifts */
    struct review *review = night_fixture_review(&list, &target);
    ck_assert_int_eq(review->count[JUDGE_KEEP], 40);
    assert_near(review->target_s[1][0], 80, 1e-9, "s");
    night_fixture_free(review, &list);
    make_night(&list);
    aim_target_radec(&target, 81.7, 0); /* 1.7 degrees of 1.5: until it has drifted by 0.2 */
    review = night_fixture_review(&list, &target);
    int in = (int)floor((0.2 + 0.4 - 0.4) / (15.0410686 / 3600) / 5) + 1;
    ck_assert_int_eq(review->by_cause[JUDGE_PLACE], 2 * in);
    night_fixture_free(review, &list);
}
END_TEST

START_TEST(test_nothing)
{
    struct night_list list = {0};
    struct review *review = night_fixture_review(&list, NULL);
    char text[200], advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    review_write_answer(text, sizeof text, review);
    ck_assert_int_eq(review->reference, -1);
    ck_assert_int_ge(review_advise(advice, review), 0);
    night_fixture_free(review, &list);
}
END_TEST

START_TEST(test_durations)
{
    static const struct {
        double seconds;
        const char *text;
    } want[] = {
        {0, "0 s"}, {59.4, "59 s"}, {60, "1 min"}, {502, "8 min 22 s"}, {3900, "1 h 5 min"}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        char text[40];
        review_write_duration(text, sizeof text, want[i].seconds);
        ck_assert_str_eq(text, want[i].text);
    }
}
END_TEST

/* Two satellites in frames 3 and 5 are told of and cost nothing; a wire that is in all frames is
 * not. */
START_TEST(test_crossings)
{
    const struct streak wire = {10, 1100, 1790, 1050}, crossing = {0, 200, 1799, 900};
    struct night_list list = {0};
    char text[300];
    make_night(&list);
    for (int i = 0; i < list.count; i++) {
        struct streak_list *streaks = &list.frame[i].streaks;
        streaks->streak[streaks->count++] = wire;
        if (i == 3 || i == 5) {
            streaks->streak[streaks->count++] = crossing;
        }
    }
    struct review *review = night_fixture_review(&list, NULL);
    ck_assert_int_eq(review->crossed, 2);
    ck_assert_int_eq(review->frame[3].crossings, 1);
    ck_assert_int_eq(review->frame[4].crossings, 0);
    ck_assert_int_eq(review->count[JUDGE_KEEP], list.count);
    review_write_crossed(text, sizeof text, review);
    ck_assert_ptr_nonnull(strstr(text, "2 frames, by satellites or aeroplanes: "));
    night_fixture_free(review, &list);
}
END_TEST

static void check_html(const char *text, const char *want)
{
    char *got = NULL;
    size_t size;
    FILE *out = open_memstream(&got, &size);
    html_write(out, text);
    fclose(out);
    ck_assert_str_eq(got, want);
    free(got);
}

START_TEST(test_html)
{
    check_html("a b.jpg", "a b.jpg");
    check_html("<script>\"'&`", "&#60;script&#62;&#34;&#39;&#38;&#96;");
    check_html("\xff\xc3(\n", "\\xFF\\xC3(\\x0A");
    check_html("44°", "44°");
    check_html("\xed\xa0\x80\xc0\xaf", "\\xED\\xA0\\x80\\xC0\\xAF");
    check_html("\xe2\x80\xae", "\\xE2\\x80\\xAE"); /* right-to-left override */
}
END_TEST

/* RFC 4648, section 10. */
START_TEST(test_base64)
{
    static const char *const want[] = {"",         "Zg==",     "Zm8=",    "Zm9v",
                                       "Zm9vYg==", "Zm9vYmE=", "Zm9vYmFy"};
    for (size_t length = 0; length <= 6; length++) {
        char *got = NULL;
        size_t size;
        FILE *out = open_memstream(&got, &size);
        html_write_base64(out, (const unsigned char *)"foobar", length);
        fclose(out);
        ck_assert_str_eq(got, want[length]);
        free(got);
    }
}
END_TEST

Suite *review_suite(void)
{
    Suite *suite = suite_create("review");
    TCase *nights = tcase_create("nights");
    tcase_add_test(nights, test_quiet_night);
    tcase_add_test(nights, test_crop);
    tcase_add_test(nights, test_crop_holds_the_outline);
    tcase_add_test(nights, test_verdicts);
    tcase_add_test(nights, test_knock_and_gap);
    tcase_add_test(nights, test_tracked);
    tcase_add_test(nights, test_target);
    tcase_add_test(nights, test_nothing);
    tcase_add_test(nights, test_crossings);
    suite_add_tcase(suite, nights);
    TCase *words = tcase_create("words");
    tcase_add_test(words, test_durations);
    tcase_add_test(words, test_html);
    tcase_add_test(words, test_base64);
    suite_add_tcase(suite, words);
    return suite;
}
