#include "base/random.h"
#include "near.h"
#include "sky/vector.h"
#include "sky/wcs.h"

#include <math.h>

Suite *wcs_suite(void);

static const double degree = 0.017453292519943295769;

/* A frame of the size and scale that the sections of the design expect: 6000 x 4000, 3"/px. */
static struct wcs plain(double ra, double dec, double up_angle, bool mirrored)
{
    struct wcs wcs = {
        .ra_deg = ra, .dec_deg = dec, .x = 2999.5, .y = 1999.5, .width = 6000, .height = 4000};
    double scale = 3.0 / 3600, c = cos(up_angle * degree), s = sin(up_angle * degree);
    /* Picture-up is (east, north) = (s, c), picture-left a quarter turn further east. */
    double hand = mirrored ? -1 : 1;
    wcs.cd[0][0] = -hand * scale * c;
    wcs.cd[1][0] = hand * scale * s;
    wcs.cd[0][1] = -scale * s;
    wcs.cd[1][1] = -scale * c;
    return wcs;
}

/* Radial terms that move the corner by the given share of its distance, with some of every order.
 */
static void bend(struct wcs *wcs, double share)
{
    double corner = hypot(wcs->width, wcs->height) / 2;
    double k = share / (corner * corner);
    wcs->order = 5;
    wcs->a[3][0] = wcs->a[1][2] = wcs->b[0][3] = wcs->b[2][1] = k;
    wcs->a[2][0] = wcs->b[1][1] = 0.01 * share / corner;
    wcs->a[4][1] = wcs->b[0][5] = 0.1 * share / pow(corner, 4);
}

static void check_pairs(const struct wcs *wcs, int seed)
{
    struct random random = {(uint64_t)seed};
    for (int i = 0; i < 100; i++) {
        double x = random_between(&random, -200, wcs->width + 200);
        double y = random_between(&random, -200, wcs->height + 200);
        double v[3], x2 = 0, y2 = 0;
        wcs_direction(v, wcs, x, y);
        assert_near(vector_dot(v, v), 1, 1e-14, "length");
        ck_assert(wcs_pixel(&x2, &y2, wcs, v));
        assert_near(x2, x, 1e-6, "px");
        assert_near(y2, y, 1e-6, "px");
        double ra, dec;
        wcs_radec(&ra, &dec, wcs, x, y);
        ck_assert(ra >= 0 && ra < 360 && dec >= -90 && dec <= 90);
        ck_assert(wcs_pixel_radec(&x2, &y2, wcs, ra, dec));
        assert_near(x2, x, 1e-6, "px");
        assert_near(y2, y, 1e-6, "px");
    }
}

START_TEST(test_pairs)
{
    const double ra[] = {0, 359.9999, 83.8, 0.0001}, dec[] = {-90, -89.99, -5, 0, 44, 89.5, 90};
    for (int i = 0; i < 4; i++) {
        for (int k = 0; k < 7; k++) {
            for (int hand = 0; hand < 2; hand++) {
                struct wcs wcs = plain(ra[i], dec[k], 37 * i, hand);
                check_pairs(&wcs, 7 * i + k);
                bend(&wcs, -0.06);
                check_pairs(&wcs, 100 + 7 * i + k);
                bend(&wcs, 0.06);
                check_pairs(&wcs, 200 + 7 * i + k);
            }
        }
    }
}
END_TEST

START_TEST(test_orientation)
{
    for (double up = 0; up < 360; up += 15) {
        for (int hand = 0; hand < 2; hand++) {
            struct wcs wcs = plain(200, 30, up, hand);
            assert_near_turn(wcs_up_angle_deg(&wcs), up, 1e-7);
            ck_assert_int_eq(wcs_mirrored(&wcs), hand);
            assert_near(wcs_scale_arcsec(&wcs), 3, 1e-6, "arcsec/px");
        }
    }
    /* North up: east is to the left, unless mirrored. */
    struct wcs wcs = plain(200, 0, 0, false);
    double ra, dec;
    wcs_radec(&ra, &dec, &wcs, 2899.5, 1999.5);
    assert_near(ra, 200 + 100 * 3.0 / 3600, 1e-6, "deg");
    wcs_radec(&ra, &dec, &wcs, 2999.5, 1899.5);
    assert_near(dec, 100 * 3.0 / 3600, 1e-6, "deg");
}
END_TEST

