/* What the stars of made-up frames tell of a made-up lens, held against that lens. */
#include "base/random.h"
#include "base/units.h"
#include "match/lens_fit.h"
#include "near.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

Suite *lens_fit_suite(void);

enum { MOST_VIEWS = 12, MOST_STARS = 400, WIDTH = 6000, HEIGHT = 4000 };

static const double half_px = 3605.551275463989; /* half the diagonal of WIDTH x HEIGHT */

/* How frames are made. */
struct setting {
    struct lens_profile lens; /* but for the radius */
    double focal_px;
    int views, stars;
    double noise_px; /* of each place; stars of the second half of the list ten times worse if: */
    bool unequal;
    double strangers; /* share of places that are another star's */
    double own_px;    /* of each star, the same in all frames */
    double reach;     /* stars lie within so much of the half diagonal; 0: anywhere */
};

static struct lens_sighting sighting[MOST_VIEWS][MOST_STARS];
static struct lens_view view[MOST_VIEWS];

/* The WCS that draws as the lens does: by the SIP polynomials of sky/wcs.h, which are tested
 * against WCSLIB. */
static void draw_by(struct wcs *wcs, const struct setting *setting, struct random *random)
{
    double v[3];
    struct lens_profile lens = setting->lens;
    const double up = random_between(random, 0, 2 * PI);
    const double step = DEG_PER_RAD / setting->focal_px;
    random_direction(random, v);
    *wcs = (struct wcs){.width = WIDTH, .height = HEIGHT};
    vector_to_radec(&wcs->ra_deg, &wcs->dec_deg, v);
    wcs->x = half_px * lens.axis_x;
    wcs->y = half_px * lens.axis_y;
    wcs->cd[0][0] = wcs->cd[1][1] = -step * cos(up);
    wcs->cd[1][0] = step * sin(up);
    wcs->cd[0][1] = -step * sin(up);
    lens.radius = half_px / setting->focal_px;
    lens_profile_bend(wcs, &lens, setting->focal_px);
}

/* Attitude as a solution knows it: from three directions about the middle. */
static void look_by(struct pose *pose, const struct wcs *wcs, double focal_px)
{
    double right[3];
    *pose = (struct pose){.focal_px = focal_px * 1.001, .half_diagonal = half_px};
    wcs_direction(pose->axis[2], wcs, 0, 0);
    wcs_direction(right, wcs, 100, 0);
    double along = vector_dot(right, pose->axis[2]);
    for (int i = 0; i < 3; i++) {
        pose->axis[0][i] = right[i] - along * pose->axis[2][i];
    }
    vector_normalise(pose->axis[0]);
    vector_cross(pose->axis[1], pose->axis[2], pose->axis[0]);
}

/* Star k of a view stands where it does by chance; in all views it has the same number and fault of
 * its own. */
static void take(const struct setting *setting, struct random *random)
{
    double own[MOST_STARS][2];
    for (int k = 0; k < setting->stars; k++) {
        own[k][0] = setting->own_px * random_normal(random);
        own[k][1] = setting->own_px * random_normal(random);
    }
    for (int i = 0; i < setting->views; i++) {
        struct wcs wcs;
        draw_by(&wcs, setting, random);
        look_by(&view[i].pose, &wcs, setting->focal_px);
        view[i].sighting = sighting[i];
        view[i].count = setting->stars;
        for (int k = 0; k < setting->stars; k++) {
            struct lens_sighting *s = &sighting[i][k];
            double worse = setting->unequal && k > setting->stars / 2 ? 10 : 1;
            double noise = worse * setting->noise_px;
            do {
                s->x = random_between(random, -WIDTH / 2.0, WIDTH / 2.0);
                s->y = random_between(random, -HEIGHT / 2.0, HEIGHT / 2.0);
            } while (setting->reach > 0 && hypot(s->x, s->y) > setting->reach * half_px);
            wcs_direction(s->v, &wcs, s->x, s->y);
            s->error = worse;
            s->star = (uint32_t)(7 * k + 3);
            bool stranger = random_uniform(random) < setting->strangers;
            s->x += own[k][0] + noise * random_normal(random) + (stranger ? 6 : 0);
            s->y += own[k][1] + noise * random_normal(random) - (stranger ? 3 : 0);
        }
    }
}

