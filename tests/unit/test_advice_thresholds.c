/* What the advice takes for a move, a jump of the clock, a mark, the Sun's neighbourhood: just
 * short of each limit and just beyond. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/advice.h"
#include "tripod/clock.h"
#include "tripod/series.h"

#include <string.h>

Suite *advice_thresholds_suite(void);

static bool is_still(double pan_deg, double tilt_deg)
{
    struct advice advice = {.has_horizon = true,
                            .aim = {.field_width_deg = 5, .field_height_deg = 3}};
    struct head_move move = {.pan_deg = pan_deg, .tilt_deg = tilt_deg};
    return advice_is_still(&advice, &move);
}

START_TEST(a_move_below_1_5_percent_of_the_picture_is_none)
{
    ck_assert(is_still(5 * 0.014, 0));
    ck_assert(!is_still(5 * 0.016, 0));
    ck_assert(is_still(0, 3 * 0.014));
    ck_assert(!is_still(0, 3 * 0.016));
}
END_TEST

/* A camera that looks south from 50 degrees north, and a target in its picture. */
static struct stand southern(double altitude_deg)
{
    struct tripod tripod = {.place = {.latitude_deg = 50, .longitude_deg = 10},
                            .azimuth_deg = 180,
                            .altitude_deg = altitude_deg,
                            .lens = {.scale_arcsec = 3.05, .width = 6000, .height = 4000}};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    return tripod_stand(&tripod, true);
}

static void advise(struct advice *advice, const struct stand *stand, double x, double y,
                   double cadence_s)
{
    const struct advice_wish wish = {.cadence_s = cadence_s, .smear_px = 1};
    struct aim_target target;
    double ra, dec;
    wcs_radec(&ra, &dec, &stand->wcs, x, y);
    aim_target_radec(&target, ra, dec);
    advice_find(advice, stand, NULL, &target, &wish);
}

/* A clock that is fast by a minute: what that costs is told by clock_cost_deg, which
 * tests/unit/test_advice.c holds against pictures. */
START_TEST(the_clock_is_taken_to_be_off_by_a_minute)
{
    const struct head level = {0};
    struct stand stand = southern(30);
    struct advice advice;
    double v[3];
    advise(&advice, &stand, 200, 300, 0);
    wcs_direction(v, &stand.wcs, 200, 300);
    assert_near(advice.minute_deg, clock_cost_deg(&stand, &level, v, 60), 1e-4, "deg");
}
END_TEST

/* Beside the pole nothing leaves a picture: that is said of four hours. A flat picture never
 * smears: that is said of two. */
START_TEST(advice_looks_two_and_four_hours_ahead)
{
    struct stand stand = southern(30);
    struct advice advice;
    double x, y, pole[3] = {0, 0, 1};
    stand.wcs.dec_deg = 89.9;
    ck_assert(wcs_pixel(&x, &y, &stand.wcs, pole));
    struct ground ground = stand.ground;
    struct wcs wcs = stand.wcs;
    stand_make(&stand, &wcs, &ground);
    advise(&advice, &stand, x, y, 0);
    ck_assert(advice.now.inside && !advice.now.changes);
    assert_near(advice.now.change_s, 4 * 3600, 1, "s");
    assert_near(advice.smear_s[SMEAR_HOMOGRAPHY], 2 * 3600, 1, "s");
}
END_TEST

START_TEST(a_batch_is_5000_frames_at_most)
{
    struct stand stand = southern(30);
    struct advice advice;
    advise(&advice, &stand, 3000, 2000, 0.05);
    ck_assert_int_eq(advice.longest, 5000);
}
END_TEST

static bool clock_known(double level_deg)
{
    const struct head_lesson pan = {.axis = {0.01, 0, 1}};
    const struct place equator = {0};
    struct clock_fault fault;
    return clock_from_pan(&fault, &pan, &equator, level_deg);
}

/* At the equator the zenith moves by 15.041 arcsec a second. */
START_TEST(a_clock_is_known_to_half_an_hour)
{
    ck_assert(clock_known(1700 * 15.041 / 3600));
    ck_assert(!clock_known(1900 * 15.041 / 3600));
}
END_TEST

static bool finds_clock(double fast_s)
{
    struct stand stand = southern(30);
    struct clock_fault fault;
    struct ground ground;
    struct wcs wcs = stand.wcs;
    ck_assert(ground_make(&ground, &stand.ground.place, time_add(stand.ground.utc, fast_s)));
    stand_make(&stand, &wcs, &ground);
    bool found = clock_from_level(&fault, &stand, 0.1);
    if (found) {
        assert_near(fault.fast_s, fast_s, 10, "s");
    }
    return found;
}

START_TEST(a_clock_may_be_off_by_two_hours)
{
    ck_assert(finds_clock(6900));
    ck_assert(!finds_clock(7500));
    ck_assert(finds_clock(-6900));
    ck_assert(!finds_clock(-7500));
}
END_TEST

enum { FRAMES = 6 };

/* Frames 2000 px wide, 4 arcsec a pixel, one every 5 s; before the fourth the camera is moved, or
 * its clock jumps. */
