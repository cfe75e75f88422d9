/* The sky drifts through the picture of a fixed tripod: against the renderer's pictures at later
 * times, which come from ERFA's whole chain each time. */
#include "near.h"
#include "stand_fixture.h"
#include "tripod/drift.h"
#include "tripod/lead.h"

#include <time.h>

Suite *drift_suite(void);

START_TEST(a_camera_stands_where_it_was_put)
{
    struct random random = {3};
    for (int i = 0; i < 100; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand stand = tripod_stand(&tripod, true);
        double azimuth, altitude, roll;
        view_angles(&azimuth, &altitude, &roll, &stand.view);
        /* The renderer's zenith angle is a difference over 0.02 degrees. */
        assert_near_turn(azimuth, tripod.azimuth_deg, 1e-4);
        assert_near(altitude, tripod.altitude_deg, 1e-4, "deg");
        assert_near(roll, tripod.roll_deg, 1e-2, "deg");
        struct view view;
        view_from_angles(&view, azimuth, altitude, roll);
        assert_near(vector_angle_deg(view.up, stand.view.up), 0, 1e-9, "deg");
        assert_near(vector_angle_deg(view.right, stand.view.right), 0, 1e-9, "deg");
        /* Mirrored, the photographer's right stays where it is. */
        tripod.lens.mirrored = true;
        stand = tripod_stand(&tripod, true);
        assert_near(vector_angle_deg(view.right, stand.view.right), 0, 1e-2, "deg");
    }
}
END_TEST

/* Stars anywhere in the picture after 100 frames of 3 seconds: within 1 px. */
static void check_prediction(bool with_place)
{
    struct random random = {5};
    double worst = 0;
    for (int i = 0; i < 500; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand stand = tripod_stand(&tripod, with_place);
        struct wcs later = tripod_wcs(&tripod, 300);
        double v[3], x, y, x2 = random_between(&random, 0, 5999),
                           y2 = random_between(&random, 0, 3999);
        wcs_direction(v, &later, x2, y2);
        ck_assert(stand_pixel(&x, &y, &stand, NULL, v, 300));
        double off = hypot(x - x2, y - y2);
        worst = off > worst || isnan(off) ? off : worst;
    }
    assert_near(worst, 0, 1, "px");
}

START_TEST(stars_drift_as_predicted_with_the_place)
{
    check_prediction(true);
}
END_TEST

START_TEST(stars_drift_as_predicted_without_the_place)
{
    check_prediction(false);
}
END_TEST

START_TEST(refraction_does_not_count_for_a_camera_that_stands)
{
    /* It lifts whatever stands at an altitude by the same, sooner or later: the same pixel. Once
     * the camera is tilted it does: what is seen at 10.16 degrees is lifted by 5.3', at 5.16
     * by 9.6' (Bennett 1982, J. Navigation 35, 255, from memory; ERFA's model is rougher so low).
     */
    struct tripod tripod = {.place = {.latitude_deg = 50, .longitude_deg = 10},
                            .azimuth_deg = 90,
                            .altitude_deg = 10,
                            .lens = {.scale_arcsec = 3, .width = 6000, .height = 4000}};
    ck_assert(time_read(&tripod.utc, "2026-02-24T19:30:00"));
    struct stand vacuum = tripod_stand(&tripod, true);
    tripod.place.pressure_hpa = 1013.25;
    tripod.place.temperature_c = 10;
    struct stand air = vacuum;
    ck_assert(ground_make(&air.ground, &tripod.place, tripod.utc));
    double v[3], x, y, air_x, air_y, tilt[3][3];
    wcs_direction(v, &vacuum.wcs, 2999.5, 1999.5);
    ck_assert(stand_pixel(&x, &y, &vacuum, NULL, v, 600));
    ck_assert(stand_pixel(&air_x, &air_y, &air, NULL, v, 600));
    assert_near(air_x, x, 0.05, "px");
    assert_near(air_y, y, 0.05, "px");
    ck_assert(y < 100); /* 600 s * 15 arcsec * cos(latitude) = 1.6 degrees, 1900 px */
    matrix_turn(tilt, vacuum.view.right, -5);
    wcs_direction(v, &vacuum.wcs, 2999.5, 1999.5 + 5 * 1200);
    ck_assert(stand_pixel(&x, &y, &vacuum, tilt, v, 0));
    ck_assert(stand_pixel(&air_x, &air_y, &air, tilt, v, 0));
    assert_near((y - air_y) * 3 / 60, 9.6 - 5.3, 0.4, "arcmin");
}
END_TEST

