#include "near.h"
#include "plan/group.h"
#include "sky/vector.h"

#include <math.h>

Suite *group_suite(void);

/* Degrees of a field of so many mm at a focal length. */
static double field_deg(double mm, double focal_mm)
{
    return 2 * atan(mm / 2 / focal_mm) * 180 / acos(-1);
}

static struct group_frame crop_sensor(double focal_mm)
{
    return (struct group_frame){.width_deg = field_deg(22.2, focal_mm),
                                .height_deg = field_deg(14.8, focal_mm)};
}

/* The zenith at a position angle from somewhere, far away: near there the angle stays the same. */
static void put_zenith(struct group_frame *frame, double ra, double dec, double angle_deg)
{
    radec_offset(&frame->zenith_ra_deg, &frame->zenith_dec_deg, ra, dec, angle_deg, 90);
}

/* Common practice, no source: with 200 mm on a crop sensor one frame holds M 42, M 43, NGC 2024 and
 * B 33; with 350 mm it does not. The tables' own outlines, sizes and places, and a margin of 2 %.
 */
START_TEST(orion)
{
    static const char *const names[] = {"M 42", "M 43", "NGC 2024", "B 33"};
    struct objects objects = {0};
    struct error err = {0};
    struct sky_ellipse shapes[4];
    struct group_fit fit;
    ck_assert_msg(objects_load(&objects, "catalogs", &err) == 0, "%s", err.text);
    for (int i = 0; i < 4; i++) {
        ellipse_from_object(&shapes[i], objects_find(&objects, names[i]));
    }
    for (int zenith = 0; zenith < 360; zenith += 15) {
        struct group_frame frame = crop_sensor(200);
        put_zenith(&frame, 84, -4, zenith);
        frame.margin = 0.02;
        group_fit(&fit, shapes, 4, &frame);
        ck_assert_msg(fit.fits, "not with the zenith at %d: fill %.3f", zenith, fit.fill);
        assert_near(fit.dec_deg, -4, 0.6, "deg");
        frame = crop_sensor(350);
        frame.margin = 0.02;
        put_zenith(&frame, 84, -4, zenith);
        group_fit(&fit, shapes, 4, &frame);
        ck_assert_msg(!fit.fits, "with 350 mm and the zenith at %d: fill %.3f", zenith, fit.fill);
    }
    objects_free(&objects);
}
END_TEST

static struct sky_ellipse disc(double ra, double dec, double radius)
{
    return (struct sky_ellipse){
        .ra_deg = ra, .dec_deg = dec, .major_deg = radius, .minor_deg = radius};
}

/* A disc is as large however the camera is turned. */
START_TEST(too_large)
{
    struct sky_ellipse shape = disc(80, -69, 5.4);
    struct group_frame frame = {.width_deg = 15, .height_deg = 10};
    struct group_fit fit;
    for (int zenith = 0; zenith < 360; zenith += 7) {
        put_zenith(&frame, 80, -69, zenith);
        group_fit(&fit, &shape, 1, &frame);
        ck_assert(!fit.fits && fit.hold == GROUP_LANDSCAPE);
        /* tan 5.4 / tan 5; its rim is looked at every 15 degrees, which loses up to 0.9 %. */
        assert_near(fit.fill, 1.0805, 0.0098, "of the height");
        assert_near(fit.roll_deg, 0, 0, "deg");
    }
}
END_TEST

/* Two discs 4 degrees apart north and south: in a frame of 5 x 3 with the zenith in the north only
 * an upright camera takes both; with the zenith in the east a level one does. */
START_TEST(holds)
{
    struct sky_ellipse pair[2] = {disc(359.9, 2, 0.3), disc(359.9, -2, 0.3)};
    struct group_frame frame = {.width_deg = 5, .height_deg = 3, .zenith_dec_deg = 90};
    struct group_fit fit;
    group_fit(&fit, pair, 2, &frame);
    ck_assert(fit.fits);
    ck_assert_int_eq(fit.hold, GROUP_PORTRAIT);
    assert_near_turn(fit.ra_deg, 359.9, 1e-6);
    assert_near(fit.dec_deg, 0, 1e-6, "deg");
    assert_near(fabs(fit.roll_deg), 90, 0, "deg");
    assert_near(fit.across_deg, 4.6, 0.02, "deg");
    assert_near(fit.along_deg, 0.6, 0.01, "deg");
    put_zenith(&frame, 359.9, 0, 90);
    group_fit(&fit, pair, 2, &frame);
    ck_assert_int_eq(fit.hold, GROUP_LANDSCAPE);
    assert_near(fit.roll_deg, 0, 0, "deg");
}
END_TEST