static struct series measured(double moved_px, double jump_s)
{
    struct series_frame frame[FRAMES];
    struct series series;
    struct tripod tripod = {.place = {.latitude_deg = 50},
                            .azimuth_deg = 180,
                            .altitude_deg = 40,
                            .lens = {.scale_arcsec = 4, .width = 2000, .height = 1400}};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    for (int i = 0; i < FRAMES; i++) {
        tripod.altitude_deg += i == 3 ? moved_px * 4 / 3600 : 0;
        frame[i] = (struct series_frame){.name = "",
                                         .wcs = tripod_wcs(&tripod, 5 * i),
                                         .mid = time_add(tripod.utc, 5 * i + (i > 2 ? jump_s : 0))};
    }
    series_measure(&series, frame, FRAMES);
    return series;
}

START_TEST(a_tripod_creeps_by_0_3_percent_of_the_width)
{
    ck_assert_int_eq(measured(5.6, 0).still_from, 0);
    ck_assert_int_eq(measured(6.4, 0).still_from, 3);
}
END_TEST

START_TEST(a_clock_jumps_by_two_and_a_half_seconds)
{
    ck_assert_int_eq(measured(0, 2.35).clock_jump, 0);
    ck_assert_int_eq(measured(0, 2.65).clock_jump, 3);
}
END_TEST

static bool warns(double altitude_deg, double way_deg)
{
    const struct sun_guard guard = {.altitude_deg = altitude_deg, .way_deg = way_deg};
    return sun_guard_warns(&guard);
}

/* Astronomical twilight ends at -18 degrees, civil at -6. */
START_TEST(the_sun_is_warned_of_within_30_degrees_in_twilight)
{
    ck_assert(warns(-10, 28));
    ck_assert(!warns(-10, 32));
    ck_assert(warns(-17, 10));
    ck_assert(!warns(-19, 10));
    ck_assert(sun_guard_is_day(-5.5));
    ck_assert(!sun_guard_is_day(-6.5));
}
END_TEST

/* Stars in a picture of 6000 x 4000 px, and what is chosen for a turn by 1000 px to the right and
 * 500 down: a star goes left and up by that. The lens does not bend. */
static struct cue_star star[3];
static struct cue cue;
static const struct object named = {.id = "Named"};

static void set_star(int i, double x, double y, double mag, const struct object *object)
{
    struct stand stand = southern(30);
    star[i] = (struct cue_star){.x = x, .y = y, .mag = mag, .object = object};
    wcs_direction(star[i].v, &stand.wcs, x, y);
}

static const struct cue_star *chosen(int stars)
{
    struct stand stand = southern(30);
    struct head_axes axes;
    struct head_move move;
    head_axes_of_camera(&axes, &stand.view);
    head_turn(&move, &axes, 1000 * 3.05 / 3600, -500 * 3.05 / 3600);
    return cue_find(&cue, star, stars, &stand, move.turn) ? cue.star : NULL;
}

/* Where the star at (4000, 2500) goes to. */
static void find_end(double *x, double *y)
{
    set_star(0, 4000, 2500, 4, NULL);
    ck_assert(chosen(1) == &star[0]);
    *x = cue.to_x;
    *y = cue.to_y;
}

START_TEST(a_mark_is_within_3_percent_of_the_width)
{
    double x, y;
    find_end(&x, &y);
    set_star(1, x - 6000 * 0.028, y, 4.5, NULL);
    ck_assert(chosen(2) && cue.mark == &star[1]);
    set_star(1, x - 6000 * 0.032, y, 4.5, NULL);
    ck_assert(chosen(2) && cue.mark == NULL);
}
END_TEST

START_TEST(stars_in_a_rim_of_2_percent_are_no_help)
{
    set_star(0, 5999 - 6000 * 0.0185, 2000, 4, NULL);
    ck_assert(chosen(1) == NULL);
    set_star(0, 5999 - 6000 * 0.0215, 2000, 4, NULL);
    ck_assert(chosen(1) == &star[0]);
}
END_TEST

/* A name is worth two magnitudes, a mark in its place five, and one at the greatest distance two
 * less. Of a mark half of the magnitude counts. */
START_TEST(names_and_marks_are_worth_magnitudes)
{
    double x, y;
    find_end(&x, &y);
    set_star(1, 4000, 1500, 5.8, &named);
    ck_assert(chosen(2) == &star[1]);
    set_star(1, 4000, 1500, 6.2, &named);
    ck_assert(chosen(2) == &star[0]);

    set_star(1, x, y, 8, NULL); /* the first costs 4 with this one as a mark, and 4 more */
    set_star(2, 5000, 1000, 2.7, NULL);
    ck_assert(chosen(3) == &star[2] && cue.mark == NULL);
    set_star(2, 5000, 1000, 3.3, NULL);
    ck_assert(chosen(3) == &star[0] && cue.mark == &star[1]);

    set_star(1, x - 0.9 * 0.03 * 6000, y, 4, NULL); /* costs 2, and 1.8 for its distance */
    set_star(2, x, y, 7.2, NULL);
    ck_assert(chosen(3) == &star[0] && cue.mark == &star[2]);
    set_star(2, x, y, 8, NULL);
    ck_assert(chosen(3) == &star[0] && cue.mark == &star[1]);
}
END_TEST

