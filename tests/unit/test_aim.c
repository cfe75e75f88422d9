/* Where a target is in a frame, and the turn that centres it. */
#include "base/random.h"
#include "frames.h"
#include "near.h"
#include "objects/cover.h"
#include "sky/vector.h"
#include "tripod/aim.h"

#include <string.h>

Suite *aim_suite(void);

/* Directions that the middle, the right and the upper side of a picture look to, from its pixels.
 */
static void look(double out[3], double right[3], double up[3], const struct wcs *wcs)
{
    double x = (wcs->width - 1) / 2.0, y = (wcs->height - 1) / 2.0, step = 1e-3;
    wcs_direction(out, wcs, x, y);
    wcs_direction(right, wcs, x + step, y);
    wcs_direction(up, wcs, x, y - step);
    for (int i = 0; i < 3; i++) {
        right[i] -= out[i];
        up[i] -= out[i];
    }
    vector_normalise(right);
    vector_normalise(up);
}

static struct aim aim_at(const struct wcs *wcs, double ra_deg, double dec_deg)
{
    struct aim_target target;
    struct aim aim;
    aim_target_radec(&target, ra_deg, dec_deg);
    aim_measure(&aim, &target, wcs, 0);
    return aim;
}

/* First about the camera's own upright axis, then about its own new level one: the middle must end
 * up on the target. "Right of the picture" is a turn from out towards right. */
static void check_turns(const struct wcs *wcs, double ra_deg, double dec_deg)
{
    double out[3], right[3], up[3], level[3], upright[3], target[3];
    struct aim aim = aim_at(wcs, ra_deg, dec_deg);
    look(out, right, up, wcs);
    vector_cross(upright, out, right); /* turning about it moves out towards right */
    vector_turn(out, upright, aim.right_deg);
    vector_turn(right, upright, aim.right_deg);
    vector_cross(level, out, up); /* up does not move in the first turn */
    vector_turn(out, level, aim.up_deg);
    vector_from_radec(target, ra_deg, dec_deg);
    /* look() takes the axes from steps of 1e-3 px: good to some 1e-9. */
    assert_near(vector_angle_deg(out, target), 0, 1e-5, "deg");
    assert_near(aim.separation_deg, radec_angle_deg(wcs->ra_deg, wcs->dec_deg, ra_deg, dec_deg),
                1e-9, "deg");
}

START_TEST(turns_lead_to_the_target_wherever_it_is)
{
    struct random random = {7};
    const double frame_dec[] = {-90, -60, 0, 41, 89.9, 90};
    for (int i = 0; i < 6; i++) {
        for (int k = 0; k < 60; k++) {
            double v[3], ra, dec;
            struct wcs wcs = frame_at(random_between(&random, 0, 360), frame_dec[i],
                                      random_between(&random, 0, 360), k % 2, 6000, 4000, 3);
            random_direction(&random, v);
            vector_to_radec(&ra, &dec, v);
            check_turns(&wcs, ra, dec);
        }
    }
}
END_TEST

START_TEST(right_and_up_are_those_of_the_picture)
{
    /* North up: west is on the right, unless mirrored. */
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct aim aim = aim_at(&wcs, 9, 0.5);
    assert_near(aim.right_deg, 1, 1e-4, "deg");
    assert_near(aim.up_deg, 0.5, 1e-4, "deg");
    ck_assert(!aim.mirrored);
    ck_assert(aim.x > 2999.5 && aim.y < 1999.5);
    assert_near(aim.right_part, tan(1 * RAD_PER_DEG) / (6000 * 3 / ARCSEC_PER_RAD), 1e-4, "");
    assert_near(aim.right_fields, 1 / aim.field_width_deg, 1e-4, "");
    assert_near(aim.up_fields, 0.5 / aim.field_height_deg, 1e-4, "");
    assert_near(aim.position_angle_deg, 360 - 63.435, 0.01, "deg");

    wcs = frame_at(10, 0, 0, true, 6000, 4000, 3);
    aim = aim_at(&wcs, 9, 0.5);
    assert_near(aim.right_deg, -1, 1e-4, "deg");
    assert_near(aim.up_deg, 0.5, 1e-4, "deg");
    ck_assert(aim.mirrored);
    /* The camera looks at the same sky, and is turned to the same side. */
    char text[120];
    aim_write_move(text, sizeof text, &aim);
    ck_assert_msg(strstr(text, "1.0° right and 30' up") == text, "%s", text);

    /* East up: north is on the right. */
    wcs = frame_at(10, 0, 90, false, 6000, 4000, 3);
    aim = aim_at(&wcs, 11, 2);
    assert_near(aim.right_deg, 2, 1e-3, "deg");
    assert_near(aim.up_deg, 1, 1e-3, "deg");
}
END_TEST

