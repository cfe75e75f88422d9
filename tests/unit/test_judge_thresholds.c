/* Which frames are kept and what happened in a night: just short of each limit and just beyond, in
 * the numbers of the manual. */
#include "near.h"
#include "night_fixture.h"
#include "sky/rates.h"
#include "tripod/batch_length.h"
#include "tripod/smear.h"

#include <math.h>
#include <string.h>

Suite *judge_thresholds_suite(void);

/* What one frame is worth whose numbers are so many times the usual; target: share of it in the
 * frame. */
struct shares {
    double stars, width, length, sky, target;
};

static struct judgement judged(struct shares shares)
{
    const struct judge_usual_frame usual = {
        .frames = 100, .stars = 1000, .width_px = 2, .length_px = 10, .sky = 100};
    const struct judge_rules rules = judge_usual();
    struct night_frame frame = {.read = true, .solved = true, .exposure_s = 2};
    struct judgement judgement;
    health_read_json(&frame.health, NULL);
    frame.detected = (int)lround(1000 * shares.stars);
    frame.health.fwhm_px = 2 * shares.width;
    double length = 10 * shares.length;
    frame.health.trail_px = sqrt(length * length - frame.health.fwhm_px * frame.health.fwhm_px);
    frame.health.sky_level = 100 * shares.sky;
    snprintf(frame.target.name, sizeof frame.target.name, "M 42");
    frame.target.share = shares.target;
    judge_frame(&judgement, &frame, &usual, &rules);
    return judgement;
}

static void expect(struct shares shares, enum judge_verdict verdict, enum judge_cause cause)
{
    struct judgement judgement = judged(shares);
    ck_assert_msg(judgement.verdict == verdict && judgement.cause == cause, "%s, %s: %s",
                  judge_word(judgement.verdict), judge_cause_key(judgement.cause),
                  judgement.reason);
}

/* Around each limit of the rules: fewer than 70 % of the stars are doubtful, than 40 % dropped. */
static const struct {
    size_t figure;
    double kept, doubtful, still_doubtful, dropped;
    enum judge_cause cause;
} limits[] = {
    {offsetof(struct shares, stars), 0.72, 0.68, 0.42, 0.38, JUDGE_STARS},
    {offsetof(struct shares, width), 1.22, 1.28, 1.56, 1.64, JUDGE_WIDTH},
    {offsetof(struct shares, length), 1.36, 1.44, 1.95, 2.05, JUDGE_LENGTH},
    {offsetof(struct shares, sky), 1.46, 1.54, 2.44, 2.56, JUDGE_SKY},
    {offsetof(struct shares, target), 0.997, 0.99, 0.53, 0.47, JUDGE_PLACE},
};

static void expect_share(size_t figure, double value, enum judge_verdict verdict,
                         enum judge_cause cause)
{
    struct shares shares = {1, 1, 1, 1, 1};
    *(double *)((char *)&shares + figure) = value;
    expect(shares, verdict, cause);
}

START_TEST(frames_are_kept_doubtful_or_dropped_by_shares_of_the_usual)
{
    const size_t figure = limits[_i].figure;
    expect_share(figure, limits[_i].kept, JUDGE_KEEP, JUDGE_NOTHING);
    expect_share(figure, limits[_i].doubtful, JUDGE_DOUBTFUL, limits[_i].cause);
    expect_share(figure, limits[_i].still_doubtful, JUDGE_DOUBTFUL, limits[_i].cause);
    expect_share(figure, limits[_i].dropped, JUDGE_DROP, limits[_i].cause);
}
END_TEST

/* Stars 1.24 times as wide are 0.234 mag lower over the sky; counts of stars grow by 10^0.45 a
 * magnitude (common practice, no source), so that 78 % of them are as many as can be. */
START_TEST(what_wide_stars_hide_is_no_cloud)
{
    expect((struct shares){0.785 * 0.72, 1.24, 1, 1, 1}, JUDGE_KEEP, JUDGE_NOTHING);
    expect((struct shares){0.785 * 0.68, 1.24, 1, 1, 1}, JUDGE_DOUBTFUL, JUDGE_STARS);
}
END_TEST

enum { FRAMES = 22 };

/* A frame every so many seconds on a tripod that stands. */
static struct night_list night_of(int frames, double cadence_s)
{
    struct night_list list = {0};
    struct error err = {0};
    for (int i = 0; i < frames; i++) {
        char name[40];
        snprintf(name, sizeof name, "frame-%02d.jpg", i);
        struct night_frame frame =
            night_fixture_frame(name, cadence_s * i, 80 + SIDEREAL_DEG_S * cadence_s * i);
        ck_assert_int_eq(night_list_add(&list, &frame, &err), 0);
    }
    return list;
}

