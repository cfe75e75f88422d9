/* Where a solution is proven: stars of the bundled catalogue in a picture that is right all over,
 * or only in part. */
#include "match/trust.h"

#include "base/units.h"
#include "index_fixture.h"
#include "match/solve.h"
#include "near.h"
#include "sky/vector.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *trust_suite(void);

enum { WIDTH = 2400, HEIGHT = 1600, MOST = 2000 };

static struct star star[MOST];
static int catalogue[MOST], paired[MOST];
static struct star_list list = {.star = star, .width = WIDTH, .height = HEIGHT};
static struct wcs wcs;
static struct trust trust;
static double doubt[1];

/* Where a star of the catalogue is drawn; false if it does not show. */
typedef bool drawn(double *x, double *y);

/* Draws the stars of a field of 30 degrees, or as the scale says, down to a magnitude, and finds
 * out where it is proven; a star is paired if it is within 2 px of its place. */
static void prove(drawn *draw, double scale_arcsec, double limit_mag)
{
    const struct index *index = fixture_bundled();
    const double scale = scale_arcsec / 3600;
    uint32_t around[MOST];
    double middle[3];
    wcs = (struct wcs){.ra_deg = 83,
                       .x = (WIDTH - 1) / 2.0,
                       .y = (HEIGHT - 1) / 2.0,
                       .cd = {{-scale, 0}, {0, -scale}},
                       .width = WIDTH,
                       .height = HEIGHT};
    struct trust_fit fit = {.wcs = &wcs,
                            .error_px = 0.3,
                            .catalogue = catalogue,
                            .star = paired,
                            .doubt_px = doubt,
                            .doubt_columns = 1,
                            .doubt_rows = 1};
    wcs_direction(middle, &wcs, wcs.x, wcs.y);
    int count = index_brightest(around, MOST, index, middle, wcs_radius_deg(&wcs) * RAD_PER_DEG,
                                (int)(1000 * limit_mag));
    list.count = 0;
    for (int i = 0; i < count; i++) {
        double v[3], x, y;
        index_star_vector(v, &index->star[around[i]]);
        if (!wcs_pixel(&x, &y, &wcs, v) || !wcs_inside(&wcs, x, y)) {
            continue;
        }
        double at_x = x, at_y = y;
        if (draw(&at_x, &at_y)) {
            star[list.count] = (struct star){
                .x = at_x, .y = at_y, .size = 1.2, .elongation = 1, .snr = 20, .flux = 1};
            if (hypot(at_x - x, at_y - y) < 2) {
                catalogue[fit.pairs] = (int)around[i];
                paired[fit.pairs++] = list.count;
            }
            list.count++;
        }
    }
    ck_assert_int_eq(trust_find(&trust, &fit, &list, index, NULL), 0);
}

static const double wide = 45, narrow = 6; /* arcseconds a pixel: 30 and 4 degrees */

static bool as_it_is(double *x, double *y)
{
    return *x + *y > -1e9;
}

START_TEST(a_right_picture_is_proven_all_over)
{
    prove(as_it_is, wide, 7.5);
    ck_assert(trust.known);
    ck_assert_double_ge(trust.share, 0.99);
    ck_assert_double_ge(trust.sky_share, 0.99);
    ck_assert(trust_is_whole(&trust) && !trust_is_partial(&trust));
}
END_TEST

static bool above_a_roof(double *x, double *y)
{
    return *x > -1 && *y < 0.6 * HEIGHT;
}

START_TEST(a_roof_is_not_proven_and_no_sky)
{
    prove(above_a_roof, wide, 7.5);
    ck_assert(trust_holds(&trust, 1200, 0.55 * HEIGHT));
    ck_assert(!trust_holds(&trust, 1200, 0.68 * HEIGHT));
    ck_assert(!trust_holds(&trust, 20, HEIGHT - 20));
    ck_assert(!trust_holds(&trust, WIDTH - 20, HEIGHT - 20));
    assert_near(trust.share, 0.6, 0.04, "share of the picture");
    ck_assert_double_ge(trust.sky_share, 0.9);
    ck_assert(!trust_is_whole(&trust));
}
END_TEST

/* The right part shows the stars of elsewhere. */
static bool two_panels(double *x, double *y)
{
    *x += *x > WIDTH / 3 ? 61 : 0;
    *y += *x > WIDTH / 3 ? 23 : 0;
    return *x < WIDTH && *y < HEIGHT;
}

START_TEST(a_second_panel_is_sky_but_not_proven)
{
    prove(two_panels, wide, 7.5);
    ck_assert(trust_holds(&trust, WIDTH * 0.25, HEIGHT / 2.0));
    ck_assert(!trust_holds(&trust, WIDTH * 0.42, HEIGHT / 2.0));
    ck_assert(!trust_holds(&trust, WIDTH * 0.9, HEIGHT * 0.1));
    assert_near(trust.share, 1 / 3.0, 0.04, "share of the picture");
    ck_assert_double_le(trust.sky_share, 0.45);
    ck_assert(trust_is_partial(&trust));
}
END_TEST

/* As a fisheye draws it under the laws of a straight lens: by the cube of the angle. */
static bool fisheye(double *x, double *y)
{
    double dx = *x - wcs.x, dy = *y - wcs.y, r = hypot(dx, dy) / WIDTH;
    *x = wcs.x + dx * (1 - 0.2 * r * r);
    *y = wcs.y + dy * (1 - 0.2 * r * r);
    return true;
}