static struct lens_lesson learn(const struct setting *setting, struct random *random)
{
    struct lens_lesson lesson;
    struct error err = {0};
    take(setting, random);
    int code = lens_fit(&lesson, view, setting->views, half_px, &err);
    ck_assert_msg(code == 0, "code %d", code);
    return lesson;
}

static double corner(const struct lens_profile *lens)
{
    return lens_profile_at(lens, 1);
}

static struct setting telephoto(void)
{
    return (struct setting){.lens = {.term = {-0.006, 0.002}},
                            .focal_px = 17000,
                            .views = 10,
                            .stars = 100,
                            .noise_px = 0.2};
}

/* Without errors all comes back: terms, axis and attitude of each view. */
START_TEST(test_exact_stars)
{
    struct random random = {11};
    struct setting setting = telephoto();
    setting.noise_px = 0;
    setting.lens.axis_x = 0.01;
    setting.lens.axis_y = -0.004;
    struct lens_lesson lesson = learn(&setting, &random);
    ck_assert_int_eq(lesson.terms, 2);
    ck_assert(lesson.has_axis);
    /* What is expected of lenses beforehand pulls a little, even against exact stars. */
    assert_near(lesson.profile.term[0], -0.006, 1e-8, "share");
    assert_near(lesson.profile.term[1], 0.002, 1e-8, "share");
    assert_near(lesson.profile.axis_x, 0.01, 1e-6, "share");
    assert_near(lesson.profile.axis_y, -0.004, 1e-6, "share");
    assert_near(lesson.focal_px, 17000, 1e-3, "px");
    assert_near(lesson.profile.radius, half_px / 17000, 1e-8, "");
    assert_near(lesson.rms_px, 0, 1e-4, "px");
    ck_assert_int_eq(lesson.frames, 10);
    ck_assert_int_eq(lesson.stars, 1000);
    ck_assert_int_eq(lesson.left_out, 0);
    ck_assert(lesson.farthest > 0.9 && lesson.farthest < 1.02);
}
END_TEST

/* As many terms as there are. */
START_TEST(test_terms)
{
    static const struct lens_profile lenses[] = {{.radius = 0},
                                                 {.term = {0.006}},
                                                 {.term = {-0.006, 0.002}},
                                                 {.term = {-0.02, 0.01, -0.003}}};
    struct random random = {12};
    for (int terms = 0; terms <= LENS_TERMS; terms++) {
        struct setting setting = telephoto();
        int right = 0;
        setting.lens = lenses[terms];
        for (int round = 0; round < 20; round++) {
            struct lens_lesson lesson = learn(&setting, &random);
            right += lesson.terms == terms && !lesson.has_axis;
        }
        /* The criterion lets one in a hundred through that is none. */
        ck_assert_msg(right >= 18, "%d terms: %d of 20 right", terms, right);
    }
}
END_TEST

/* How what is learned keeps to what it says: shares within one and two of its errors, and both as
 * root mean squares, px at the corner. */
struct record {
    double within_one, within_two, off_px, said_px, worst_px;
};

static struct record keep_record(const struct setting *setting, int rounds, uint64_t seed)
{
    struct random random = {seed};
    struct record record = {0};
    for (int round = 0; round < rounds; round++) {
        struct lens_lesson lesson = learn(setting, &random);
        double off = corner(&lesson.profile) - corner(&setting->lens), said = lesson.profile.error;
        record.within_one += fabs(off) < said ? 1.0 / rounds : 0;
        record.within_two += fabs(off) < 2 * said ? 1.0 / rounds : 0;
        record.off_px += off * off / rounds;
        record.said_px += said * said / rounds;
        record.worst_px = fmax(record.worst_px, fabs(off) * half_px);
    }
    record.off_px = sqrt(record.off_px) * half_px;
    record.said_px = sqrt(record.said_px) * half_px;
    return record;
}