/* Frames from the 12th on come so much later than they should. */
static int gaps(double cadence_s, double late_s)
{
    struct night_list list = night_of(FRAMES, cadence_s);
    for (int i = 12; i < FRAMES; i++) {
        free(list.frame[i].name);
        free(list.frame[i].says);
        list.frame[i] = night_fixture_frame("later.jpg", cadence_s * i + late_s,
                                            80 + SIDEREAL_DEG_S * (cadence_s * i + late_s));
    }
    struct review *review = night_fixture_review(&list, NULL);
    int count = review->events;
    ck_assert(count == 0 || review->event[0].kind == REVIEW_GAP);
    night_fixture_free(review, &list);
    return count;
}

START_TEST(a_gap_is_five_intervals_and_20_seconds)
{
    ck_assert_int_eq(gaps(10, 48 - 10), 0);
    ck_assert_int_eq(gaps(10, 52 - 10), 1);
    ck_assert_int_eq(gaps(3, 18 - 3), 0);
    ck_assert_int_eq(gaps(3, 22 - 3), 1);
}
END_TEST

/* What happens when the camera points elsewhere from the 12th frame on; -1: nothing. */
static int moved(double east_deg, double north_deg, const struct aim_target *target, bool timed)
{
    struct night_list list = night_of(FRAMES, 10);
    for (int i = 0; i < FRAMES; i++) {
        struct night_frame *frame = &list.frame[i];
        frame->ra_deg += i >= 12 ? east_deg : 0;
        frame->dec_deg += i >= 12 ? north_deg : 0;
        if (!timed) { /* written when the exposure had ended, 2027 January 15 */
            frame->start_utc.known = false;
            frame->modified_ns = 1800000000000000000 + 10000000000LL * i;
        }
    }
    struct review *review = night_fixture_review(&list, target);
    ck_assert_int_le(review->events, 1);
    int kind = review->events ? (int)review->event[0].kind : -1;
    night_fixture_free(review, &list);
    return kind;
}

/* 4 pixels of 6", and 15" for each second that a clock may be off: 1.5, or 4 if only the time of
 * the file is known. */
START_TEST(a_tripod_was_touched_if_clocks_cannot_explain_it)
{
    ck_assert_int_eq(moved(0, 44.5 / 3600, NULL, true), -1);
    ck_assert_int_eq(moved(0, 48.5 / 3600, NULL, true), REVIEW_KNOCKED);
    ck_assert_int_eq(moved(0, 81 / 3600.0, NULL, false), -1);
    ck_assert_int_eq(moved(0, 87 / 3600.0, NULL, false), REVIEW_KNOCKED);
}
END_TEST

/* A target off the middle of the 11th and 12th frame, which the sky has carried by less than 1 % of
 * the picture's width between them. */
static struct aim_target target_at(double east_deg, double north_deg)
{
    struct aim_target target;
    aim_target_radec(&target, 80 + SIDEREAL_DEG_S * 110 + east_deg, north_deg);
    return target;
}

START_TEST(a_target_nearer_to_the_middle_by_5_percent_was_recentred)
{
    struct aim_target above = target_at(0, 0.4); /* of a height of 2 degrees */
    ck_assert_int_eq(moved(0, 2 * 0.046, &above, true), REVIEW_KNOCKED);
    ck_assert_int_eq(moved(0, 2 * 0.054, &above, true), REVIEW_RECENTRED);
}
END_TEST

/* As far from the middle after it as before, beyond it: aimed ahead. The sky drifts west, so that a
 * camera that goes back turns west. */
static int goes_back(double part_of_width, double off_deg)
{
    double angle = off_deg * RAD_PER_DEG, length_deg = 3 * part_of_width;
    double west = length_deg * cos(angle), north = length_deg * sin(angle);
    struct aim_target target = target_at(-west / 2, north / 2);
    return moved(-west, north, &target, true);
}

START_TEST(a_target_taken_back_against_the_drift_by_5_percent_was_recentred)
{
    ck_assert_int_eq(goes_back(0.046, 0), REVIEW_KNOCKED);
    ck_assert_int_eq(goes_back(0.054, 0), REVIEW_RECENTRED);
    ck_assert_int_eq(goes_back(0.2, 43), REVIEW_RECENTRED);
    ck_assert_int_eq(goes_back(0.2, 48), REVIEW_KNOCKED);
}
END_TEST

