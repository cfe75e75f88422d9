/* A skyline learned from stars that show and others that are hidden. */
#include "base/random.h"
#include "near.h"
#include "tripod/skyline_lesson.h"

#include <math.h>

Suite *skyline_lesson_suite(void);

enum { STARS = 12000 };

static struct skyline_star star[STARS];
static struct skyline_lesson lesson;

/* Stars over the whole sky up to 60 degrees, 1.5 on a square degree, of those not hidden 5 % missed
 * and half of those within 0.7 degrees of the roof; only where the azimuth is on the right side. */
static int make_stars(const struct skyline *roof, double from_deg, double until_deg)
{
    struct random random = {51};
    int stars = 0;
    for (int i = 0; i < STARS; i++) {
        double azimuth = random_between(&random, 0, 360), z = random_between(&random, 0, 0.866);
        double altitude = asin(z) * 57.29578;
        double above = altitude - skyline_altitude(roof, azimuth);
        double missed = above < 0.7 ? 0.5 : 0.05;
        bool seen = above > 0 && random_between(&random, 0, 1) > missed;
        if (azimuth >= from_deg && azimuth <= until_deg) {
            star[stars++] = (struct skyline_star){azimuth, altitude, seen, 0.95, 0.5};
        }
    }
    return stars;
}

static void learn(const struct skyline *roof, double from_deg, double until_deg)
{
    struct error err = {0};
    int stars = make_stars(roof, from_deg, until_deg);
    ck_assert_int_eq(skyline_lesson_find(&lesson, star, stars, &err), 0);
}

/* Share of azimuths at which it is known and within so many degrees. */
static double share_within(const struct skyline *roof, double from_deg, double until_deg,
                           double bound_deg)
{
    int right = 0, all = 0;
    for (double azimuth = from_deg; azimuth < until_deg; azimuth += 0.5, all++) {
        double off = skyline_altitude(&lesson.skyline, azimuth) - skyline_altitude(roof, azimuth);
        right += fabs(off) < bound_deg;
    }
    return (double)right / all;
}

START_TEST(a_village_all_around)
{
    struct skyline roof = {0};
    ck_assert(
        skyline_read(&roof, "350:20 10:30 30:12 80:12 80:25 120:25 120:9 180:40 230:5 300:14"));
    learn(&roof, 0, 360);
    ck_assert(share_within(&roof, 0, 360, 1) > 0.9);
    ck_assert(share_within(&roof, 0, 360, 0.5) > 0.7);
    ck_assert(lesson.known_deg > 340);
    assert_near(lesson.highest_azimuth_deg, 180, 4, "deg");
    assert_near(lesson.highest_deg, 39.5, 1.5, "deg");
    ck_assert(lesson.error_deg > 0.1 && lesson.error_deg < 1);
}
END_TEST

START_TEST(what_no_frame_has_seen_stays_open)
{
    struct skyline roof = {0};
    ck_assert(skyline_read(&roof, "0:15 90:25 180:15 270:20"));
    learn(&roof, 100, 200);
    ck_assert(share_within(&roof, 104, 196, 1) > 0.9);
    for (double azimuth = 208; azimuth < 360 + 92; azimuth += 2) {
        ck_assert(isnan(skyline_altitude(&lesson.skyline, azimuth)));
    }
    assert_near(lesson.known_deg, 100, 8, "deg");
}
END_TEST

/* Only open sky, and only a wall before the lens: no edge is seen. */
START_TEST(without_an_edge_nothing_is_learned)
{
    struct skyline none = {0}, wall = {0};
    ck_assert(skyline_add(&none, 0, -5) && skyline_add(&wall, 0, 80));
    learn(&none, 0, 360);
    ck_assert(lesson.known_deg == 0 && lesson.skyline.points == 0 && isnan(lesson.error_deg));
    learn(&wall, 100, 160);
    ck_assert(lesson.known_deg == 0 && lesson.skyline.points == 0);
    struct error err = {0};
    ck_assert_int_eq(skyline_lesson_find(&lesson, star, 0, &err), 0);
    ck_assert(lesson.known_deg == 0);
}
END_TEST

START_TEST(an_earlier_lesson_is_kept_beside_a_new_one)
{
    struct skyline roof = {0}, before = {0};
    ck_assert(skyline_read(&roof, "0:15 90:25 180:15 270:20"));
    ck_assert(skyline_read(&before, "110:60 130:60 131:- 210:33 300:33 301:-"));
    learn(&roof, 100, 200);
    skyline_lesson_unite(&lesson, &before);
    ck_assert(share_within(&roof, 104, 196, 1) > 0.9);
    assert_near(skyline_altitude(&lesson.skyline, 250), 33, 0.01, "deg");
    ck_assert(isnan(skyline_altitude(&lesson.skyline, 350)));
    ck_assert(isnan(skyline_altitude(&lesson.skyline, 40)));
}
END_TEST

/* A jagged edge all around, of which every second piece is open, has room, too. */
START_TEST(there_is_room_for_any_lesson)
{
    struct skyline before = {0};
    for (int i = 0; i < 90; i++) {
        ck_assert(skyline_add(&before, 4 * i, i % 2 ? 10 : 30));
        ck_assert(skyline_add(&before, 4 * i + 1, NAN));
    }
    struct error err = {0};
    ck_assert_int_eq(skyline_lesson_find(&lesson, star, 0, &err), 0);
    skyline_lesson_unite(&lesson, &before);
    for (int i = 0; i < 90; i++) {
        assert_near(skyline_altitude(&lesson.skyline, 4 * i), i % 2 ? 10 : 30, 1e-9, "deg");
        ck_assert(isnan(skyline_altitude(&lesson.skyline, 4 * i + 2)));
    }
}
END_TEST

Suite *skyline_lesson_suite(void)
{
    Suite *suite = suite_create("skyline lesson");
    TCase *tests = tcase_create("lesson");
    tcase_set_timeout(tests, 60);
    tcase_add_test(tests, a_village_all_around);
    tcase_add_test(tests, what_no_frame_has_seen_stays_open);
    tcase_add_test(tests, without_an_edge_nothing_is_learned);
    tcase_add_test(tests, an_earlier_lesson_is_kept_beside_a_new_one);
    tcase_add_test(tests, there_is_room_for_any_lesson);
    suite_add_tcase(suite, tests);
    return suite;
}