START_TEST(beyond_its_middle_a_bent_picture_is_not_proven)
{
    prove(fisheye, wide, 7.5);
    ck_assert(trust_holds(&trust, wcs.x, wcs.y));
    for (int corner = 0; corner < 4; corner++) {
        ck_assert(!trust_holds(&trust, corner % 2 * (WIDTH - 1), corner / 2 * (HEIGHT - 1)));
    }
    /* A miss of TRUST_REACH_ERRORS deviations and half a pixel is at this radius. */
    double r = cbrt((TRUST_REACH_ERRORS * 0.3 + 0.5) / (0.2 * WIDTH));
    assert_near(trust.share, PI * r * r * WIDTH / HEIGHT, 0.05, "share of the picture");
    ck_assert(trust_is_partial(&trust));
}
END_TEST

static double hole_px;

static bool around_a_hole(double *x, double *y)
{
    return hypot(*x - 1000, *y - 700) > hole_px;
}

/* In a nebula's light, or the Moon's. */
START_TEST(a_hole_in_the_sky_is_closed_and_a_large_one_is_not)
{
    hole_px = sqrt(0.05 * WIDTH * HEIGHT / PI);
    prove(around_a_hole, wide, 7.5);
    ck_assert(trust_holds(&trust, 1000, 700));
    ck_assert_double_ge(trust.share, 0.98);
    hole_px = sqrt(0.2 * WIDTH * HEIGHT / PI);
    prove(around_a_hole, wide, 7.5);
    ck_assert(!trust_holds(&trust, 1000, 700));
    assert_near(trust.share, 0.8, 0.04, "share of the picture");
}
END_TEST

static int shown;

static bool a_few(double *x, double *y)
{
    return *x > 0 && *y > 0 && shown++ < 8;
}

/* Where few stars ought to show in all, they hold the picture as far as the fit is exact. */
START_TEST(a_narrow_field_of_few_stars_is_proven)
{
    shown = 0;
    doubt[0] = 1;
    prove(a_few, narrow, 7.2);
    ck_assert_int_le(list.count, 8);
    ck_assert_double_ge(trust.share, 0.95);
}
END_TEST

static bool one_corner(double *x, double *y)
{
    return *x < WIDTH / 2.5 && *y < HEIGHT / 2.0;
}

/* Far from the only stars that ought to show it depends on how exact the fit is: to half a per cent
 * of the half diagonal, 7 px here. */
START_TEST(where_no_star_ought_to_be_the_fit_must_be_exact)
{
    doubt[0] = 6;
    prove(one_corner, narrow, 5.5);
    int exact = trust.zone[TRUST_ZONES - 1];
    doubt[0] = 8.5;
    prove(one_corner, narrow, 5.5);
    ck_assert_int_ne(exact, TRUST_PROVEN);
    ck_assert_int_lt(trust.zone[TRUST_ZONES - 1], TRUST_BESIDE);
}
END_TEST

START_TEST(zones_are_read_as_they_are_written)
{
    char text[TRUST_ZONES + 1], again[TRUST_ZONES + 1];
    struct trust read = {.known = false};
    prove(above_a_roof, wide, 7.5);
    trust_write(text, &trust);
    ck_assert(trust_read(&read, text, WIDTH, HEIGHT));
    ck_assert_int_eq(memcmp(read.zone, trust.zone, sizeof read.zone), 0);
    assert_near(read.share, trust.share, 1e-12, "share of the picture");
    trust_write(again, &read);
    ck_assert_str_eq(again, text);
    text[7] = 'x';
    ck_assert(!trust_read(&read, text, WIDTH, HEIGHT));
    ck_assert(!trust_read(&read, "pppp", WIDTH, HEIGHT));
    ck_assert(!trust_read(&read, again, 0, HEIGHT));
}
END_TEST

START_TEST(where_nobody_looked_all_holds)
{
    static const struct trust nothing;
    ck_assert(trust_holds(&nothing, -5, 1e6));
    ck_assert(trust_is_whole(&nothing) && !trust_is_partial(&nothing));
}
END_TEST

START_TEST(zones_cover_the_picture_once)
{
    prove(as_it_is, wide, 7.5);
    double area = 0, x[2], y[2];
    for (int zone = 0; zone < TRUST_ZONES; zone++) {
        trust_zone_bounds(x, y, &trust, zone);
        area += (x[1] - x[0]) * (y[1] - y[0]);
    }
    assert_near(area, (double)WIDTH * HEIGHT, 1e-6, "px^2");
    ck_assert(!trust_holds(&trust, -1, 5) && !trust_holds(&trust, 5, HEIGHT));
    ck_assert(trust_holds(&trust, -0.4, -0.4) && trust_holds(&trust, WIDTH - 0.6, HEIGHT - 0.6));
}
END_TEST

Suite *trust_suite(void)
{
    Suite *suite = suite_create("trust");
    TCase *all = tcase_create("all");
    tcase_add_unchecked_fixture(all, fixture_open_bundled, fixture_close_bundled);
    tcase_add_test(all, a_right_picture_is_proven_all_over);
    tcase_add_test(all, a_roof_is_not_proven_and_no_sky);
    tcase_add_test(all, a_second_panel_is_sky_but_not_proven);
    tcase_add_test(all, beyond_its_middle_a_bent_picture_is_not_proven);
    tcase_add_test(all, a_hole_in_the_sky_is_closed_and_a_large_one_is_not);
    tcase_add_test(all, a_narrow_field_of_few_stars_is_proven);
    tcase_add_test(all, where_no_star_ought_to_be_the_fit_must_be_exact);
    tcase_add_test(all, zones_are_read_as_they_are_written);
    tcase_add_test(all, where_nobody_looked_all_holds);
    tcase_add_test(all, zones_cover_the_picture_once);
    suite_add_tcase(suite, all);
    return suite;
}
