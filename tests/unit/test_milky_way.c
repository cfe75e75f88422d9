/* Parts of the Milky Way as targets. */
#include "near.h"
#include "objects/milky_way.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

Suite *milky_way_suite(void);

/* astropy 5.2.1: SkyCoord of galactic longitude l, latitude 0, as ICRS, and get_constellation
 * there. */
static const struct {
    double ra, dec;
    const char *constellation;
} places[MILKY_WAY_PARTS] = {
    {266.4050, -28.9362, "Sagittarius"}, {279.2242, -7.0546, "Scutum"},
    {307.4231, 39.0548, "Cygnus"},       {10.8164, 62.8570, "Cassiopeia"},
    {81.2841, 35.6679, "Auriga"},        {103.8028, -1.8405, "Monoceros"},
    {135.9985, -46.8564, "Vela"},        {188.6287, -62.8083, "Crux"},
};

START_TEST(parts_lie_on_the_galactic_equator)
{
    for (int i = 0; i < MILKY_WAY_PARTS; i++) {
        struct object part, found;
        char name[60];
        milky_way_part(&part, i);
        assert_near(part.ra_deg, places[i].ra, 1e-3, "deg");
        assert_near(part.dec_deg, places[i].dec, 1e-3, "deg");
        ck_assert(part.angle_deg >= 0 && part.angle_deg < 180);
        snprintf(name, sizeof name, "Milky Way in %s", places[i].constellation);
        ck_assert_msg(milky_way_find(&found, name), "%s", name);
        ck_assert_str_eq(found.id, part.id);
        ck_assert(milky_way_find(&found, part.id) && strcmp(found.id, part.id) == 0);
    }
}
END_TEST

/* At the centre the plane runs 31.4 degrees east of north: the position angle of galactic north
 * there is 58.6 degrees west of north (from memory: 58.6). */
START_TEST(the_centre_lies_as_the_plane_runs)
{
    struct object part;
    milky_way_part(&part, 0);
    assert_near(part.angle_deg, 31.4, 0.2, "deg");
}
END_TEST

START_TEST(names)
{
    struct object found = {.id = "untouched"};
    static const char *const centre[] = {"Milky Way", "the milky way", "MILKY WAY CENTER",
                                         "Galactic Centre"};
    for (int i = 0; i < 4; i++) {
        ck_assert_msg(milky_way_find(&found, centre[i]), "%s", centre[i]);
        ck_assert_str_eq(found.id, "Milky Way (centre)");
    }
    found.id = "untouched";
    ck_assert(!milky_way_find(&found, "Milky") && !milky_way_find(&found, "M 24") &&
              !milky_way_find(&found, ""));
    ck_assert_str_eq(found.id, "untouched");
}
END_TEST

Suite *milky_way_suite(void)
{
    Suite *s = suite_create("milky_way");
    TCase *c = tcase_create("milky_way");
    tcase_add_test(c, parts_lie_on_the_galactic_equator);
    tcase_add_test(c, the_centre_lies_as_the_plane_runs);
    tcase_add_test(c, names);
    suite_add_tcase(s, c);
    return s;
}
