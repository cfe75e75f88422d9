/* Long exposures from a tripod: arcs, the turn that they share, and where they were taken. */
#include "match/arc_turn.h"

#include "base/random.h"
#include "base/units.h"
#include "demo/render.h"
#include "index_fixture.h"
#include "match/solve.h"
#include "near.h"

#include <math.h>
#include <stdlib.h>

Suite *arcs_suite(void);

static struct frame frame;
static struct rendering rendering;
static struct arc_list arcs;
static bool *is_whole;

static void free_all(void)
{
    rendering_free(&rendering);
    frame_free(&frame);
    arc_list_free(&arcs);
    free(is_whole);
    is_whole = NULL;
}

/* 1500 x 1000 px on a full frame in a dark place. */
static void take_with(double focal_mm, double dec_deg, double exposure_s)
{
    struct render_options o = render_options_typical();
    struct error err = {0};
    o.camera.focal_mm = focal_mm;
    o.camera.pixel_um = 24;
    o.camera.f_number = focal_mm > 100 ? 2.8 : 5.6;
    o.camera.sky_mag = 20.5;
    o.camera.exposure_s = exposure_s;
    o.lens.width = 1500;
    o.lens.height = 1000;
    o.sensor.e_per_adu = camera_sky_e(&o.camera) / (0.2 * SENSOR_WHITE);
    o.ra_deg = 70;
    o.dec_deg = dec_deg;
    o.up_angle_deg = 33;
    free_all();
    ck_assert_int_eq(render(&rendering, fixture_sky(), NULL, &o, &err), 0);
    ck_assert_int_eq(rendering_to_frame(&frame, &rendering, &err), 0);
}

/* 65 degrees wide. */
static void take(double dec_deg, double exposure_s)
{
    take_with(28, dec_deg, exposure_s);
}

static void find(struct arc_turn *turn)
{
    struct error err = {0};
    ck_assert_int_eq(arcs_find(&arcs, &frame, &err), 0);
    is_whole = calloc((size_t)arcs.count + 1, sizeof *is_whole);
    ck_assert(is_whole);
    ck_assert_int_eq(arc_turn_find(turn, is_whole, &arcs, &err), 0);
}

static const struct {
    double dec_deg, exposure_s;
} taken[] = {{85, 1500}, {-50, 600}, {10, 3000}};

START_TEST(arcs_share_a_turn_about_the_pole)
{
    struct arc_turn turn;
    double seconds, error_s;
    take(taken[_i].dec_deg, taken[_i].exposure_s);
    find(&turn);
    ck_assert_int_ge(turn.whole, 30);
    ck_assert(arc_turn_is_plain(&turn));
    /* 360 degrees a sidereal day of 86164.1 s (handbook). */
    assert_near(turn.turn_deg * 86164.1 / 360, taken[_i].exposure_s, 0.1 * taken[_i].exposure_s,
                "s");
    ck_assert(arc_turn_seconds(&seconds, &error_s, &arcs, is_whole, &rendering.truth));
    assert_near(seconds, taken[_i].exposure_s, fmax(3 * error_s, 0.015 * taken[_i].exposure_s),
                "s");
    struct wcs turned = rendering.truth;
    wcs_turn(&turned, 60);
    ck_assert(!arc_turn_seconds(&seconds, &error_s, &arcs, is_whole, &turned));
}
END_TEST

START_TEST(trails_are_solved)
{
    struct solution solution = {0};
    struct star_list list = {0};
    struct solve_times times;
    struct error err = {0};
    const struct solve_options nothing = {0};
    double x, y, v[3];
    take(taken[_i].dec_deg, taken[_i].exposure_s);
    ck_assert_int_eq(
        solve_frame(&solution, &list, &times, &frame, fixture_bundled(), &nothing, &err), 0);
    ck_assert_msg(solution.solved, "%s", solution.why);
    /* Near the pole arcs are short enough to be taken for stars. */
    ck_assert(solution.trails_s > 0 || fabs(taken[_i].dec_deg) > 45);
    wcs_direction(v, &rendering.truth, 749.5, 499.5);
    ck_assert(wcs_pixel(&x, &y, &solution.wcs, v));
    assert_near(hypot(x - 749.5, y - 499.5), 0, 1, "px");
    solution_free(&solution);
    star_list_free(&list);
}
END_TEST

