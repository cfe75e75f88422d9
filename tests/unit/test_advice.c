/* The whole advice from one frame; clocks, cue stars and the Sun. */
#include "near.h"
#include "sky/sun_moon.h"
#include "stand_fixture.h"
#include "tripod/advice.h"
#include "tripod/clock.h"

#include <string.h>

Suite *advice_suite(void);

static const struct advice_wish usual = {.cadence_s = 3, .settle_s = 30, .smear_px = 1};

/* Points the tripod's camera as its head does when it is panned and tilted on a levelled base. The
 * roll stays: it is about the line of sight, which the head carries. */
static void move_levelled(struct tripod *tripod, const struct head_move *move)
{
    tripod->azimuth_deg += move->pan_deg;
    tripod->altitude_deg += move->tilt_deg;
}

/* 1,000 cameras anywhere, rolled; every fifth near the zenith, every fifth across north, every
 * fifth near the celestial pole. The picture after the move is the renderer's; the target must be
 * within 1 % of the width of the middle. */
START_TEST(a_levelled_tripod_lands_on_the_target)
{
    struct random random = {61};
    double worst = 0;
    for (int i = 0; i < 1000; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        tripod.roll_deg = i % 2 ? random_between(&random, -180, 180) : 0;
        if (i % 5 == 1) {
            tripod.altitude_deg = random_between(&random, 83, 89.5);
        } else if (i % 5 == 2) {
            tripod.azimuth_deg = random_between(&random, -2, 2);
        } else if (i % 5 == 3) {
            tripod.azimuth_deg = tripod.place.latitude_deg > 0 ? 1 : 181;
            tripod.altitude_deg = fmin(85, fabs(tripod.place.latitude_deg) + 1);
        }
        struct stand stand = tripod_stand(&tripod, true);
        struct aim_target target;
        struct advice advice;
        double ra, dec, v[3];
        wcs_centre(&stand.wcs, &ra, &dec);
        radec_offset(&ra, &dec, ra, dec, random_between(&random, 0, 360),
                     random_between(&random, 0, 12));
        aim_target_radec(&target, ra, dec);
        advice_find(&advice, &stand, NULL, &target, &(struct advice_wish){0});
        ck_assert(advice.has_horizon);
        assert_near(advice.altitude_deg, tripod.altitude_deg, 1e-4, "deg");

        move_levelled(&tripod, &advice.move);
        struct wcs after = tripod_wcs(&tripod, 0);
        double x, y;
        vector_from_radec(v, ra, dec);
        ck_assert(wcs_pixel(&x, &y, &after, v));
        double off = hypot(x - 2999.5, y - 1999.5) / 6000;
        worst = off > worst || isnan(off) ? off : worst;
        ck_assert(advice.move.short_deg == 0);
    }
    assert_near(worst, 0, 0.01, "of the width");
}
END_TEST

START_TEST(without_a_place_the_moves_are_the_pictures)
{
    struct random random = {63};
    struct tripod tripod = tripod_anywhere(&random);
    struct stand stand = tripod_stand(&tripod, false);
    struct aim_target target;
    struct advice advice;
    char text[100];
    double ra, dec;
    wcs_radec(&ra, &dec, &stand.wcs, 4000, 1000);
    aim_target_radec(&target, ra, dec);
    advice_find(&advice, &stand, NULL, &target, &usual);
    ck_assert(!advice.has_horizon && !advice.has_sun);
    assert_near(advice.move.pan_deg, advice.aim.right_deg, 1e-6, "deg");
    assert_near(advice.move.tilt_deg, advice.aim.up_deg, 1e-6, "deg");
    advice_write_move(text, sizeof text, &advice, &advice.move);
    ck_assert_str_eq(text, "turn 0.85° right, then 0.85° up");
}
END_TEST

static void expect_move(double pan, double tilt, bool horizon, const char *text)
{
    char out[100];
    struct advice advice = {.has_horizon = horizon,
                            .aim = {.field_width_deg = 5, .field_height_deg = 3.3}};
    struct head_move move = {.pan_deg = pan, .tilt_deg = tilt};
    advice_write_move(out, sizeof out, &advice, &move);
    ck_assert_str_eq(out, text);
}

START_TEST(moves_read_well)
{
    expect_move(-2.42, 0.9, true, "pan 2.4° left, tilt 0.90° up");
    expect_move(2.42, 0.01, true, "pan 2.4° right");
    expect_move(0.01, -12.34, true, "tilt 12.3° down");
    expect_move(0, 0, true, "leave the camera as it is");
    expect_move(0, 3, false, "turn 3.0° up");
    expect_move(-1, -3, false, "turn 1.0° left, then 3.0° down");
    ck_assert_str_eq(advice_direction_word(199), "south-south-west");
    ck_assert_str_eq(advice_direction_word(355), "north");
    ck_assert_str_eq(advice_direction_word(-90), "west");
}
END_TEST

