/* The way to a target in frames. tests/outside/check_way.py holds its places against astropy. */
#include "base/units.h"
#include "near.h"
#include "objects_fixture.h"
#include "plan/plan_words.h"
#include "plan/star_steps.h"
#include "sky/vector.h"

#include <check.h>
#include <math.h>
#include <string.h>

Suite *star_steps_suite(void);

static const struct place garden = {.latitude_deg = 50, .longitude_deg = 10};

static struct utc evening(void)
{
    struct utc utc;
    ck_assert(time_read(&utc, "2026-01-18T20:00:00Z"));
    return utc;
}

static struct approach way_to(const char *name)
{
    struct approach way;
    const struct object *object = objects_find(&objects, name);
    ck_assert_msg(object != NULL, "%s", name);
    ck_assert(
        approach_find(&way, &objects, &garden, NULL, evening(), object->ra_deg, object->dec_deg));
    ck_assert(way.found);
    return way;
}

/* A pan of 10 degrees, 60 degrees up, moves the picture by 5: a frame width of 5 degrees (spherical
 * trigonometry). */
START_TEST(moves_in_frames)
{
    const struct approach_stop from = {.altitude_deg = 60};
    const struct approach_stop to = {.altitude_deg = 66, .pan_deg = -10, .tilt_deg = 6};
    const struct step_frame frame = {5, 4};
    struct frame_move move;
    char text[100];
    frame_move_find(&move, &from, &to, &frame);
    assert_near(move.right_widths, -1, 1e-9, "widths");
    assert_near(move.up_heights, 1.5, 1e-9, "heights");
    plan_write_frames(text, sizeof text, &move);
    ck_assert_str_eq(text, "1 frame width left, then 1½ heights up");
}
END_TEST

START_TEST(words_for_moves)
{
    static const struct {
        double right, up;
        const char *words;
    } samples[] = {
        {2.02, 0.49, "2 frame widths right, then ½ of a height up"},
        {0.26, 0, "¼ of a frame width right"},
        {0.1, -0.76, "¾ of a frame height down"},
        {0.1, 0.1, ""},
        {-3.3, -1.26, "3¼ frame widths left, then 1¼ heights down"},
    };
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        const struct frame_move move = {samples[i].right, samples[i].up};
        char text[100];
        plan_write_frames(text, sizeof text, &move);
        ck_assert_str_eq(text, samples[i].words);
    }
}
END_TEST

/* By angles between ICRS places alone, which refraction changes by little so high up: each star is
 * as far from the one before as the parts of the frame say, and both fit into it. */
START_TEST(each_star_shares_a_frame_with_the_one_before)
{
    static const char *const names[] = {"M 33", "M 31", "M 35", "M 81", "M 44", "M 42"};
    int found = 0;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const struct approach way = way_to(names[i]);
        const struct object *target = objects_find(&objects, names[i]), *last = way.stop[0].star;
        const struct step_frame frame = {6.4, 4.2};
        struct star_steps steps;
        star_steps_find(&steps, &way, &objects, &garden, NULL, evening(), &frame);
        found += steps.steps > 0;
        for (int k = 0; k < steps.steps; k++) {
            const struct object *next = steps.step[k].star ? steps.step[k].star : target;
            const struct frame_move *at = &steps.step[k].from_before;
            double away = radec_angle_deg(last->ra_deg, last->dec_deg, next->ra_deg, next->dec_deg);
            assert_near(away, hypot(6.4 * at->right_widths, 4.2 * at->up_heights),
                        0.02 * away + 0.03, names[i]);
            ck_assert(fabs(at->right_widths) <= 0.85 && fabs(at->up_heights) <= 0.85);
            ck_assert((steps.step[k].star == NULL) == (k == steps.steps - 1));
            ck_assert(next == target || next->magnitude <= 6);
            last = next;
        }
    }
    ck_assert_int_ge(found, 5);
}
END_TEST

START_TEST(a_target_beside_the_start_is_one_step)
{
    struct star_steps steps;
    const struct step_frame wide = {60, 40}, none = {0.5, 0.3};
    const struct approach way = way_to("M 31"), empty = {0};
    star_steps_find(&steps, &way, &objects, &garden, NULL, evening(), &wide);
    ck_assert_int_eq(steps.steps, 1);
    ck_assert_ptr_null(steps.step[0].star);
    star_steps_find(&steps, &way, &objects, &garden, NULL, evening(), &none);
    ck_assert_int_eq(steps.steps, 0);
    star_steps_find(&steps, &empty, &objects, &garden, NULL, evening(), &wide);
    ck_assert_int_eq(steps.steps, 0);
}
END_TEST