START_TEST(what_is_behind_has_no_pixel_but_a_way)
{
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct aim aim = aim_at(&wcs, 190, 0);
    ck_assert(!aim.has_pixel);
    ck_assert_int_eq(aim.verdict, AIM_OUTSIDE);
    assert_near(fabs(aim.right_deg), 180, 1e-6, "deg");
    assert_near(aim.separation_deg, 180, 1e-6, "deg");
    aim = aim_at(&wcs, 10 - 120, 0);
    assert_near(aim.right_deg, 120, 1e-6, "deg");
    aim = aim_at(&wcs, 55, 90);
    assert_near(aim.up_deg, 90, 1e-6, "deg");
}
END_TEST

/* A target of given semi axes and direction, dx degrees west and dy north of RA 10, Dec 0. */
static struct aim_target oval(double dx, double dy, double major, double minor, double turn_deg,
                              bool unknown)
{
    struct aim_target target = {.name = "Oval"};
    target.shape = (struct sky_ellipse){.ra_deg = 10 - dx,
                                        .dec_deg = dy,
                                        .major_deg = major,
                                        .minor_deg = minor,
                                        .turn_deg = turn_deg,
                                        .turn_unknown = unknown};
    return target;
}

static struct aim measure(const struct aim_target *target, double margin)
{
    /* 5 x 3.33 degrees */
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct aim aim;
    aim_measure(&aim, target, &wcs, margin);
    return aim;
}

static void expect(struct aim_target target, enum aim_verdict verdict, double share,
                   enum aim_room room)
{
    struct aim aim = measure(&target, 0);
    ck_assert_int_eq(aim.verdict, verdict);
    assert_near(aim.share, share, 0.02, "of the area");
    ck_assert_int_eq(aim.room, room);
}

START_TEST(the_whole_outline_counts)
{
    expect(oval(0, 0, 1, 1, 0, false), AIM_WHOLE, 1, AIM_FITS);
    expect(oval(2.5, 0, 1, 1, 0, false), AIM_PARTLY, 0.5, AIM_FITS);
    expect(oval(2.5, 1.666, 1, 1, 0, false), AIM_PARTLY, 0.25, AIM_FITS);
    expect(oval(3.6, 0, 1, 1, 0, false), AIM_OUTSIDE, 0, AIM_FITS);
    /* Its middle is outside, its rim is not. */
    expect(oval(3.3, 0, 1, 1, 0, false), AIM_PARTLY, 0.05, AIM_FITS);
    /* The direction decides: 4.6 x 0.4 degrees along the width or along the height. */
    expect(oval(0, 0, 2.3, 0.2, 90, false), AIM_WHOLE, 1, AIM_FITS);
    expect(oval(0, 0, 2.3, 0.2, 0, false), AIM_PARTLY, 0.834, AIM_TOO_LARGE);
    /* Unknown direction: the circle around it, 4.6 degrees across, in 5 x 3.33. */
    expect(oval(0, 0, 2.3, 0.2, 0, true), AIM_PARTLY, 0.834, AIM_MAY_FIT);
    expect(oval(0, 0, 3.1, 0.2, 0, true), AIM_PARTLY, 0.553, AIM_TOO_LARGE);
    /* The frame lies within the target; then in a corner of one far larger. */
    expect(oval(0, 0, 20, 20, 0, false), AIM_PARTLY, 5 * 3.333 / (PI * 400), AIM_TOO_LARGE);
    expect(oval(15, 10, 20, 20, 0, false), AIM_PARTLY, 5 * 3.333 / (PI * 400), AIM_TOO_LARGE);
}
END_TEST