START_TEST(test_middle_away_from_tangent_point)
{
    struct wcs wcs = plain(10, 60, 0, false);
    wcs.x = -5000;
    wcs.y = 9000;
    bend(&wcs, 0.02);
    /* Pixels are no squares there: the scale is the root of the area of a parallelogram. */
    double ra, dec, right_ra, right_dec, up_ra, up_dec;
    wcs_centre(&wcs, &ra, &dec);
    wcs_radec(&right_ra, &right_dec, &wcs, 2999.5 + 0.1, 1999.5);
    wcs_radec(&up_ra, &up_dec, &wcs, 2999.5, 1999.5 - 0.1);
    double right = radec_angle_deg(ra, dec, right_ra, right_dec) * 36000;
    double up = radec_angle_deg(ra, dec, up_ra, up_dec) * 36000;
    double right_angle = radec_position_angle_deg(ra, dec, right_ra, right_dec);
    double up_angle = radec_position_angle_deg(ra, dec, up_ra, up_dec);
    double area = right * up * fabs(sin((right_angle - up_angle) * degree));
    assert_near(wcs_scale_arcsec(&wcs), sqrt(area), 1e-4, "arcsec/px");
    assert_near_turn(wcs_up_angle_deg(&wcs), up_angle, 1e-3);
}
END_TEST

START_TEST(test_field)
{
    struct wcs wcs = plain(10, 60, 20, false);
    double width, height, half = 3000 * 3.0 / 3600 * degree;
    wcs_field(&wcs, &width, &height);
    assert_near(width, 2 * atan(half) / degree, 1e-10, "deg");
    assert_near(height, 2 * atan(half * 2 / 3) / degree, 1e-10, "deg");
    assert_near(wcs_radius_deg(&wcs), atan(half * sqrt(1 + 4.0 / 9)) / degree, 1e-10, "deg");
}
END_TEST

START_TEST(test_inside)
{
    struct wcs wcs = plain(0, 0, 0, false);
    ck_assert(wcs_inside(&wcs, -0.5, -0.5));
    ck_assert(!wcs_inside(&wcs, -0.51, 0));
    ck_assert(wcs_inside(&wcs, 5999.4999, 3999.4999));
    ck_assert(!wcs_inside(&wcs, 5999.5, 0));
    ck_assert(!wcs_inside(&wcs, 0, 3999.5));
    ck_assert(!wcs_inside(&wcs, NAN, 0));
}
END_TEST

START_TEST(test_behind)
{
    struct wcs wcs = plain(120, 30, 10, false);
    double x = -7, y = -7;
    ck_assert(!wcs_pixel_radec(&x, &y, &wcs, 300, -30)); /* the antipode */
    ck_assert(!wcs_pixel_radec(&x, &y, &wcs, 120, -60)); /* a quarter turn */
    ck_assert(!wcs_pixel_radec(&x, &y, &wcs, 120, -75));
    ck_assert(!wcs_pixel_radec(&x, &y, &wcs, NAN, 0));
    assert_near(x, -7, 0, "px");
    assert_near(y, -7, 0, "px");
    ck_assert(wcs_pixel_radec(&x, &y, &wcs, 120, -59.9));
}
END_TEST

/* u' = u - k u^3 turns back at u = sqrt(1 / 3k), where u' is two thirds of that. */
START_TEST(test_fold)
{
    struct wcs wcs = plain(0, 0, 0, false);
    wcs.order = 3;
    double turn = 4000, k = 1 / (3 * turn * turn), reach = turn * 2 / 3;
    wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = -k;
    struct wcs ideal = wcs;
    ideal.order = 0;
    double v[3], x, y;
    wcs_direction(v, &ideal, wcs.x + reach * 0.999, wcs.y);
    ck_assert(wcs_pixel(&x, &y, &wcs, v));
    ck_assert(x - wcs.x < turn && x - wcs.x > turn * 0.9);
    for (double factor = 1.001; factor < 20; factor *= 1.1) {
        for (double angle = 0; angle < 6.2; angle += 0.1) {
            wcs_direction(v, &ideal, wcs.x + reach * factor * cos(angle),
                          wcs.y + reach * factor * sin(angle));
            ck_assert_msg(!wcs_pixel(&x, &y, &wcs, v), "a root beyond the fold, factor %g", factor);
        }
    }
}
END_TEST

START_TEST(test_low_terms_are_ignored)
{
    struct wcs wcs = plain(40, 50, 60, false), other;
    bend(&wcs, 0.03);
    other = wcs;
    other.a[0][0] = other.a[1][0] = other.b[0][1] = 5;
    other.a[5][1] = other.b[5][5] = 5; /* above the order */
    double v[3], w[3];
    wcs_direction(v, &wcs, 17, 3900);
    wcs_direction(w, &other, 17, 3900);
    assert_near(vector_angle_deg(v, w), 0, 0, "deg");
}
END_TEST

/* What turns all corners one way is no distortion of a lens, nor is what moves opposite ones the
 * same way. */