/* When the target leaves, counted by hand: step by step with the true pictures. */
START_TEST(the_target_leaves_when_and_where_foreseen)
{
    struct random random = {7};
    int edges[4] = {0};
    for (int i = 0; i < 40; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand stand = tripod_stand(&tripod, i % 2);
        struct sky_ellipse target = {.major_deg = 0.4, .minor_deg = 0.4};
        struct drift drift;
        double margin = 200;
        wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, random_between(&random, 1500, 4500),
                  random_between(&random, 1300, 2700));
        ck_assert(drift_measure(&drift, &stand, NULL, &target, margin, 0, 86400));
        ck_assert(drift.inside);
        if (!drift.changes || drift.change_s > 3600) {
            continue;
        }
        for (int after = 0; after < 2; after++) {
            double when = drift.change_s + (after ? 2 : -2), reach = 0;
            struct wcs then = tripod_wcs(&tripod, when);
            double beyond[4] = {0}; /* in the order of enum frame_edge */
            for (int k = 0; k < 360; k++) {
                double v[3], x, y;
                ellipse_direction(v, &target, 1, k);
                ck_assert(wcs_pixel(&x, &y, &then, v));
                beyond[0] = fmax(beyond[0], margin - 0.5 - x);
                beyond[1] = fmax(beyond[1], x - (5999.5 - margin));
                beyond[2] = fmax(beyond[2], margin - 0.5 - y);
                beyond[3] = fmax(beyond[3], y - (3999.5 - margin));
            }
            for (int k = 0; k < 4; k++) {
                reach = fmax(reach, beyond[k]);
            }
            /* In 2 s it moves by up to 10 px; where it hardly moves, or the two edges are near,
             * the test says nothing. */
            if (hypot(drift.right_px_s, drift.up_px_s) > 1) {
                ck_assert_msg(after ? reach > 0 : reach <= 0, "%d: %g px over after %g s", i, reach,
                              when);
            }
            if (after && reach > 0) {
                ck_assert(beyond[drift.edge] == reach);
                edges[drift.edge]++;
            }
        }
    }
    ck_assert(edges[EDGE_LEFT] && edges[EDGE_RIGHT]);
}
END_TEST

START_TEST(what_comes_in_is_foreseen_too)
{
    /* The other way round: what leaves on one side came in on the other. */
    struct random random = {9};
    struct tripod tripod = tripod_anywhere(&random);
    tripod.place.latitude_deg = 50;
    tripod.azimuth_deg = 180;
    tripod.altitude_deg = 40; /* to the right at 5 px a second */
    tripod.roll_deg = 0;
    struct stand stand = tripod_stand(&tripod, true);
    struct sky_ellipse target = {0};
    struct drift drift;
    wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, -1000, 2000);
    ck_assert(drift_measure(&drift, &stand, NULL, &target, 0, 0, 7200));
    ck_assert(!drift.inside && drift.changes);
    assert_near(drift.right_px_s, 15.041 / 3.05, 0.1, "px/s");
    assert_near(drift.change_s, 1000 / drift.right_px_s, 3, "s");
    ck_assert_int_eq(drift.edge, EDGE_LEFT);
    wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, 7000, 2000);
    ck_assert(drift_measure(&drift, &stand, NULL, &target, 0, 0, 7200));
    ck_assert(!drift.inside && !drift.changes);
    /* At the pole nothing leaves. */
    vector_to_radec(&target.ra_deg, &target.dec_deg, stand.ground.pole);
    tripod.azimuth_deg = 0;
    tripod.altitude_deg = 50;
    stand = tripod_stand(&tripod, true);
    ck_assert(drift_measure(&drift, &stand, NULL, &target, 0, 0, 86400));
    ck_assert(drift.inside && !drift.changes);
}
END_TEST

/* Over 100 frames: the mean within 1 % of the width of the middle, and less spread than if it is
 * centred at the start; counted with the true pictures of the camera after the move, every frame.
 */
/* A line of a log may claim anything: the search must end, with pictures of one row too, and with
 * pixels so small that the sky crosses the picture in a moment. */
START_TEST(no_picture_keeps_the_search_busy)
{
    const struct sky_ellipse target = {.ra_deg = 83.8, .dec_deg = -5.4};
    const int height[] = {1, 4000};
    const double scale[] = {3, 1e-5};
    for (int i = 0; i < 4; i++) {
        struct random random = {8};
        struct tripod tripod = tripod_anywhere(&random);
        tripod.lens =
            (struct lens){.scale_arcsec = scale[i / 2], .width = 6000, .height = height[i % 2]};
        struct stand stand = tripod_stand(&tripod, false);
        struct drift drift;
        clock_t start = clock();
        drift_measure(&drift, &stand, NULL, &target, 0, 0, 4 * 3600.0);
        assert_near((double)(clock() - start) / CLOCKS_PER_SEC, 0, 3, "s");
    }
}
END_TEST