/* Up is east of the zenith, which is to its left as the sky is seen: the camera is turned
 * anticlockwise, so the roll is negative. Discs on the line through the middle at position angle 30
 * need the long side there: up at 30 - 90 or 30 + 90. */
START_TEST(turned)
{
    double ra[2], dec[2];
    radec_offset(&ra[0], &dec[0], 100, 60, 30, 2.4);
    radec_offset(&ra[1], &dec[1], 100, 60, 210, 2.4);
    struct sky_ellipse pair[2] = {disc(ra[0], dec[0], 0.05), disc(ra[1], dec[1], 0.05)};
    struct group_frame frame = {.width_deg = 5, .height_deg = 0.3, .zenith_dec_deg = 90};
    struct group_fit fit;
    group_fit(&fit, pair, 2, &frame);
    ck_assert(fit.fits);
    ck_assert_int_eq(fit.hold, GROUP_TURNED);
    assert_near(fit.up_deg, -60, 2, "deg");
    assert_near(fit.roll_deg, 60, 2, "deg");
    assert_near(fit.ra_deg, 100, 0.05, "deg");
    assert_near(fit.dec_deg, 60, 0.05, "deg");
}
END_TEST

/* Beside the zenith, a level camera has that above the middle of its picture, which is neither at
 * one of the discs nor halfway between them. */
START_TEST(level_near_the_zenith)
{
    struct sky_ellipse pair[2] = {disc(100, 50, 0.3), disc(104, 50, 1)};
    struct group_frame frame = {
        .width_deg = 6, .height_deg = 4, .zenith_ra_deg = 102, .zenith_dec_deg = 52};
    struct group_fit fit;
    group_fit(&fit, pair, 2, &frame);
    ck_assert(fit.fits);
    ck_assert_int_eq(fit.hold, GROUP_LANDSCAPE);
    ck_assert_msg(fit.ra_deg > 102.3 && fit.ra_deg < 103, "%g", fit.ra_deg);
    assert_near_turn(fit.up_deg, radec_position_angle_deg(fit.ra_deg, fit.dec_deg, 102, 52), 1e-9);
}
END_TEST

START_TEST(pole_and_margin)
{
    struct sky_ellipse four[4] = {disc(0, 88, 0.1), disc(90, 88, 0.1), disc(180, 88, 0.1),
                                  disc(270, 88, 0.1)};
    struct group_frame frame = {.width_deg = 5, .height_deg = 4.3};
    struct group_fit fit;
    group_fit(&fit, four, 4, &frame);
    ck_assert(fit.fits);
    assert_near(fit.dec_deg, 90, 1e-6, "deg");
    frame.margin = 0.05;
    group_fit(&fit, four, 4, &frame);
    ck_assert(fit.fits); /* turned by 45 degrees they take only 3 */
    ck_assert_int_eq(fit.hold, GROUP_TURNED);
    frame.margin = 0.2;
    group_fit(&fit, four, 4, &frame);
    ck_assert(!fit.fits);
    struct sky_ellipse apart[2] = {disc(0, 0, 1), disc(170, 0, 1)};
    group_fit(&fit, apart, 2, &frame);
    ck_assert(!fit.fits);
}
END_TEST

/* The hold for two large discs, one above the other, that fit in no way: upright they take so much
 * of what level they take. Every turn takes at least as much as upright, within the 0.9 % that a
 * rim looked at every 15 degrees loses. */
static enum group_hold hold_of_two(double share)
{
    double across = 6, apart = across / share - across;
    struct sky_ellipse pair[2] = {disc(100, apart / 2, across / 2),
                                  disc(100, -apart / 2, across / 2)};
    struct group_frame frame = {.width_deg = 10, .height_deg = 5, .zenith_dec_deg = 90};
    struct group_fit fit;
    group_fit(&fit, pair, 2, &frame);
    ck_assert(!fit.fits);
    return fit.hold;
}

/* For three hundredths less, the camera is turned though nothing fits. */
START_TEST(what_does_not_fit_is_hardly_worth_a_turn)
{
    ck_assert_int_eq(hold_of_two(0.985), GROUP_LANDSCAPE);
    ck_assert_int_eq(hold_of_two(0.955), GROUP_PORTRAIT);
}
END_TEST

Suite *group_suite(void)
{
    Suite *suite = suite_create("group");
    TCase *tcase = tcase_create("group");
    tcase_add_test(tcase, orion);
    tcase_add_test(tcase, too_large);
    tcase_add_test(tcase, holds);
    tcase_add_test(tcase, turned);
    tcase_add_test(tcase, level_near_the_zenith);
    tcase_add_test(tcase, pole_and_margin);
    tcase_add_test(tcase, what_does_not_fit_is_hardly_worth_a_turn);
    suite_add_tcase(suite, tcase);
    return suite;
}