START_TEST(test_corner_distortion_has_a_sign)
{
    struct wcs wcs = {.width = 3000, .height = 2000, .x = 1499.5, .y = 999.5, .order = 3};
    const double square = (1500.0 * 1500 + 1000.0 * 1000);
    for (int sign = -1; sign <= 1; sign++) {
        wcs.a[3][0] = wcs.a[1][2] = wcs.b[0][3] = wcs.b[2][1] =
            (1 / (1 + sign * 0.02) - 1) / square;
        assert_near(wcs_corner_distortion(&wcs), sign * 0.02, 1e-12, "share");
    }
    wcs.a[2][0] = wcs.b[0][2] = 1e-6;
    assert_near(wcs_corner_distortion(&wcs), 0.02, 1e-12, "share");
}
END_TEST

START_TEST(test_corner_distortion)
{
    struct wcs wcs = plain(40, 50, 60, false);
    assert_near(wcs_corner_distortion_px(&wcs), 0, 0, "px");
    wcs.order = 3;
    double corner = hypot(3000, 2000), k = -0.06 / (corner * corner);
    wcs.a[3][0] = wcs.a[1][2] = wcs.b[2][1] = wcs.b[0][3] = k;
    assert_near(wcs_corner_distortion_px(&wcs), 0.06 * corner, 1e-9, "px");
    wcs.a[2][0] = 0.01 / 3000; /* adds to the left side, takes off on the right: 30 px */
    assert_near(wcs_corner_distortion_px(&wcs), hypot(0.06 * 3000 + 0.01 * 3000, 0.06 * 2000), 1e-9,
                "px");
}
END_TEST

START_TEST(test_paper_ii_example)
{
    /* FITS WCS Paper II, section 7.1, first example header and the table of its corners (from
     * memory; the table gives six decimals). Its y points up, which this sign of cd keeps. */
    struct wcs wcs = {.ra_deg = 45.83,
                      .dec_deg = 63.57,
                      .x = 256,
                      .y = 257,
                      .cd = {{-0.003, 0}, {0, 0.003}},
                      .width = 512,
                      .height = 512};
    const double corner[3][4] = {{1, 2, 47.503264, 62.795111},
                                 {1, 512, 47.595581, 64.324332},
                                 {511, 512, 44.064419, 64.324332}};
    for (int i = 0; i < 3; i++) {
        double ra, dec;
        wcs_radec(&ra, &dec, &wcs, corner[i][0], corner[i][1]);
        assert_near(ra, corner[i][2], 0.6e-6, "deg");
        assert_near(dec, corner[i][3], 0.6e-6, "deg");
    }
}
END_TEST

/* A picture of 3000 x 2000 px that shows 180 degrees across its height, but for SIN 120. */
static struct wcs curved(enum projection_kind kind, int number)
{
    struct wcs wcs = {.ra_deg = 40.0 * number,
                      .dec_deg = -70 + 20.0 * number,
                      .x = 1480,
                      .y = 1010,
                      .width = 3000,
                      .height = 2000,
                      .projection = kind};
    double scale = kind == PROJECTION_SIN ? 0.03 : 0.09, turn = 50.0 * number * degree;
    wcs.cd[0][0] = -scale * cos(turn);
    wcs.cd[1][0] = scale * sin(turn);
    wcs.cd[0][1] = -scale * sin(turn);
    wcs.cd[1][1] = -scale * cos(turn);
    if (projection_is_cylinder(kind)) {
        wcs.cd[0][0] = wcs.cd[1][1] = -scale;
        wcs.cd[1][0] = wcs.cd[0][1] = 0;
        wcs.turn_deg = 50.0 * number;
    }
    return wcs;
}

START_TEST(test_curved_pairs)
{
    struct random random = {17};
    for (int kind = PROJECTION_ARC; kind < PROJECTION_KINDS; kind++) {
        for (int i = 0; i < 700; i++) {
            struct wcs wcs = curved((enum projection_kind)kind, i % 8);
            double x = random_between(&random, 600, 2400), y = random_between(&random, 300, 1700);
            double v[3], x2 = 0, y2 = 0;
            if (i % 2) {
                bend(&wcs, kind == PROJECTION_CAR ? 0 : 0.01);
            }
            wcs_direction(v, &wcs, x, y);
            assert_near(vector_dot(v, v), 1, 1e-14, "length");
            ck_assert(wcs_pixel(&x2, &y2, &wcs, v));
            assert_near(x2, x, 1e-6, "px");
            assert_near(y2, y, 1e-6, "px");
        }
    }
}
END_TEST