START_TEST(a_lead_centres_the_batch)
{
    struct random random = {11};
    for (int i = 0; i < 60; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand stand = tripod_stand(&tripod, i % 3 > 0);
        struct batch batch = {30, 30 + 99 * 3};
        struct sky_ellipse target = {.major_deg = 0.3, .minor_deg = 0.3};
        struct head_axes axes;
        struct lead lead, centred;
        struct head_move move;
        double start[3], v[3];
        wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, random_between(&random, -3000, 9000),
                  random_between(&random, -3000, 7000));
        if (i % 3 == 1) {
            head_axes(&axes, &(struct head){0}, &stand.view);
        } else {
            head_axes_of_camera(&axes, &stand.view);
        }
        ck_assert(lead_find(&lead, &stand, &axes, &target, &batch));
        vector_from_radec(v, target.ra_deg, target.dec_deg);
        ground_from_sky(start, &stand.ground, v, batch.first_s);
        head_reach(&move, &axes, &stand.view, start);
        ck_assert(lead_of_move(&centred, &stand, &move, &target, &batch));
        ck_assert_msg(lead.spread_px < centred.spread_px, "%g px, centred at the start %g",
                      lead.spread_px, centred.spread_px);
        ck_assert(lead.mean_px < 1);
        assert_near(hypot(centred.right_part, centred.up_part), 0, 1e-6, "of the picture");

        if (i % 3 != 1) {
            continue; /* the renderer points by azimuth and altitude */
        }
        struct view after;
        view_turn(&after, &stand.view, lead.move.turn);
        view_angles(&tripod.azimuth_deg, &tripod.altitude_deg, &tripod.roll_deg, &after);
        double mean_x = 0, mean_y = 0, squares = 0;
        for (int k = 0; k < 100; k++) {
            struct wcs then = tripod_wcs(&tripod, 30 + 3 * k);
            double x, y;
            ck_assert(wcs_pixel(&x, &y, &then, v));
            mean_x += (x - 2999.5) / 100;
            mean_y += (y - 1999.5) / 100;
            squares += (pow(x - 2999.5, 2) + pow(y - 1999.5, 2)) / 100;
        }
        ck_assert_msg(hypot(mean_x, mean_y) < 0.01 * 6000, "%g px", hypot(mean_x, mean_y));
        /* Eleven moments instead of 100 frames: 1.4 % in the spread. */
        assert_near(sqrt(squares) / lead.spread_px, 1, 0.02, "of what is told");
    }
}
END_TEST

START_TEST(the_longest_batch_is_the_longest)
{
    struct random random = {13};
    for (int i = 0; i < 20; i++) {
        struct tripod tripod = tripod_anywhere(&random);
        struct stand stand = tripod_stand(&tripod, true);
        struct sky_ellipse target = {.major_deg = 0.5, .minor_deg = 0.5};
        struct head_axes axes;
        struct lead lead, longer;
        wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, 1000, 3000);
        head_axes(&axes, &(struct head){0}, &stand.view);
        int frames = lead_longest(&lead, &stand, &axes, &target, 200, 20, 3, 100000);
        ck_assert(frames > 100);
        if (frames == 100000) {
            continue;
        }
        struct batch batch = {20, 20 + 3.0 * (frames - 1)};
        ck_assert(drift_is_inside(&stand, lead.move.turn, &target, 200, batch.first_s));
        ck_assert(drift_is_inside(&stand, lead.move.turn, &target, 200, batch.last_s));
        batch.last_s += 3;
        ck_assert(lead_find(&longer, &stand, &axes, &target, &batch));
        ck_assert(!drift_is_inside(&stand, longer.move.turn, &target, 200, batch.first_s) ||
                  !drift_is_inside(&stand, longer.move.turn, &target, 200, batch.last_s));
    }
    struct tripod tripod = tripod_anywhere(&random);
    struct stand stand = tripod_stand(&tripod, true);
    struct sky_ellipse target = {.major_deg = 3, .minor_deg = 3};
    struct head_axes axes;
    struct lead lead;
    wcs_radec(&target.ra_deg, &target.dec_deg, &stand.wcs, 1000, 3000);
    head_axes(&axes, &(struct head){0}, &stand.view);
    ck_assert_int_eq(lead_longest(&lead, &stand, &axes, &target, 0, 0, 3, 1000), 0);
}
END_TEST

Suite *drift_suite(void)
{
    Suite *suite = suite_create("drift");
    TCase *drift = tcase_create("drift");
    tcase_add_test(drift, a_camera_stands_where_it_was_put);
    tcase_add_test(drift, stars_drift_as_predicted_with_the_place);
    tcase_add_test(drift, stars_drift_as_predicted_without_the_place);
    tcase_add_test(drift, refraction_does_not_count_for_a_camera_that_stands);
    tcase_add_test(drift, the_target_leaves_when_and_where_foreseen);
    tcase_add_test(drift, what_comes_in_is_foreseen_too);
    tcase_add_test(drift, no_picture_keeps_the_search_busy);
    suite_add_tcase(suite, drift);
    TCase *lead = tcase_create("lead");
    tcase_add_test(lead, a_lead_centres_the_batch);
    tcase_add_test(lead, the_longest_batch_is_the_longest);
    suite_add_tcase(suite, lead);
    return suite;
}