START_TEST(a_margin_is_kept_free)
{
    /* Rim 0.5 degrees from the right edge, 0.15 of the shorter side. */
    struct aim_target target = oval(1, 0, 1, 1, 0, false);
    ck_assert(measure(&target, 0.14).margin_kept);
    ck_assert(!measure(&target, 0.16).margin_kept);
    ck_assert_int_eq(measure(&target, 0.16).verdict, AIM_WHOLE);
    ck_assert_int_eq(measure(&target, 0.16).room, AIM_FITS);
    ck_assert_int_eq(measure(&target, 0.25).room, AIM_TOO_LARGE);
    struct aim_target point = oval(2.4, 0, 0, 0, 0, false);
    ck_assert(measure(&point, 0).margin_kept);
    ck_assert(!measure(&point, 0.1).margin_kept);
}
END_TEST

/* A slim target lies across or along the frame as it will once the camera points there. */
START_TEST(room_is_judged_where_the_camera_will_point)
{
    struct random random = {3};
    for (int i = 0; i < 40; i++) {
        double v[3], ra, dec;
        struct aim_target target = oval(0, 0, 2.3, 0.2, 0, false);
        struct wcs wcs = frame_at(random_between(&random, 0, 360), random_between(&random, -89, 89),
                                  random_between(&random, 0, 360), i % 2, 6000, 4000, 3);
        random_direction(&random, v);
        vector_to_radec(&ra, &dec, v);
        target.shape.ra_deg = ra;
        target.shape.dec_deg = dec;

        /* The axes after the two turns, on the sky at the target. */
        struct aim aim = aim_at(&wcs, ra, dec);
        double out[3], right[3], up[3], upright[3], level[3];
        look(out, right, up, &wcs);
        vector_cross(upright, out, right);
        vector_turn(out, upright, aim.right_deg);
        vector_turn(right, upright, aim.right_deg);
        vector_cross(level, out, up);
        vector_turn(up, level, aim.up_deg);
        double to_ra, to_dec, tip[3];
        for (int k = 0; k < 3; k++) {
            tip[k] = v[k] + 1e-3 * up[k];
        }
        vector_to_radec(&to_ra, &to_dec, tip);
        double up_angle = radec_position_angle_deg(ra, dec, to_ra, to_dec);

        target.shape.turn_deg = up_angle + 90;
        aim_measure(&aim, &target, &wcs, 0);
        ck_assert_int_eq(aim.room, AIM_FITS);
        target.shape.turn_deg = up_angle;
        aim_measure(&aim, &target, &wcs, 0);
        ck_assert_int_eq(aim.room, AIM_TOO_LARGE);
        target.shape.turn_deg = up_angle + 70; /* 4.6 sin 20 = 1.6 high: fits either way */
        aim_measure(&aim, &target, &wcs, 0);
        ck_assert_int_eq(aim.room, AIM_FITS);
    }
}
END_TEST

START_TEST(distortion_counts)
{
    /* Barrel: the corner of the picture sees 6 % farther, the middle of an edge less. */
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct aim_target target = oval(0, 0, 2.52, 0.2, 90, false); /* edge at 2.5 degrees */
    struct aim aim;
    aim_measure(&aim, &target, &wcs, 0);
    ck_assert_int_eq(aim.verdict, AIM_PARTLY);
    frame_bend(&wcs, 0.06);
    aim_measure(&aim, &target, &wcs, 0);
    ck_assert_int_eq(aim.verdict, AIM_WHOLE);
    ck_assert_int_eq(aim.room, AIM_FITS);
}
END_TEST

START_TEST(ellipses_are_where_they_should_be)
{
    struct sky_ellipse ellipse = {
        .ra_deg = 40, .dec_deg = 60, .major_deg = 2, .minor_deg = 1, .turn_deg = 30};
    double v[3], centre[3], ra, dec;
    vector_from_radec(centre, 40, 60);
    for (int i = 0; i < 4; i++) {
        ellipse_direction(v, &ellipse, 1, 90 * i);
        vector_to_radec(&ra, &dec, v);
        assert_near(vector_angle_deg(v, centre), i % 2 ? 1 : 2, 1e-9, "deg");
        assert_near_turn(radec_position_angle_deg(40, 60, ra, dec), 30 + 90 * i, 1e-6);
    }
    for (int i = 0; i < 36; i++) {
        ellipse_direction(v, &ellipse, 0.99, 10 * i);
        ck_assert(ellipse_contains(&ellipse, v));
        ellipse_direction(v, &ellipse, 1.01, 10 * i);
        ck_assert(!ellipse_contains(&ellipse, v));
    }
    ellipse.turn_unknown = true; /* the circle around it */
    ellipse_direction(v, &ellipse, 1, 77);
    assert_near(vector_angle_deg(v, centre), 2, 1e-9, "deg");
    struct sky_ellipse point = {.ra_deg = 40, .dec_deg = 60};
    ck_assert(!ellipse_contains(&point, centre));
}
END_TEST