/* How many clouds there are if frames with these numbers hold a tenth of the stars. */
static int clouds(const char *numbers)
{
    struct night_list list = night_of(FRAMES, 10);
    for (const char *digit = numbers; *digit; digit++) {
        list.frame[*digit - '0'].detected = 40;
    }
    struct review *review = night_fixture_review(&list, NULL);
    int count = review->events;
    night_fixture_free(review, &list);
    return count;
}

START_TEST(two_bad_frames_are_a_cloud_and_two_good_ones_its_end)
{
    ck_assert_int_eq(clouds("3"), 0);
    ck_assert_int_eq(clouds("34"), 1);
    ck_assert_int_eq(clouds("346"), 1);
    ck_assert_int_eq(clouds("35"), 1);
    ck_assert_int_eq(clouds("3467"), 1);
    ck_assert_int_eq(clouds("3478"), 2);
}
END_TEST

static int darks_that_serve(double exposure_s)
{
    struct night_list list = night_of(FRAMES, 10);
    list.frame[20].solved = false;
    list.frame[20].health.look.kind = KIND_DARK;
    list.frame[20].exposure_s = exposure_s;
    struct review *review = night_fixture_review(&list, NULL);
    int darks = review->need[0].darks;
    night_fixture_free(review, &list);
    return darks;
}

START_TEST(darks_are_within_2_percent_of_the_exposure)
{
    ck_assert_int_eq(darks_that_serve(2 * 1.018), 1);
    ck_assert_int_eq(darks_that_serve(2 * 1.022), 0);
}
END_TEST

static bool advised(struct night_list *list, const char *start)
{
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    struct review *review = night_fixture_review(list, NULL);
    int count = review_advise(advice, review);
    bool found = false;
    for (int i = 0; i < count; i++) {
        found = found || strncmp(advice[i], start, strlen(start)) == 0;
    }
    night_fixture_free(review, list);
    return found;
}

/* Common practice, no source. */
START_TEST(a_night_wants_50_darks_100_bias_frames_and_100_flats)
{
    struct night_list list = night_of(FRAMES, 10);
    ck_assert(advised(&list, "take 50 more dark frames of 2 s"));
    list = night_of(FRAMES, 10);
    ck_assert(advised(&list, "take 100 bias frames and 100 flats too"));
}
END_TEST

/* Frames of another exposure are worth darks from a tenth of the lights on. */
static bool wants_other_darks(int frames, int others)
{
    struct night_list list = night_of(frames, 10);
    for (int i = 0; i < others; i++) {
        list.frame[i].exposure_s = 4;
    }
    return advised(&list, "take 50 more dark frames of 4 s");
}

START_TEST(a_tenth_of_the_lights_is_worth_darks)
{
    ck_assert(!wants_other_darks(22, 2));
    ck_assert(wants_other_darks(28, 3));
}
END_TEST

static bool told_to_expose_shorter(int trailing)
{
    struct night_list list = night_of(20, 10);
    for (int i = 0; i < trailing; i++) {
        list.frame[i].health.faults = 1U << HEALTH_TRAILS;
        list.frame[i].health.limit_exposure_s = 0.6;
    }
    return advised(
        &list,
        "expose for 0.6 s, with a higher ISO or a wider aperture: stars trail in most frames");
}

START_TEST(half_of_the_frames_are_most)
{
    ck_assert(!told_to_expose_shorter(9));
    ck_assert(told_to_expose_shorter(11));
}
END_TEST

/* After which to re-centre; 0: no advice. */
static int frames_of_batch(struct night_list *list)
{
    char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE];
    struct review *review = night_fixture_review(list, NULL);
    int count = review_advise(advice, review), frames = 0;
    for (int i = 0; i < count; i++) {
        sscanf(advice[i], "re-centre every %d frames", &frames);
    }
    night_fixture_free(review, list);
    return frames;
}

/* A quarter of 1800 px, at 15.041"/6" a second, are 179 s. */
START_TEST(a_batch_drifts_by_a_quarter_of_the_width)
{
    struct night_list list = night_of(FRAMES, 10);
    assert_near(frames_of_batch(&list), 17, 1, "frames");
}
END_TEST

/* A lens that bends by 3 % in the corners: after the advised time stars at the edge are a tenth
 * wider, by what smear_measure finds. */