/* ---- limits, with stars of the test's own ---- */

enum { OWN_STARS = 8 };

static struct object own[OWN_STARS];
static int owns;

/* A star of that magnitude as seen from the garden. */
static void put_star(double azimuth_deg, double altitude_deg, double magnitude)
{
    const struct place air = approach_place(&garden);
    struct object *star = &own[owns++];
    *star = (struct object){.id = "star", .magnitude = magnitude};
    ck_assert(horizon_to_radec(&star->ra_deg, &star->dec_deg, &air, evening(), azimuth_deg,
                               altitude_deg));
}

/* Steps from one place to another over these stars, in a frame of 9.5 x 9.5 degrees. */
static int steps_between(double from_azimuth, double from_altitude, double to_azimuth,
                         double to_altitude)
{
    static const struct object start = {.id = "start"};
    const struct objects sky = {.object = own, .count = owns};
    const struct step_frame frame = {9.5, 9.5};
    const struct approach way = {
        .found = true,
        .stop = {{.star = &start, .azimuth_deg = from_azimuth, .altitude_deg = from_altitude},
                 {.azimuth_deg = to_azimuth, .altitude_deg = to_altitude}},
        .stops = 2};
    struct star_steps steps;
    star_steps_find(&steps, &way, &sky, &garden, NULL, evening(), &frame);
    owns = 0;
    return steps.steps;
}

START_TEST(stars_down_to_magnitude_6_are_used)
{
    put_star(180, 37, 5.7);
    ck_assert_int_eq(steps_between(180, 30, 180, 44), 2);
    put_star(180, 37, 6.3);
    ck_assert_int_eq(steps_between(180, 30, 180, 44), 0);
}
END_TEST

/* tan(d) is 0.8 of the frame's 2 tan(9.5 / 2) at 7.57 degrees. */
START_TEST(two_stars_share_a_frame_with_room_at_its_edges)
{
    put_star(180, 37.2, 2);
    ck_assert_int_eq(steps_between(180, 30, 180, 44.4), 2);
    put_star(180, 37.9, 2);
    ck_assert_int_eq(steps_between(180, 30, 180, 45.8), 0);
}
END_TEST

START_TEST(stars_below_5_degrees_are_left_out)
{
    put_star(187, 5.6, 2);
    ck_assert_int_eq(steps_between(180, 5.6, 194, 5.6), 2);
    put_star(187, 4.4, 2);
    ck_assert_int_eq(steps_between(180, 5.6, 194, 5.6), 0);
}
END_TEST

/* Thirty degrees in four steps over three faint stars, or in five over four bright ones. Two
 * magnitudes are added to each: three of 5.9 cost 23.7 and a step less, four of -1 cost 4; of -1.4,
 * against three of 6, 2.4 against 24. */
START_TEST(a_step_costs_twenty_magnitudes)
{
    for (int brighter = 0; brighter < 2; brighter++) {
        for (int i = 1; i < 4; i++) {
            put_star(180, 20 + 7.5 * i, brighter ? 6 : 5.9);
        }
        for (int i = 1; i < 5; i++) {
            put_star(180, 20 + 6 * i, brighter ? -1.4 : -1);
        }
        ck_assert_int_eq(steps_between(180, 20, 180, 50), brighter ? 5 : 4);
    }
}
END_TEST

Suite *star_steps_suite(void)
{
    Suite *s = suite_create("star_steps");
    TCase *c = tcase_create("steps");
    tcase_add_unchecked_fixture(c, objects_fixture_load, objects_fixture_free);
    tcase_add_test(c, moves_in_frames);
    tcase_add_test(c, words_for_moves);
    tcase_add_test(c, each_star_shares_a_frame_with_the_one_before);
    tcase_add_test(c, a_target_beside_the_start_is_one_step);
    tcase_add_test(c, stars_down_to_magnitude_6_are_used);
    tcase_add_test(c, two_stars_share_a_frame_with_room_at_its_edges);
    tcase_add_test(c, stars_below_5_degrees_are_left_out);
    tcase_add_test(c, a_step_costs_twenty_magnitudes);
    suite_add_tcase(s, c);
    return s;
}