/* 20 degrees wide, through which the sky moves by 10: few arcs are whole. */
START_TEST(long_arcs_are_solved_by_their_ends)
{
    struct solution solution = {0};
    struct star_list list = {0};
    struct solve_times times;
    struct error err = {0};
    const struct solve_options nothing = {0};
    double x, y, v[3];
    take_with(100, 40, 3000);
    ck_assert_int_eq(
        solve_frame(&solution, &list, &times, &frame, fixture_bundled(), &nothing, &err), 0);
    ck_assert_msg(solution.solved, "%s", solution.why);
    assert_near(solution.trails_s, 3000, fmax(4 * solution.trails_error_s, 10), "s");
    wcs_direction(v, &rendering.truth, 749.5, 499.5);
    ck_assert(wcs_pixel(&x, &y, &solution.wcs, v));
    assert_near(hypot(x - 749.5, y - 499.5), 0, 1, "px");
    /* Stars are where they stood in mid-exposure. */
    for (int i = 0; i < solution.matched; i++) {
        const struct match_pair *pair = &solution.pair[i];
        index_star_vector(v, &fixture_bundled()->star[pair->catalogue]);
        ck_assert(wcs_pixel(&x, &y, &rendering.truth, v));
        assert_near(list.star[pair->star].x, x, 4, "px");
        assert_near(list.star[pair->star].y, y, 4, "px");
    }
    solution_free(&solution);
    star_list_free(&list);
}
END_TEST

/* Lines that lie anyhow: the sky did not turn there. */
START_TEST(lines_that_lie_anyhow_share_no_turn)
{
    struct random random = {3};
    struct arc_turn turn;
    struct error err = {0};
    free_all();
    arcs = (struct arc_list){.width = 1500, .height = 1000, .error_px = 0.7};
    arcs.arc = calloc(300, sizeof *arcs.arc);
    is_whole = calloc(300, sizeof *is_whole);
    ck_assert(arcs.arc && is_whole);
    for (arcs.count = 0; arcs.count < 300; arcs.count++) {
        struct arc *a = &arcs.arc[arcs.count];
        double angle = random_between(&random, 0, 360) * RAD_PER_DEG;
        a->length = random_between(&random, 20, 200);
        a->light = random_between(&random, 100, 1000);
        for (int k = 0; k < 2; k++) {
            a->x[k] = (k ? a->x[0] + a->length * cos(angle) : random_between(&random, 0, 1500));
            a->y[k] = (k ? a->y[0] + a->length * sin(angle) : random_between(&random, 0, 1000));
        }
    }
    ck_assert_int_eq(arc_turn_find(&turn, is_whole, &arcs, &err), 0);
    ck_assert_int_eq(turn.whole, 0);
    ck_assert(!arc_turn_is_plain(&turn));
    arcs.count = 0;
    ck_assert_int_eq(arc_turn_find(&turn, is_whole, &arcs, &err), 0);
    ck_assert_int_eq(turn.whole, 0);
}
END_TEST

Suite *arcs_suite(void)
{
    Suite *suite = suite_create("arcs");
    TCase *tests = tcase_create("trails");
    tcase_set_timeout(tests, 120);
    tcase_add_unchecked_fixture(tests, fixture_open_bundled, fixture_close_bundled);
    tcase_add_checked_fixture(tests, NULL, free_all);
    tcase_add_loop_test(tests, arcs_share_a_turn_about_the_pole, 0, 3);
    tcase_add_loop_test(tests, trails_are_solved, 0, 3);
    tcase_add_test(tests, long_arcs_are_solved_by_their_ends);
    tcase_add_test(tests, lines_that_lie_anyhow_share_no_turn);
    suite_add_tcase(suite, tests);
    return suite;
}
