/* Where trails are placed, against what photons allow (tests/bench/star_bound.h has the formula and
 * its source). */
#include "stars/trail_fit.h"

#include "base/random.h"
#include "near.h"
#include "tests/bench/star_bound.h"

#include <math.h>

Suite *trail_fit_suite(void);

enum { WIDTH = 80, HEIGHT = 70, FRAMES = 200 };

static float value[WIDTH * HEIGHT];
static const struct plane plane = {.width = WIDTH, .height = HEIGHT, .bin = 1, .value = value};

static const struct {
    double length, angle_deg, electrons;
} cases[] = {
    {10, 0, 3e3}, {10, 37, 3e3}, {20, -70, 6e3}, {40, 90, 1e4}, {40, 15, 1e4}, {40, 120, 1e5},
};

/* The trail's light and that of the sky, as the sensor counts it. */
static void expose(const struct bound_star *s, struct random *dice)
{
    double slope[2];
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            double light = s->electrons * bound_profile(slope, s, x - s->x, y - s->y);
            value[y * WIDTH + x] =
                (float)(random_poisson(dice, light + s->sky_e) + s->read_e * random_normal(dice));
        }
    }
}

static struct bound_star make_star(int number, struct random *dice)
{
    double angle = cases[number].angle_deg * RAD_PER_DEG, length = cases[number].length;
    return (struct bound_star){.x = 40 + random_uniform(dice),
                               .y = 35 + random_uniform(dice),
                               .trail_x = length * cos(angle),
                               .trail_y = length * sin(angle),
                               .sigma = 1.3,
                               .electrons = cases[number].electrons,
                               .sky_e = 100,
                               .read_e = 5,
                               .clip_e = 1e9,
                               .exposures = 1};
}

/* The trail as its moments tell it, with an error of some per cent in them. */
static struct trail guess_trail(const struct bound_star *s, struct random *dice)
{
    double drawn = random_between(dice, 0.9, 1.1), round = s->sigma * s->sigma + 1 / 12.0;
    struct profile moments = {.xx = drawn * s->trail_x * s->trail_x / 12 + round,
                              .xy = drawn * s->trail_x * s->trail_y / 12,
                              .yy = drawn * s->trail_y * s->trail_y / 12 + round};
    struct trail trail;
    ck_assert(trail_of_moments(&trail, &moments));
    assert_near(trail.length, sqrt(drawn) * hypot(s->trail_x, s->trail_y), 0.01, "px");
    return trail;
}

START_TEST(nearly_as_exact_as_photons_allow)
{
    struct random dice = {(uint64_t)_i + 1};
    double square = 0, allowed = 0, bias_x = 0, bias_y = 0;
    for (int i = 0; i < FRAMES; i++) {
        struct bound_star star = make_star(_i, &dice);
        expose(&star, &dice);
        struct trail trail = guess_trail(&star, &dice);
        double x = star.x + random_between(&dice, -1, 1), y = star.y + random_between(&dice, -1, 1);
        trail_fit(&x, &y, &plane, &trail, star.sky_e);
        square += (x - star.x) * (x - star.x) + (y - star.y) * (y - star.y);
        allowed += bound_variance(&star);
        bias_x += (x - star.x) / FRAMES;
        bias_y += (y - star.y) / FRAMES;
    }
    /* The light of a bright trail is its own noise, which least squares do not weigh; and the rms
     * of 200 errors is itself uncertain by 5 %, so that it may fall a little short of the bound. */
    double ratio = sqrt(square / allowed);
    ck_assert_msg(ratio > 0.9 && ratio < 1.25, "%g times what photons allow", ratio);
    double error = 4 * sqrt(allowed / FRAMES / FRAMES);
    assert_near(bias_x, 0, error, "px");
    assert_near(bias_y, 0, error, "px");
}
END_TEST

START_TEST(leaves_round_stars_alone)
{
    struct trail trail;
    const struct profile stars = {1.7, 0.1, 1.5}, shaken = {2.6, 0, 1.7};
    ck_assert(!trail_of_moments(&trail, &stars));
    ck_assert(!trail_of_moments(&trail, &shaken));
}
END_TEST

/* Where there is no trail, or none that fits, the place stays as it was. */
START_TEST(stays_when_nothing_fits)
{
    const struct trail trail = {.length = 20, .sigma = 1.3, .along_x = 1};
    double x = 40, y = 35;
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        value[i] = _i == 0 ? 100 : _i == 1 ? (float)NAN : 50;
    }
    trail_fit(&x, &y, &plane, &trail, 100);
    assert_near(x, 40, 0, "px");
    assert_near(y, 35, 0, "px");
}
END_TEST

Suite *trail_fit_suite(void)
{
    Suite *suite = suite_create("trail_fit");
    TCase *cases_of_light = tcase_create("trails");
    tcase_add_loop_test(cases_of_light, nearly_as_exact_as_photons_allow, 0,
                        sizeof cases / sizeof *cases);
    tcase_add_test(cases_of_light, leaves_round_stars_alone);
    tcase_add_loop_test(cases_of_light, stays_when_nothing_fits, 0, 3);
    suite_add_tcase(suite, cases_of_light);
    return suite;
}