START_TEST(sizes_come_from_the_object)
{
    struct object object = {.id = "X 1",
                            .other_names = "",
                            .common_names = "Great Oval;Egg",
                            .usual_name = "Great Oval",
                            .ra_deg = 5,
                            .dec_deg = 6,
                            .major_arcmin = 90,
                            .minor_arcmin = 60,
                            .angle_deg = NAN};
    struct aim_target target;
    aim_target_object(&target, &object);
    ck_assert_str_eq(target.name, "X 1 (Great Oval)");
    assert_near(target.shape.major_deg, 0.75, 1e-12, "deg");
    assert_near(target.shape.minor_deg, 0.5, 1e-12, "deg");
    ck_assert(target.shape.turn_unknown);
    object.angle_deg = 35;
    aim_target_object(&target, &object);
    ck_assert(!target.shape.turn_unknown);
    assert_near(target.shape.turn_deg, 35, 0, "deg");
    object.angle_deg = object.minor_arcmin = NAN;
    aim_target_object(&target, &object);
    assert_near(target.shape.minor_deg, 0.75, 1e-12, "deg");
    ck_assert(!target.shape.turn_unknown);
    object.major_arcmin = NAN;
    aim_target_object(&target, &object);
    ck_assert_double_eq(target.shape.major_deg, 0);
}
END_TEST

static void expect_words(struct aim_target target, double margin, const char *verdict,
                         const char *move)
{
    char text[300];
    struct aim aim = measure(&target, margin);
    aim_write_verdict(text, sizeof text, &aim, &target);
    ck_assert_str_eq(text, verdict);
    aim_write_move(text, sizeof text, &aim);
    ck_assert_str_eq(text, move);
}

START_TEST(the_answer_reads_well)
{
    expect_words(oval(1, 0, 1, 1, 0, false), 0,
                 "Oval is wholly in the frame, to the right of the middle",
                 "1.0° right (0.20 of the width)");
    expect_words(oval(-1, 0.5, 0.1, 0.1, 0, false), 0,
                 "Oval is wholly in the frame, to the upper left of the middle",
                 "1.0° left and 30' up (0.20 of the width, 0.15 of "
                 "the height)");
    expect_words(oval(0.001, 0, 1, 1, 0, false), 0, "Oval is wholly in the frame, in the middle",
                 "centred");
    expect_words(oval(0, -1, 0, 0, 0, false), 0, "Oval is in the frame, below the middle",
                 "1.0° down (0.30 of the height)");
    expect_words(oval(2.5, 0, 1, 1, 0, false), 0,
                 "Oval is only partly in the frame (50 % of it), to the right of the middle",
                 "2.5° right (0.50 of the width)");
    expect_words(oval(2.5, 0, 1, 0.5, 0, true), 0,
                 "Oval is only partly in the frame (50 % of the circle around it), to the right of "
                 "the middle",
                 "2.5° right (0.50 of the width)");
    expect_words(oval(0, 12, 1, 1, 0, false), 0,
                 "Oval is not in the frame: it is 12.0° above the middle",
                 "12.0° up (3.6 heights)");
    expect_words(oval(150, 0, 0, 0, 0, false), 0,
                 "Oval is not in the frame: it is behind the camera, 150.0° from the middle",
                 "150.0° right (30.0 widths)");
}
END_TEST

/* Whether a target off by these parts of the width and the height is called in the middle, and
 * whether it is called centred. */
static void expect_near_middle(double across, double along, bool in_middle, bool centred)
{
    char text[300];
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct aim aim = aim_at(&wcs, 10, 0);
    struct aim_target target =
        oval(across * aim.field_width_deg, along * aim.field_height_deg, 0, 0, 0, false);
    aim = measure(&target, 0);
    aim_write_verdict(text, sizeof text, &aim, &target);
    ck_assert_msg(!strcmp(text, "Oval is in the frame, in the middle") == in_middle, "%s", text);
    aim_write_move(text, sizeof text, &aim);
    ck_assert_msg(!strcmp(text, "centred") == centred, "%s", text);
}