START_TEST(a_batch_is_led)
{
    struct random random = {65};
    struct tripod tripod = tripod_anywhere(&random);
    tripod.place.latitude_deg = 50;
    tripod.azimuth_deg = 180;
    tripod.altitude_deg = 40;
    tripod.roll_deg = 0;
    struct stand stand = tripod_stand(&tripod, true);
    struct advice_wish wish = usual;
    struct aim_target target;
    struct advice advice;
    struct advice_step step[ADVICE_STEPS];
    double ra, dec;
    wcs_radec(&ra, &dec, &stand.wcs, 3000, 2000);
    aim_target_radec(&target, ra, dec);
    wish.batch = 100;
    advice_find(&advice, &stand, NULL, &target, &wish);
    ck_assert(advice.has_lead && advice_move(&advice) == &advice.lead.move);
    /* South is to be met 30 + 99 * 3 / 2 s from now: 0.744 degrees of azimuth change, at 40 degrees
     * over the horizon of 50 degrees north the sky's declination is 0 and the pan 1/cos(40) of it.
     */
    assert_near(advice.lead.move.pan_deg, 178.5 * 15.041 / 3600 / cos(40 * RAD_PER_DEG), 0.02,
                "deg");
    ck_assert(advice.lead.right_part <
              -0.1); /* it begins on the left: the sky moves to the right */
    ck_assert(advice.longest > 300);
    assert_near(advice.longest_batch.first_s, 30, 1e-9, "s");
    assert_near(advice.longest_batch.last_s, 30 + 3 * (advice.longest - 1), 1e-9, "s");
    ck_assert_int_eq(advice_path(step, &stand, &target, 3), ADVICE_STEPS);
    assert_near(step[0].x, 3000, 0.01, "px");
    assert_near(step[4].x, 3000 + 300 * advice.now.right_px_s, 20, "px");
    ck_assert_int_eq(step[4].frames, 100);
}
END_TEST

/* The same picture, believed to be taken when a fast clock says. */
static struct stand believed(const struct tripod *tripod, double fast_s)
{
    struct wcs wcs = tripod_wcs(tripod, 0);
    struct ground ground;
    struct stand stand;
    ck_assert(ground_make(&ground, &tripod->place, time_add(tripod->utc, fast_s)));
    stand_make(&stand, &wcs, &ground);
    return stand;
}

START_TEST(a_level_camera_tells_the_clock)
{
    struct random random = {67};
    for (int i = 0; i < 100; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct clock_fault fault;
        double fast = random_between(&random, -3600, 3600);
        tripod.roll_deg = 0;
        tripod.place.latitude_deg = random_between(&random, -60, 60);
        tripod.azimuth_deg = random_between(&random, -30, 30) + (i % 2 ? 180 : 0);
        struct stand stand = believed(&tripod, fast);
        ck_assert(clock_from_level(&fault, &stand, 0.5));
        /* The roll of the renderer's pictures is good to 0.01 degrees. */
        assert_near(fault.fast_s, fast, fault.error_s / 0.5 * 0.02 + 1, "s");
        /* A camera whose lower edge is off level by as much as told is off by one deviation. */
        tripod.roll_deg = 0.5 / cos(tripod.altitude_deg * RAD_PER_DEG);
        stand = believed(&tripod, fast);
        ck_assert(clock_from_level(&fault, &stand, 0.5));
        if (fault.error_s < 300) { /* else it is curved */
            assert_near(fabs(fault.fast_s - fast) / fault.error_s, 1, 0.2, "deviations");
        }
    }
    struct tripod tripod = tripod_anywhere(&random);
    struct clock_fault fault;
    tripod.place.latitude_deg = 50;
    tripod.azimuth_deg = 90; /* its roll does not change with the time */
    tripod.roll_deg = 0;
    struct stand stand = believed(&tripod, 60);
    ck_assert(!clock_from_level(&fault, &stand, 0.5));
}
END_TEST

