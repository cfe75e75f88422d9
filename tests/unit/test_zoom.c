/* The focal length of a zoom, and its aperture there. */
#include "base/units.h"
#include "near.h"
#include "objects_fixture.h"
#include "plan/plan.h"
#include "plan/plan_words.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

Suite *zoom_suite(void);

/* Round, 1.6 degrees across. */
static const struct object disc = {.id = "a disc",
                                   .other_names = "",
                                   .common_names = "",
                                   .type = OBJECT_OPEN_CLUSTER,
                                   .ra_deg = 60,
                                   .dec_deg = 20,
                                   .magnitude = 5,
                                   .magnitude_error = NAN,
                                   .major_arcmin = 96,
                                   .minor_arcmin = 96,
                                   .angle_deg = NAN};

static struct plan_settings settings_of(double shortest_mm, double longest_mm)
{
    return (struct plan_settings){
        .camera = {longest_mm, 5.6, 3.7, 22.2, 14.8, SIGNAL_READ_NOISE, SIGNAL_EFFICIENCY, 0},
        .zoom = {shortest_mm, longest_mm, 4, 5.6},
        .least_altitude_deg = 30,
        .pause_s = 1,
        .total_s = 3600,
        .sky_mag = 19.2,
        .snr = 1,
        .accept = batch_accept_usual(),
    };
}

static struct plan_item plan_with(const char *name, const struct plan_settings *settings)
{
    const struct place place = {.latitude_deg = 50, .longitude_deg = 10};
    static struct darkness night;
    struct plan_item item;
    struct error err = {0};
    ck_assert(darkness_find(&night, &place, 2026, 1, 18, NAN, DARKNESS_ASTRONOMICAL));
    const struct object *object = name ? objects_find(&objects, name) : &disc;
    ck_assert_msg(object != NULL, "%s", name);
    ck_assert_msg(plan_target(&item, object, &objects, &night, settings, &err) == 0, "%s",
                  err.text);
    return item;
}

static struct plan_item plan(const char *name, double shortest_mm, double longest_mm)
{
    const struct plan_settings settings = settings_of(shortest_mm, longest_mm);
    return plan_with(name, &settings);
}

/* What a common 70-300 mm f/4-5.6 shows on its camera, in the middle of each step: f/4 to 104 mm,
 * f/4.5 to 154, f/5 to 228, f/5.6 from there on (from memory). */
START_TEST(a_lens_closes_as_it_gets_longer)
{
    const struct lens_range range = {70, 300, 4, 5.6};
    static const double samples[][2] = {{50, 4},    {70, 4},    {87, 4},    {130, 4.5},
                                        {190, 5.0}, {265, 5.6}, {300, 5.6}, {400, 5.6}};
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        assert_near(lens_aperture(&range, samples[i][0]), samples[i][1], 0, "f");
    }
    const struct lens_range constant = {70, 200, 2.8, 2.8}, odd = {24, 70, 3.3, 3.4};
    assert_near(lens_aperture(&constant, 110), 2.8, 0, "f");
    double between = lens_aperture(&odd, 40); /* no third lies between its ends */
    ck_assert(between >= 3.3 && between <= 3.4);
}
END_TEST

START_TEST(marks_of_the_ring)
{
    static const double samples[][2] = {{300, 290}, {205, 200}, {110, 100}, {100, 95}, {55, 50},
                                        {38, 35},   {36, 35},   {35, 34},   {18.5, 18}};
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        assert_near(zoom_next_mm(samples[i][0], 1), samples[i][1], 1e-9, "mm");
    }
    assert_near(zoom_next_mm(72, 70), 70, 1e-9, "mm");
    assert_near(zoom_next_mm(75, 72), 72, 1e-9, "mm");
}
END_TEST

/* The disc may take 0.70 of the height, less margins of a fiftieth on each side: by plain tangents.
 */
START_TEST(seven_tenths_of_the_frame_are_filled)
{
    const struct plan_item item = plan(NULL, 70, 500);
    double size = 1.6;
    double needed_mm = 0.7 * 0.96 * 14.8 / (2 * tan(size / 2 * RAD_PER_DEG));
    double want = 10 * floor(needed_mm / 10);
    ck_assert_int_eq((int)item.zoom, ZOOM_FITTED);
    assert_near(item.camera.focal_mm, want, 0, "mm");
    const struct lens_range range = {70, 500, 4, 5.6};
    assert_near(item.camera.f_number, lens_aperture(&range, want), 0, "f");
    assert_near(item.size_share, size / (2 * atan(7.4 / want) * DEG_PER_RAD), 1e-9, "");
    double rule_s = 500 / want; /* the exposure follows */
    ck_assert(item.shots.exposure_s <= rule_s && item.shots.exposure_s > 0.75 * rule_s);
}
END_TEST