enum { ROUNDS = 150 };

/* A normal distribution has 68 and 95 % within one and two deviations; of 150, 4 and 2 % are the
 * errors of counting. An error that also covers lenses of one term more is often too large. */
static void assert_honest(const struct record *record)
{
    ck_assert_msg(record->within_one > 0.6, "%.0f %% within the error", 100 * record->within_one);
    ck_assert_msg(record->within_two > 0.91, "%.0f %% within twice it", 100 * record->within_two);
    ck_assert_msg(record->off_px < 1.15 * record->said_px, "off by %.3f px, said %.3f",
                  record->off_px, record->said_px);
}

/* A lens with 0.2 % of fifth order, 7 px at the corner: ten frames tell it to 0.1 px there. */
START_TEST(test_error_of_a_night)
{
    struct setting setting = telephoto();
    struct record record = keep_record(&setting, ROUNDS, 13);
    assert_honest(&record);
    ck_assert_msg(record.said_px < 1.5 * record.off_px, "said %.3f px", record.said_px);
    ck_assert_msg(record.off_px < 0.1, "off by %.3f px", record.off_px);
    ck_assert_msg(record.worst_px < 0.5, "at worst off by %.3f px", record.worst_px);
    ck_assert_msg(record.said_px < 0.1, "said %.3f px", record.said_px);
}
END_TEST

/* Of one frame with few stars nothing is made up: what it cannot show is in the error. */
START_TEST(test_error_of_few_stars)
{
    static const int stars[] = {12, 20, 40};
    for (int i = 0; i < 3; i++) {
        struct setting setting = telephoto();
        setting.views = 1;
        setting.stars = stars[i];
        struct record record = keep_record(&setting, ROUNDS, 14);
        assert_honest(&record);
        setting.stars = stars[i];
        setting.lens = (struct lens_profile){.radius = 0};
        record = keep_record(&setting, ROUNDS, 15);
        assert_honest(&record);
        ck_assert_msg(record.off_px < 3, "a straight lens bends by %.1f px", record.off_px);
    }
}
END_TEST

/* Stars of the middle alone say little of the corner, and it is said. */
START_TEST(test_error_beyond_the_stars)
{
    struct setting setting = telephoto();
    setting.views = 3;
    setting.stars = 50;
    setting.reach = 0.5;
    struct record record = keep_record(&setting, ROUNDS, 16);
    assert_honest(&record);
    ck_assert(record.said_px > 1);
}
END_TEST

/* Neighbours and the catalogue pull a star the same way in every frame: more frames do not make it
 * better, and are not said to. */
START_TEST(test_error_of_the_same_stars)
{
    struct setting setting = telephoto();
    setting.noise_px = 0.05;
    setting.own_px = 0.2;
    struct record record = keep_record(&setting, ROUNDS, 17);
    assert_honest(&record);
}
END_TEST

/* Stars that are ten times as exact as the rest count for it. */
START_TEST(test_unequal_stars)
{
    struct setting setting = telephoto();
    setting.noise_px = 0.05;
    setting.unequal = true;
    struct record record = keep_record(&setting, ROUNDS, 18);
    assert_honest(&record);
    ck_assert_msg(record.off_px < 0.035, "off by %.3f px", record.off_px);
}
END_TEST

/* One in twenty is another star, 7 px off. */
START_TEST(test_strangers)
{
    struct setting setting = telephoto();
    struct random random = {19};
    setting.strangers = 0.05;
    struct lens_lesson lesson = learn(&setting, &random);
    ck_assert_int_ge(lesson.left_out, 30);
    ck_assert_int_le(lesson.left_out, 80);
    struct record record = keep_record(&setting, ROUNDS, 20);
    assert_honest(&record);
    ck_assert_msg(record.off_px < 0.12, "off by %.3f px", record.off_px);
}
END_TEST