START_TEST(a_level_head_tells_the_clock)
{
    struct random random = {69};
    for (int i = 0; i < 50; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct head_lesson lesson;
        struct clock_fault fault;
        struct view view[2];
        double fast = random_between(&random, -900, 900);
        tripod.place.latitude_deg = random_between(&random, -60, 60);
        view[0] = believed(&tripod, fast).view;
        tripod.azimuth_deg += 10;
        view[1] = believed(&tripod, fast).view;
        ck_assert(head_learn(&lesson, HEAD_PAN, view, 2, 0.001, 1));
        ck_assert(clock_from_pan(&fault, &lesson, &tripod.place, 0.1));
        assert_near(fault.fast_s, fast, 30, "s");
        double rate = 15.041 / 3600 * cos(tripod.place.latitude_deg * RAD_PER_DEG);
        assert_near(fault.error_s, 0.1 / rate, 0.05 / rate, "s");
    }
}
END_TEST

START_TEST(a_minute_costs_what_it_costs)
{
    struct random random = {71};
    for (int i = 0; i < 50; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand right = tripod_stand(&tripod, true), wrong = believed(&tripod, 60);
        struct aim_target target;
        struct advice advice, off;
        double ra, dec, v[3], x, y;
        wcs_radec(&ra, &dec, &right.wcs, -3000, 2500);
        aim_target_radec(&target, ra, dec);
        advice_find(&advice, &right, NULL, &target, &(struct advice_wish){0});
        advice_find(&off, &wrong, NULL, &target, &(struct advice_wish){0});
        move_levelled(&tripod, &off.move);
        struct wcs after = tripod_wcs(&tripod, 0);
        vector_from_radec(v, ra, dec);
        ck_assert(wcs_pixel(&x, &y, &after, v));
        double missed_deg = hypot(x - 2999.5, y - 1999.5) * 3.05 / 3600;
        assert_near(advice.minute_deg, missed_deg, 0.01 * missed_deg + 1e-3, "deg");
    }
}
END_TEST

START_TEST(a_star_to_move_is_found)
{
    struct random random = {73};
    struct tripod tripod = tripod_anywhere(&random);
    struct stand stand = tripod_stand(&tripod, true);
    struct object named = {.id = "Named", .other_names = "", .common_names = ""};
    struct cue_star star[4] = {{.mag = 4}, {.mag = 5}, {.mag = 3}, {.mag = 6}};
    const double place[4][2] = {{5000, 3000}, {4000, 2500}, {200, 200}, {4400, 2520}};
    struct head_axes axes;
    struct head_move move;
    struct cue cue;
    char text[300];
    for (int i = 0; i < 4; i++) {
        star[i].x = place[i][0];
        star[i].y = place[i][1];
        wcs_direction(star[i].v, &stand.wcs, star[i].x, star[i].y);
    }
    star[0].object = &named;
    /* Right and down, so that the named star goes to about where the second one is. */
    head_axes_of_camera(&axes, &stand.view);
    head_turn(&move, &axes, 1000 * 3.05 / 3600, -500 * 3.05 / 3600);
    ck_assert(cue_find(&cue, star, 4, &stand, move.turn));
    ck_assert(cue.star == &star[0] && cue.mark == &star[1]);
    assert_near(cue.to_x, 4000, 60, "px"); /* the lens bends */
    assert_near(cue.to_y, 2500, 60, "px");
    advice_write_cue(text, sizeof text, &cue, &stand.wcs);
    ck_assert_str_eq(
        text,
        "Named (83 % across, 75 % down) should go to where the star of magnitude 5.0 (67 % across, "
        "63 % down) is now");
    ck_assert(cue_find(&cue, star, 1, &stand, move.turn) && !cue.mark);
    advice_write_cue(text, sizeof text, &cue, &stand.wcs);
    ck_assert_str_eq(text, "Named (83 % across, 75 % down) should go to 67 % across, 63 % down");
    head_turn(&move, &axes, 8, 0); /* more than a picture's width */
    ck_assert(!cue_find(&cue, star, 4, &stand, move.turn));
}
END_TEST

START_TEST(the_sun_is_kept_out_of_the_way)
{
    struct random random = {75};
    struct tripod tripod = tripod_anywhere(&random);
    struct sun_moon_position sun;
    tripod.place.latitude_deg = 50;
    ck_assert(sun_moon_from_place(&sun, THE_SUN, &tripod.place, tripod.utc));
    tripod.azimuth_deg = sun.azimuth_deg - 40;
    tripod.altitude_deg = 20;
    struct stand stand = tripod_stand(&tripod, true);
    struct head_axes axes;
    struct head_move move;
    struct sun_guard guard;
    double seen[3], target[3], v[3];
    /* To the other side of the Sun: the way passes above or below it. */
    horizon_vector(seen, sun.azimuth_deg + 40, 20);
    ground_to_sky(target, &stand.ground, seen, 0);
    head_axes(&axes, &(struct head){0}, &stand.view);
    head_reach(&move, &axes, &stand.view, seen);
    ck_assert(sun_guard_measure(&guard, &stand, &axes, &move, target));
    assert_near(guard.altitude_deg, sun.altitude_deg, 1e-9, "deg");
    horizon_vector(v, sun.azimuth_deg, sun.altitude_deg);
    assert_near(guard.target_deg, vector_angle_deg(seen, v), 1e-3, "deg");
    assert_near(guard.way_deg, fabs(sun.altitude_deg - 20), 0.5, "deg");
}
END_TEST