/* Angle from the axis of a place r focal lengths out, by the equations of Paper II, section 5.1
 * (from memory: ARC R = t, ZEA R = 2 sin(t / 2), STG R = 2 tan(t / 2), SIN R = sin(t)). */
START_TEST(test_fisheyes_draw_by_their_equations)
{
    const double angle = 52 * degree;
    const double radius[] = {angle, 2 * sin(angle / 2), 2 * tan(angle / 2), sin(angle)};
    for (int kind = PROJECTION_ARC; kind <= PROJECTION_SIN; kind++) {
        struct wcs wcs = curved((enum projection_kind)kind, 3);
        double scale = hypot(wcs.cd[0][0], wcs.cd[1][0]) * degree, ra, dec;
        wcs_radec(&ra, &dec, &wcs, wcs.x, wcs.y - radius[kind - PROJECTION_ARC] / scale);
        assert_near(radec_angle_deg(wcs.ra_deg, wcs.dec_deg, ra, dec), 52, 1e-9, "deg");
    }
}
END_TEST

/* A panorama that stands upright on the equator: columns are right ascension, rows declination. */
START_TEST(test_panorama_counts_angles)
{
    struct wcs wcs = curved(PROJECTION_CAR, 0);
    double ra, dec;
    wcs.dec_deg = 0;
    wcs_radec(&ra, &dec, &wcs, wcs.x - 500, wcs.y - 300);
    assert_near_turn(ra, wcs.ra_deg + 45, 1e-9);
    assert_near(dec, 27, 1e-9, "deg");
    wcs.projection = PROJECTION_CYP;
    wcs_radec(&ra, &dec, &wcs, wcs.x + 1000, wcs.y - 300);
    assert_near_turn(ra, wcs.ra_deg - 90, 1e-9);
    assert_near(dec, atan(27 * degree) / degree, 1e-9, "deg");
}
END_TEST

START_TEST(test_nothing_lies_beyond_the_reach)
{
    struct wcs wcs = curved(PROJECTION_ARC, 2);
    double ra, dec, x, y, width, height;
    wcs.reach_deg = 70;
    radec_offset(&ra, &dec, wcs.ra_deg, wcs.dec_deg, 123, 69.9);
    ck_assert(wcs_pixel_radec(&x, &y, &wcs, ra, dec));
    ck_assert(wcs_reaches(&wcs, x, y));
    radec_offset(&ra, &dec, wcs.ra_deg, wcs.dec_deg, 123, 70.1);
    ck_assert(!wcs_pixel_radec(&x, &y, &wcs, ra, dec));
    ck_assert(!wcs_reaches(&wcs, -0.5, -0.5));
    wcs_field(&wcs, &width, &height);
    assert_near(width, 140, 6, "deg"); /* the axis is 2 degrees off the middle */
    ck_assert(wcs_radius_deg(&wcs) < 73);
}
END_TEST

START_TEST(test_turn)
{
    for (int kind = PROJECTION_TAN; kind < PROJECTION_KINDS; kind++) {
        struct wcs wcs = curved((enum projection_kind)kind, 4), turned = wcs;
        double ra, dec, ra2, dec2;
        wcs_turn(&turned, 33);
        wcs_radec(&ra, &dec, &wcs, 1600, 900);
        wcs_radec(&ra2, &dec2, &turned, 1600, 900);
        assert_near_turn(radec_position_angle_deg(wcs.ra_deg, wcs.dec_deg, ra2, dec2),
                         radec_position_angle_deg(wcs.ra_deg, wcs.dec_deg, ra, dec) + 33, 1e-7);
    }
}
END_TEST

Suite *wcs_suite(void)
{
    Suite *suite = suite_create("wcs");
    TCase *tests = tcase_create("wcs");
    tcase_add_test(tests, test_pairs);
    tcase_add_test(tests, test_orientation);
    tcase_add_test(tests, test_middle_away_from_tangent_point);
    tcase_add_test(tests, test_field);
    tcase_add_test(tests, test_inside);
    tcase_add_test(tests, test_behind);
    tcase_add_test(tests, test_fold);
    tcase_add_test(tests, test_low_terms_are_ignored);
    tcase_add_test(tests, test_corner_distortion);
    tcase_add_test(tests, test_corner_distortion_has_a_sign);
    tcase_add_test(tests, test_paper_ii_example);
    tcase_add_test(tests, test_curved_pairs);
    tcase_add_test(tests, test_fisheyes_draw_by_their_equations);
    tcase_add_test(tests, test_panorama_counts_angles);
    tcase_add_test(tests, test_nothing_lies_beyond_the_reach);
    tcase_add_test(tests, test_turn);
    suite_add_tcase(suite, tests);
    return suite;
}