/* Whether a star of the catalogue has the name that a table gives to a place so many degrees away.
 */
static bool is_named(double away_deg)
{
    const struct stand stand = southern(30);
    struct object table[1] = {named};
    const struct objects objects = {.object = table, .count = 1};
    struct index_star known = {.mag = 4000};
    const struct index index = {.star = &known};
    struct match_pair pair = {0};
    struct cue_star stars[CUE_STARS];
    struct solution solution = {.solved = true, .wcs = stand.wcs, .matched = 1, .pair = &pair};
    double v[3], ra, dec;
    wcs_direction(v, &stand.wcs, 2000, 1000);
    index_set_place(known.place, v);
    vector_to_radec(&ra, &dec, v);
    radec_offset(&table[0].ra_deg, &table[0].dec_deg, ra, dec, 70, away_deg);
    ck_assert_int_eq(cue_stars(stars, &solution, &index, &objects), 1);
    return stars[0].object != NULL;
}

START_TEST(a_name_belongs_to_a_star_within_a_hundredth_of_a_degree)
{
    ck_assert(is_named(0.0093));
    ck_assert(!is_named(0.0107));
}
END_TEST

static bool shows_later(const struct wcs *wcs, const struct ground *ground, const double sky[3],
                        double later_s)
{
    double v[3], x, y;
    ground_from_sky(v, ground, sky, later_s);
    return wcs_pixel(&x, &y, wcs, v) && wcs_inside(wcs, x, y);
}

/* How many middles of 24 x 16 cells of the picture in the middle are in the first and the last. */
static int common_cells(const struct wcs *wcs, struct utc utc, double span_s)
{
    struct ground ground;
    int common = 0;
    ground_make(&ground, NULL, utc);
    for (int i = 0; i < 24 * 16; i++) {
        double v[3];
        wcs_direction(v, wcs, wcs->width * (i % 24 + 0.5) / 24 - 0.5,
                      wcs->height * (i / 24 + 0.5) / 16 - 0.5);
        common +=
            shows_later(wcs, &ground, v, -span_s / 2) && shows_later(wcs, &ground, v, span_s / 2);
    }
    return common;
}

/* A picture of 6 x 4 degrees that drifts at a slant out of what it showed. */
START_TEST(frames_with_a_tenth_in_common_have_a_smear)
{
    const double scale = 0.01, c = cos(30 * RAD_PER_DEG) * scale, s = sin(30 * RAD_PER_DEG) * scale;
    const struct wcs wcs = {.ra_deg = 83,
                            .x = 299.5,
                            .y = 199.5,
                            .cd = {{-c, -s}, {s, -c}},
                            .width = 600,
                            .height = 400};
    struct utc utc;
    struct smear smear;
    int fewer = 0, as_many = 0;
    ck_assert(time_read(&utc, "2026-02-24T19:30:00"));
    for (double span_s = 600; span_s < 1500; span_s += 3) {
        int common = common_cells(&wcs, utc, span_s);
        ck_assert_int_eq(smear_measure(&smear, &wcs, utc, span_s), common >= 40);
        fewer += common >= 32 && common < 40;
        as_many += common >= 40 && common <= 48;
    }
    ck_assert(fewer > 0 && as_many > 0);
}
END_TEST

Suite *advice_thresholds_suite(void)
{
    Suite *suite = suite_create("advice thresholds");
    TCase *tests = tcase_create("advice");
    tcase_add_test(tests, a_move_below_1_5_percent_of_the_picture_is_none);
    tcase_add_test(tests, the_clock_is_taken_to_be_off_by_a_minute);
    tcase_add_test(tests, advice_looks_two_and_four_hours_ahead);
    tcase_add_test(tests, a_batch_is_5000_frames_at_most);
    tcase_add_test(tests, a_clock_is_known_to_half_an_hour);
    tcase_add_test(tests, a_clock_may_be_off_by_two_hours);
    tcase_add_test(tests, a_tripod_creeps_by_0_3_percent_of_the_width);
    tcase_add_test(tests, a_clock_jumps_by_two_and_a_half_seconds);
    tcase_add_test(tests, the_sun_is_warned_of_within_30_degrees_in_twilight);
    tcase_add_test(tests, frames_with_a_tenth_in_common_have_a_smear);
    suite_add_tcase(suite, tests);
    TCase *guides = tcase_create("guide");
    tcase_add_test(guides, a_mark_is_within_3_percent_of_the_width);
    tcase_add_test(guides, stars_in_a_rim_of_2_percent_are_no_help);
    tcase_add_test(guides, names_and_marks_are_worth_magnitudes);
    tcase_add_test(guides, a_name_belongs_to_a_star_within_a_hundredth_of_a_degree);
    suite_add_tcase(suite, guides);
    return suite;
}