/* A wide lens whose axis is 36 px off. */
START_TEST(test_axis)
{
    struct random random = {21};
    struct setting setting = telephoto();
    int within = 0;
    setting.focal_px = 5000;
    setting.lens.axis_x = 0.01;
    for (int round = 0; round < 40; round++) {
        struct lens_lesson lesson = learn(&setting, &random);
        ck_assert(lesson.has_axis);
        assert_near(lesson.profile.axis_x, 0.01, 5 * lesson.profile.axis_error, "share");
        assert_near(lesson.profile.axis_y, 0, 5 * lesson.profile.axis_error, "share");
        ck_assert_msg(lesson.profile.axis_error * half_px < 3, "%.1f px",
                      lesson.profile.axis_error * half_px);
        within += fabs(lesson.profile.axis_x - 0.01) < lesson.profile.axis_error;
    }
    ck_assert_int_ge(within, 23); /* 27 = 68 % are expected; 4 is the error of counting */
}
END_TEST

/* A frame of another lens among many, or of few stars, does no harm. */
START_TEST(test_bad_frames)
{
    struct random random = {22};
    struct setting setting = telephoto();
    struct lens_lesson lesson;
    struct error err = {0};
    take(&setting, &random);
    for (int k = 0; k < view[3].count; k++) {
        view[3].sighting[k].x += 40 * random_normal(&random);
        view[3].sighting[k].y += 40 * random_normal(&random);
    }
    view[5].count = 7;
    ck_assert_int_eq(lens_fit(&lesson, view, setting.views, half_px, &err), 0);
    assert_near(corner(&lesson.profile) * half_px, -0.004 * half_px, 0.4, "px");
    ck_assert_int_eq(lesson.frames, 8); /* without both */
}
END_TEST

START_TEST(test_nothing_to_learn_from)
{
    struct random random = {23};
    struct setting setting = telephoto();
    struct lens_lesson lesson;
    struct error err = {0};
    setting.stars = 7;
    take(&setting, &random);
    ck_assert_int_eq(lens_fit(&lesson, view, setting.views, half_px, &err), ERROR_NO);
    ck_assert_int_eq(lens_fit(&lesson, view, 0, half_px, &err), ERROR_NO);
    setting.stars = 20;
    take(&setting, &random);
    for (int k = 1; k < view[0].count; k++) { /* all of them one */
        view[0].sighting[k] = view[0].sighting[0];
    }
    ck_assert_int_eq(lens_fit(&lesson, view, 1, half_px, &err), ERROR_NO);
    ck_assert_str_eq(err.text, "");
}
END_TEST

/* Six stars are enough to point a camera whose lens is known: all the rest of the frame follows. */
START_TEST(test_view_of_a_known_lens)
{
    struct random random = {24};
    struct setting setting = telephoto();
    setting.lens.axis_x = 0.02;
    setting.views = 1;
    setting.stars = 40;
    setting.noise_px = 0.05;
    double worst = 0;
    for (int round = 0; round < 20; round++) {
        take(&setting, &random);
        struct lens_view few = view[0];
        few.count = 6;
        ck_assert(lens_fit_view(&few, &setting.lens, half_px, 0.1));
        for (int k = 6; k < 40; k++) {
            double p[2];
            const struct lens_sighting *s = &view[0].sighting[k];
            ck_assert(pose_project(p, NULL, &few.pose, s->v));
            double x = s->x - 0.02 * half_px, y = s->y;
            double grow = 1 - lens_profile_at(&setting.lens, hypot(x, y) / half_px);
            worst = fmax(worst, hypot(p[0] - grow * x, p[1] - grow * y));
        }
    }
    /* Six places good to 0.05 px, thrown three times as far as they lie apart at worst. */
    ck_assert_msg(worst < 0.6, "%.2f px", worst);
    struct lens_view none = view[0];
    none.count = 1;
    struct pose before = none.pose;
    ck_assert(!lens_fit_view(&none, &setting.lens, half_px, 0.1));
    ck_assert(memcmp(&before, &none.pose, sizeof before) == 0);
}
END_TEST