START_TEST(small_large_and_too_large)
{
    struct plan_item item = plan("M 57", 70, 300);
    ck_assert_int_eq((int)item.zoom, ZOOM_LONGEST);
    assert_near(item.camera.focal_mm, 300, 0, "mm");
    item = plan("M 45", 300, 320);
    ck_assert_int_eq((int)item.zoom, ZOOM_SHORTEST);
    assert_near(item.camera.focal_mm, 300, 0, "mm");
    item = plan("M 31", 500, 600);
    ck_assert_int_eq((int)item.zoom, ZOOM_TOO_LARGE);
    assert_near(item.camera.focal_mm, 500, 0, "mm");
}
END_TEST

/* The words and the numbers are those of the item. */
START_TEST(the_reason_is_told)
{
    const struct plan_item item = plan("M 45", 70, 500);
    const struct plan_settings settings = {.zoom = {70, 500, 4, 5.6}};
    char text[200], start[80];
    plan_write_zoom(text, sizeof text, &item, &settings);
    snprintf(start, sizeof start, "%g mm of 70 to 500, f/%g there: the longest that leaves",
             item.camera.focal_mm, item.camera.f_number);
    ck_assert_msg(strncmp(text, start, strlen(start)) == 0, "%s", text);
    struct plan_item none = item;
    none.zoom = ZOOM_NONE;
    plan_write_zoom(text, sizeof text, &none, &settings);
    ck_assert_str_eq(text, "");
}
END_TEST

/* Learned at 100 and at 400 mm: barrel of 2 % at 14 mm from the axis, and pincushion of 1 %. */
static const char lessons[] =
    "[lens Zoom]\nfocal = 70-500\n"
    "[profile short]\nlens = Zoom\nfocal = 100\nradius = 14\ndistortion = -2\nerror = 0.01\n"
    "[profile long]\nlens = Zoom\nfocal = 400\nradius = 14\ndistortion = 1\nerror = 0.01\n";

/* What was learned counts at the focal length that is chosen: between two by their logarithms, and
 * no more than 3 % beyond the last. */
START_TEST(a_zoom_bends_as_it_was_learned_where_it_is_set)
{
    static struct rig_file file;
    struct error err = {0};
    ck_assert_int_eq(rig_parse(&file, lessons, strlen(lessons), "rig.ini", &err), 0);
    struct plan_settings settings = settings_of(70, 500);
    const struct plan_item unlearned = plan_with("M 45", &settings);
    settings.learned = (struct plan_lesson){&file, &file.lens[0]};
    const struct plan_item item = plan_with("M 45", &settings);
    double focal = item.camera.focal_mm;
    ck_assert_int_eq((int)item.zoom, ZOOM_FITTED);
    ck_assert_msg(focal > 110 && focal < 390, "%g mm", focal);
    double percent = -2 + 3 * log(focal / 100) / log(4);
    assert_near(100 * plan_corner_distortion(&item.camera), percent, 0.1, "%");
    assert_near(item.camera.lens.radius, 14 / focal, 1e-12, "");
    /* A batch is that of a lens of this one focal length, which bends so. */
    struct plan_settings fixed = settings_of(focal, focal);
    fixed.zoom = (struct lens_range){0};
    fixed.camera = item.camera;
    const struct plan_item same = plan_with("M 45", &fixed);
    ck_assert_int_eq(same.shots.batch.frames, item.shots.batch.frames);
    /* Of a lens that is not known nothing is promised. */
    ck_assert(item.shots.batch.has_smear && !unlearned.shots.batch.has_smear);
    ck_assert_double_gt(item.shots.batch.smear_px[SMEAR_HOMOGRAPHY], 0.1);
    /* Far beyond what was learned nothing is made up. */
    const struct plan_item beyond = plan_with("M 57", &settings);
    assert_near(beyond.camera.focal_mm, 500, 0, "mm");
    assert_near(beyond.camera.lens.radius, 0, 0, "");
}
END_TEST

Suite *zoom_suite(void)
{
    Suite *s = suite_create("zoom");
    TCase *c = tcase_create("zoom");
    tcase_add_unchecked_fixture(c, objects_fixture_load, objects_fixture_free);
    tcase_add_test(c, a_lens_closes_as_it_gets_longer);
    tcase_add_test(c, marks_of_the_ring);
    tcase_add_test(c, seven_tenths_of_the_frame_are_filled);
    tcase_add_test(c, small_large_and_too_large);
    tcase_add_test(c, the_reason_is_told);
    tcase_add_test(c, a_zoom_bends_as_it_was_learned_where_it_is_set);
    suite_add_tcase(s, c);
    return s;
}