/* A ball head is turned about the camera's own axes. Low in the sky the air lifts the target and
 * the camera's line of sight unequally: at 3 and 9 degrees by 0.24 and 0.10 (Bennett 1982, from
 * memory). The renderer's picture after the turns has the target in its middle. */
START_TEST(a_ball_head_lands_through_the_air)
{
    struct random random = {67};
    for (int i = 0; i < 100; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        tripod.altitude_deg = random_between(&random, 8, 16);
        tripod.lens.mirrored = i % 2;
        struct stand stand = tripod_stand(&tripod, true);
        struct aim_target target;
        struct advice advice;
        struct view view = stand.view;
        double ra, dec, v[3], down[3], x, y;
        horizon_vector(down, tripod.azimuth_deg + random_between(&random, -5, 5),
                       random_between(&random, 3, 5));
        ground_to_sky(v, &stand.ground, down, 0);
        vector_to_radec(&ra, &dec, v);
        aim_target_radec(&target, ra, dec);
        advice_find(&advice, &stand, NULL, &target, &(struct advice_wish){0});
        double right = tripod.lens.mirrored ? -advice.aim.right_deg : advice.aim.right_deg;
        double old_right[3], old_up[3];
        memcpy(old_right, view.right, sizeof old_right);
        memcpy(old_up, view.up, sizeof old_up);
        double *side[3] = {view.right, view.up, view.out};
        for (int k = 0; k < 3; k++) {
            vector_turn(side[k], old_right, advice.aim.up_deg);
            vector_turn(side[k], old_up, -right);
        }
        view_angles(&tripod.azimuth_deg, &tripod.altitude_deg, &tripod.roll_deg, &view);
        struct wcs after = tripod_wcs(&tripod, 0);
        ck_assert(wcs_pixel(&x, &y, &after, v));
        assert_near(hypot(x - 2999.5, y - 1999.5), 0, 1, "px");
    }
}
END_TEST

/* What the hand is told is the same whether the file is mirrored or not. */
START_TEST(a_mirrored_picture_turns_the_same_way)
{
    struct random random = {62};
    struct tripod tripod = tripod_anywhere(&random);
    char move[2][80], along[2][120];
    for (int mirrored = 0; mirrored < 2; mirrored++) {
        tripod.lens.mirrored = mirrored;
        struct stand stand = tripod_stand(&tripod, false);
        struct aim_target target;
        struct advice advice;
        double ra, dec;
        wcs_radec(&ra, &dec, &stand.wcs, mirrored ? 600 : 5400, 2000);
        aim_target_radec(&target, ra, dec);
        advice_find(&advice, &stand, NULL, &target, &usual);
        advice_write_move(move[mirrored], sizeof move[0], &advice, &advice.move);
        aim_write_move(along[mirrored], sizeof along[0], &advice.aim);
    }
    ck_assert_str_eq(move[0], move[1]);
    ck_assert_str_eq(along[0], along[1]);
    ck_assert_msg(strstr(move[0], "right") && strstr(along[0], "right"), "%s; %s", move[0],
                  along[0]);
}
END_TEST

Suite *advice_suite(void)
{
    Suite *suite = suite_create("advice");
    TCase *tests = tcase_create("advice");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, a_levelled_tripod_lands_on_the_target);
    tcase_add_test(tests, without_a_place_the_moves_are_the_pictures);
    tcase_add_test(tests, moves_read_well);
    tcase_add_test(tests, a_batch_is_led);
    tcase_add_test(tests, a_star_to_move_is_found);
    tcase_add_test(tests, the_sun_is_kept_out_of_the_way);
    tcase_add_test(tests, a_mirrored_picture_turns_the_same_way);
    tcase_add_test(tests, a_ball_head_lands_through_the_air);
    suite_add_tcase(suite, tests);
    TCase *clock = tcase_create("clock");
    tcase_set_timeout(clock, 60);
    tcase_add_test(clock, a_level_camera_tells_the_clock);
    tcase_add_test(clock, a_level_head_tells_the_clock);
    tcase_add_test(clock, a_minute_costs_what_it_costs);
    suite_add_tcase(suite, clock);
    return suite;
}