/* Drawn at r from the axis, a star belongs at r (1 - d): the WCS says so in each direction. */
START_TEST(test_profile_bends)
{
    const struct lens_profile lens = {.radius = 0.2, .term = {-0.03, 0.02, -0.004}};
    const double focal_px = 5000;
    struct wcs straight = {.ra_deg = 80, .dec_deg = 20, .width = 2000, .height = 2000}, bent;
    straight.cd[0][0] = straight.cd[1][1] = -DEG_PER_RAD / focal_px;
    bent = straight;
    lens_profile_bend(&bent, &lens, focal_px);
    ck_assert_int_eq(bent.order, 7);
    for (int i = 0; i < 36; i++) {
        double r = 30.0 * i, s = r / 1000, v[3], x, y;
        double d = -0.03 * s * s + 0.02 * pow(s, 4) - 0.004 * pow(s, 6);
        double c = cos(i * 0.7), sine = sin(i * 0.7);
        assert_near(lens_profile_at(&lens, s), d, 1e-15, "share");
        double before = (s - 1e-5) * lens_profile_at(&lens, s - 1e-5);
        double after = (s + 1e-5) * lens_profile_at(&lens, s + 1e-5);
        assert_near(lens_profile_slope(&lens, s), (after - before) / 2e-5, 1e-9, "share");
        wcs_direction(v, &straight, r * (1 - d) * c, r * (1 - d) * sine);
        ck_assert(wcs_pixel(&x, &y, &bent, v));
        assert_near(x, r * c, 1e-5, "px");
        assert_near(y, r * sine, 1e-5, "px");
    }
    lens_profile_bend(&bent, &(struct lens_profile){.radius = 0.2, .term = {0.01}}, focal_px);
    ck_assert_int_eq(bent.order, 3);
    lens_profile_bend(&bent, &(struct lens_profile){.radius = 0.2}, focal_px);
    ck_assert_int_eq(bent.order, 0);
}
END_TEST

START_TEST(test_profile_that_folds)
{
    ck_assert(lens_profile_is_sound(&(struct lens_profile){.radius = 0.2, .term = {-0.3}}));
    ck_assert(lens_profile_is_sound(&(struct lens_profile){.radius = 0.2, .term = {0.29}}));
    ck_assert(!lens_profile_is_sound(&(struct lens_profile){.radius = 0.2, .term = {0.34}}));
    ck_assert(!lens_profile_is_sound(&(struct lens_profile){.radius = 0.2, .term = {NAN}}));
    ck_assert(!lens_profile_is_sound(&(struct lens_profile){.radius = 0}));
    ck_assert_str_eq(lens_profile_word(-0.001, 2), "barrel");
    ck_assert_str_eq(lens_profile_word(0.001, 2), "pincushion");
    ck_assert_str_eq(lens_profile_word(-0.00004, 2), "no");
}
END_TEST

Suite *lens_fit_suite(void)
{
    Suite *suite = suite_create("lens_fit");
    TCase *profile = tcase_create("profile"), *fit = tcase_create("fit");
    TCase *errors = tcase_create("errors");
    tcase_set_timeout(errors, 120);
    tcase_add_test(profile, test_profile_bends);
    tcase_add_test(profile, test_profile_that_folds);
    tcase_add_test(fit, test_exact_stars);
    tcase_add_test(fit, test_terms);
    tcase_add_test(fit, test_axis);
    tcase_add_test(fit, test_bad_frames);
    tcase_add_test(fit, test_nothing_to_learn_from);
    tcase_add_test(fit, test_view_of_a_known_lens);
    tcase_add_test(errors, test_error_of_a_night);
    tcase_add_test(errors, test_error_of_few_stars);
    tcase_add_test(errors, test_error_beyond_the_stars);
    tcase_add_test(errors, test_error_of_the_same_stars);
    tcase_add_test(errors, test_unequal_stars);
    tcase_add_test(errors, test_strangers);
    suite_add_tcase(suite, profile);
    suite_add_tcase(suite, fit);
    suite_add_tcase(suite, errors);
    return suite;
}