START_TEST(a_batch_widens_stars_by_a_tenth)
{
    struct night_list list = night_of(FRAMES, 2);
    struct smear smear;
    struct wcs wcs;
    for (int i = 0; i < FRAMES; i++) {
        struct night_frame *frame = &list.frame[i];
        double ra = frame->ra_deg * RAD_PER_DEG;
        const double axis[3][3] = {{sin(ra), -cos(ra), 0}, {0, 0, -1}, {cos(ra), sin(ra), 0}};
        memcpy(frame->pose.axis, axis, sizeof axis);
        frame->pose.focal_px = ARCSEC_PER_RAD / 6;
        frame->pose.half_diagonal = hypot(1800, 1200) / 2;
        frame->pose.distortion = -0.03;
    }
    ck_assert(night_frame_wcs(&wcs, &list.frame[0]));
    double exposure_s = list.frame[0].exposure_s;
    int frames = frames_of_batch(&list);
    ck_assert_int_gt(frames, 0);
    ck_assert(smear_measure(&smear, &wcs, (struct utc){2461096, 0.25}, 2 * frames));
    double sigma = batch_star_sigma_px(6, 0, 15.041 / 6 * exposure_s);
    assert_near(batch_widening(smear.worst_px[SMEAR_HOMOGRAPHY], sigma), 0.1, 0.01, "share");
}
END_TEST

/* How often the 11th frame was crossed, if a line off by so many px is in these frames too, which
 * are called by letters: the 5th a, the 11th g, the 17th m. */
static int crossings(const char *letters, double off_px)
{
    const struct streak line = {10, 1100, 1790, 1050};
    struct night_list list = night_of(FRAMES, 10);
    list.frame[10].streaks.streak[0] = line;
    list.frame[10].streaks.count = 1;
    for (const char *letter = letters; *letter; letter++) {
        struct streak_list *streaks = &list.frame[4 + *letter - 'a'].streaks;
        streaks->streak[0] = line;
        streaks->streak[0].y1 += off_px;
        streaks->count = 1;
    }
    struct review *review = night_fixture_review(&list, NULL);
    int count = review->frame[10].crossings;
    night_fixture_free(review, &list);
    return count;
}

START_TEST(a_line_in_four_of_the_frames_around_is_a_wire)
{
    ck_assert_int_eq(crossings("fhi", 0), 1);
    ck_assert_int_eq(crossings("efhi", 0), 0);
    ck_assert_int_eq(crossings("bfhl", 0), 0); /* five frames around */
    ck_assert_int_eq(crossings("afhm", 0), 1);
    ck_assert_int_eq(crossings("efhi", 16.5), 0); /* 1 % of 1800 px */
    ck_assert_int_eq(crossings("efhi", 19.5), 1);
}
END_TEST

Suite *judge_thresholds_suite(void)
{
    Suite *suite = suite_create("judge thresholds");
    TCase *verdicts = tcase_create("verdicts");
    tcase_add_loop_test(verdicts, frames_are_kept_doubtful_or_dropped_by_shares_of_the_usual, 0,
                        (int)(sizeof limits / sizeof *limits));
    tcase_add_test(verdicts, what_wide_stars_hide_is_no_cloud);
    suite_add_tcase(suite, verdicts);
    TCase *events = tcase_create("events");
    tcase_add_test(events, a_gap_is_five_intervals_and_20_seconds);
    tcase_add_test(events, a_tripod_was_touched_if_clocks_cannot_explain_it);
    tcase_add_test(events, a_target_nearer_to_the_middle_by_5_percent_was_recentred);
    tcase_add_test(events, a_target_taken_back_against_the_drift_by_5_percent_was_recentred);
    tcase_add_test(events, two_bad_frames_are_a_cloud_and_two_good_ones_its_end);
    tcase_add_test(events, a_line_in_four_of_the_frames_around_is_a_wire);
    suite_add_tcase(suite, events);
    TCase *advice = tcase_create("advice");
    tcase_add_test(advice, darks_are_within_2_percent_of_the_exposure);
    tcase_add_test(advice, a_night_wants_50_darks_100_bias_frames_and_100_flats);
    tcase_add_test(advice, a_tenth_of_the_lights_is_worth_darks);
    tcase_add_test(advice, half_of_the_frames_are_most);
    tcase_add_test(advice, a_batch_drifts_by_a_quarter_of_the_width);
    tcase_add_test(advice, a_batch_widens_stars_by_a_tenth);
    suite_add_tcase(suite, advice);
    return suite;
}
