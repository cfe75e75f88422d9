/* The Moon and the planets as targets. */
#include "near.h"
#include "objects/wanderer.h"
#include "sky/vector.h"
#include "tripod/aim.h"

#include <check.h>
#include <math.h>

Suite *wanderer_suite(void);

START_TEST(names_lead_to_what_wanders_and_to_nothing_else)
{
    static const struct {
        const char *name;
        int which;
    } samples[] = {
        {"Jupiter", WANDERER_PLANET + PLANET_JUPITER},
        {"JÚPITER", WANDERER_PLANET + PLANET_JUPITER},
        {" saturn ", WANDERER_PLANET + PLANET_SATURN},
        {"Vénus", WANDERER_PLANET + PLANET_VENUS},
        {"VÉNUS", WANDERER_PLANET + PLANET_VENUS},
        {"Merkur", WANDERER_PLANET + PLANET_MERCURY},
        {"uranus", WANDERER_PLANET + PLANET_URANUS},
        {"Neptun", WANDERER_PLANET + PLANET_NEPTUNE},
        {"Mars", WANDERER_PLANET + PLANET_MARS},
        {"the Moon", WANDERER_MOON},
        {"Luna", WANDERER_MOON},
        {"Saturn Nebula", WANDERER_NONE},
        {"Ghost of Jupiter", WANDERER_NONE},
        {"Little Ghost", WANDERER_NONE},
        {"Sun", WANDERER_NONE},
        {"", WANDERER_NONE},
    };
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        ck_assert_msg((int)wanderer_find(samples[i].name) == samples[i].which, "%s",
                      samples[i].name);
    }
    for (int i = WANDERER_MOON; i < WANDERERS; i++) {
        ck_assert_int_eq((int)wanderer_find(wanderer_name((enum wanderer)i)), i);
    }
}
END_TEST

START_TEST(the_sun_is_known_by_its_names)
{
    static const char *const suns[] = {"Sun", " the SUN ", "sol", "Sonne", "le Soleil"};
    static const char *const others[] = {"Sunflower Galaxy", "", "solar", "Moon"};
    for (int i = 0; i < 5; i++) {
        ck_assert_msg(wanderer_is_sun(suns[i]), "%s", suns[i]);
    }
    for (int i = 0; i < 4; i++) {
        ck_assert_msg(!wanderer_is_sun(others[i]), "%s", others[i]);
    }
}
END_TEST

/* astropy 5.2.1, get_body from the Earth's centre with its built-in ephemeris, taken through
 * aberration backwards as check_bodies.py does: Jupiter and the Moon on 2026-01-10, 0h UTC. */
START_TEST(a_target_follows_what_moves)
{
    struct aim_target target;
    struct utc utc, later;
    ck_assert(time_read(&utc, "2026-01-10T00:00:00Z"));
    aim_target_wanderer(&target, WANDERER_PLANET + PLANET_JUPITER);
    ck_assert_str_eq(target.name, "Jupiter");
    ck_assert(aim_target_follow(&target, NULL, utc));
    assert_near(target.shape.ra_deg, 111.4451, 0.001, "deg");
    assert_near(target.shape.dec_deg, 22.2360, 0.001, "deg");
    ck_assert(target.shape.major_deg == 0);
    aim_target_wanderer(&target, WANDERER_MOON);
    ck_assert_str_eq(target.name, "the Moon");
    ck_assert(aim_target_follow(&target, NULL, utc));
    assert_near(target.shape.ra_deg, 189.9725, 0.002, "deg");
    assert_near(target.shape.dec_deg, -7.2591, 0.002, "deg");
    /* 29' to 34' across: from memory. */
    ck_assert(target.shape.major_deg > 0.24 && target.shape.major_deg < 0.29);
    double ra = target.shape.ra_deg, dec = target.shape.dec_deg;
    later = time_add(utc, 86400);
    ck_assert(aim_target_follow(&target, NULL, later));
    /* 13.2 degrees a day, 11.8 to 15.4: from memory. */
    double moved = radec_angle_deg(ra, dec, target.shape.ra_deg, target.shape.dec_deg);
    ck_assert_msg(moved > 11.5 && moved < 15.6, "%g", moved);
}
END_TEST

START_TEST(what_stands_still_stays)
{
    struct aim_target target;
    struct utc utc;
    ck_assert(time_read(&utc, "2026-01-10T00:00:00Z"));
    aim_target_radec(&target, 12, 34);
    ck_assert(aim_target_follow(&target, NULL, utc));
    ck_assert(target.shape.ra_deg == 12 && target.shape.dec_deg == 34);
}
END_TEST

Suite *wanderer_suite(void)
{
    Suite *s = suite_create("wanderer");
    TCase *c = tcase_create("wanderer");
    tcase_add_test(c, names_lead_to_what_wanders_and_to_nothing_else);
    tcase_add_test(c, the_sun_is_known_by_its_names);
    tcase_add_test(c, a_target_follows_what_moves);
    tcase_add_test(c, what_stands_still_stays);
    suite_add_tcase(s, c);
    return s;
}