/* By eye, what is off by less than three hundredths of the frame is in its middle; a head on a
 * tripod is not turned finer than by half a hundredth (common practice, no source). */
START_TEST(how_near_the_middle_is_the_middle)
{
    for (int sign = -1; sign <= 1; sign += 2) {
        expect_near_middle(sign * 0.0275, 0, true, false);
        expect_near_middle(sign * 0.0325, 0, false, false);
        expect_near_middle(0, sign * 0.0275, true, false);
        expect_near_middle(0, sign * 0.0325, false, false);
        expect_near_middle(sign * 0.0045, 0, true, true);
        expect_near_middle(sign * 0.0055, 0, true, false);
        expect_near_middle(0, sign * 0.0045, true, true);
        expect_near_middle(0, sign * 0.0055, true, false);
    }
}
END_TEST

static void expect_note(struct aim_target target, double margin, const char *text)
{
    char note[AIM_MOST_NOTES][AIM_NOTE_SIZE];
    struct aim aim = measure(&target, margin);
    ck_assert_int_eq(aim_write_notes(note, &aim, &target), 1);
    ck_assert_str_eq(note[0], text);
}

START_TEST(notes_say_what_else_matters)
{
    expect_note(oval(0, 0, 2.3, 0.2, 0, false), 0,
                "it cannot fit, even centred: target 4.6° x 24', frame 5.0° x 3.3°");
    expect_note(oval(0, 0, 2.3, 0.2, 0, true), 0,
                "whether it fits depends on its orientation: target 4.6° x 24', frame 5.0° x 3.3°");
    expect_note(oval(2, 0, 1, 0.2, 0, true), 0,
                "its orientation is not catalogued, so it is treated as a circle 2.0° across");
    expect_note(oval(1, 0, 1, 1, 0, false), 0.16,
                "it is closer to the edge than the margin allows");
    expect_note(oval(0, 0, 1.6, 1.6, 0, false), 0.1,
                "it cannot fit within the margin, even centred: target 3.2° x 3.2°, frame 5.0° x "
                "3.3°");

    char note[AIM_MOST_NOTES][AIM_NOTE_SIZE];
    struct wcs wcs = frame_at(10, 0, 0, true, 6000, 4000, 3);
    struct aim_target target = oval(0, 0, 1, 1, 0, false);
    struct aim aim;
    aim_measure(&aim, &target, &wcs, 0);
    ck_assert_int_eq(aim_write_notes(note, &aim, &target), 1);
    ck_assert_str_eq(note[0],
                     "the picture is mirrored: what it shows on the left is to the right of the "
                     "camera, and moves are the camera's");
}
END_TEST

START_TEST(a_small_buffer_is_not_overrun)
{
    char text[8] = "1234567";
    struct aim_target target = oval(1, 0, 1, 1, 0, false);
    struct aim aim = measure(&target, 0);
    aim_write_verdict(text, 5, &aim, &target);
    ck_assert_str_eq(text, "Oval");
    aim_write_move(text, 1, &aim);
    ck_assert_str_eq(text, "");
    ck_assert_str_eq(text + 5, "67");
}
END_TEST

Suite *aim_suite(void)
{
    Suite *suite = suite_create("aim");
    TCase *turns = tcase_create("turns");
    tcase_add_test(turns, turns_lead_to_the_target_wherever_it_is);
    tcase_add_test(turns, right_and_up_are_those_of_the_picture);
    tcase_add_test(turns, what_is_behind_has_no_pixel_but_a_way);
    suite_add_tcase(suite, turns);
    TCase *cover = tcase_create("cover");
    tcase_add_test(cover, the_whole_outline_counts);
    tcase_add_test(cover, a_margin_is_kept_free);
    tcase_add_test(cover, room_is_judged_where_the_camera_will_point);
    tcase_add_test(cover, distortion_counts);
    tcase_add_test(cover, ellipses_are_where_they_should_be);
    tcase_add_test(cover, sizes_come_from_the_object);
    suite_add_tcase(suite, cover);
    TCase *words = tcase_create("words");
    tcase_add_test(words, the_answer_reads_well);
    tcase_add_test(words, how_near_the_middle_is_the_middle);
    tcase_add_test(words, notes_say_what_else_matters);
    tcase_add_test(words, a_small_buffer_is_not_overrun);
    suite_add_tcase(suite, words);
    return suite;
}
