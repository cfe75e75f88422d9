#include "base/units.h"
#include "frames.h"
#include "near.h"
#include "objects/cover.h"
#include "objects/ellipse.h"
#include "objects/outline.h"
#include "objects_fixture.h"
#include "plan/signal.h"
#include "scratch.h"
#include "sky/vector.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const struct object *known(const char *name)
{
    const struct object *object = objects_find(&objects, name);
    ck_assert_msg(object != NULL, "%s", name);
    return object;
}

/* Handbook values, from memory; to the two tenths by which handbooks differ. */
START_TEST(magnitudes_are_visual)
{
    static const struct {
        const char *name;
        double v_mag;
    } handbook[] = {{"M 97", 9.9},     {"M 76", 10.1},    {"M 27", 7.4},     {"NGC 253", 7.2},
                    {"M 20", 6.3},     {"M 17", 6.0},     {"M 57", 8.8},     {"NGC 7293", 7.3},
                    {"NGC 7027", 8.5}, {"NGC 6572", 8.1}, {"NGC 3242", 7.7}, {"M 31", 3.4},
                    {"M 87", 8.6},     {"M 106", 8.4},    {"M 10", 6.6},     {"NGC 5139", 3.9}};
    for (size_t i = 0; i < sizeof handbook / sizeof *handbook; i++) {
        const struct object *object = known(handbook[i].name);
        ck_assert_msg(fabs(object->magnitude - handbook[i].v_mag) < 0.25, "%s: %.2f, not %.1f",
                      object->id, object->magnitude, handbook[i].v_mag);
    }
}
END_TEST

START_TEST(errors_hold_what_the_band_may_change)
{
    double mag, sigma;
    ck_assert(signal_surface(&mag, &sigma, known("M 27")));
    ck_assert(sigma >= 0.4 && sigma < 0.6);
    int unknown = 0, visual = 0;
    for (int i = 0; i < objects.deep_sky; i++) {
        const struct object *object = &objects.object[i];
        if (isnan(object->magnitude) || !signal_surface(&mag, &sigma, object)) {
            continue;
        }
        visual += !isnan(object->magnitude_error);
        unknown += isnan(object->magnitude_error);
        ck_assert(isnan(object->magnitude_error) ? sigma >= 1 : sigma < 0.7);
    }
    ck_assert_int_gt(visual, 5000);
    ck_assert_int_gt(unknown, 500);
}
END_TEST

/* Handbook values, from memory; sizes to an eighth, since each names another isophote. */
START_TEST(galaxies_have_sizes_and_angles)
{
    static const struct {
        const char *name;
        double major_arcmin, angle_deg;
    } handbook[] = {{"NGC 4631", 15.5, 86},  {"M 87", 8, 155},     {"NGC 891", 13.5, 22},
                    {"NGC 5907", 12.6, 155}, {"NGC 4244", 17, 48}, {"NGC 7331", 10.5, 171},
                    {"M 65", 9.2, 174},      {"M 98", 9.8, 155},   {"NGC 1365", 11.2, 32},
                    {"NGC 1097", 9.8, 130},  {"M 106", 18.6, 150}};
    for (size_t i = 0; i < sizeof handbook / sizeof *handbook; i++) {
        const struct object *object = known(handbook[i].name);
        double ratio = object->major_arcmin / handbook[i].major_arcmin;
        ck_assert_msg(ratio > 0.87 && ratio < 1.15, "%s: %.1f'", object->id, object->major_arcmin);
        double off = fmod(object->angle_deg - handbook[i].angle_deg + 270, 180) - 90;
        ck_assert_msg(fabs(off) < 8, "%s: %.0f deg", object->id, object->angle_deg);
    }
}
END_TEST

static bool holds(const char *name, double ra_deg, double dec_deg)
{
    struct sky_ellipse shape;
    double v[3];
    ellipse_from_object(&shape, known(name));
    ck_assert_msg(shape.outline != NULL, "%s", name);
    vector_from_radec(v, ra_deg, dec_deg);
    return ellipse_contains(&shape, v);
}

/* What every picture shows (common practice, no source); places of stars from memory, to an
 * arcminute. */
START_TEST(outlines_lie_where_nebulae_are)
{
    ck_assert(holds("M 42", 83.819, -5.390));       /* the Trapezium */
    ck_assert(holds("NGC 6960", 311.416, 30.720));  /* 52 Cyg */
    ck_assert(holds("M 45", 56.871, 24.105));       /* Alcyone */
    ck_assert(holds("M 45", 56.582, 23.948));       /* Merope */
    ck_assert(holds("NGC 2237", 97.98, 4.94));      /* NGC 2244 in the Rosette */
    ck_assert(holds("M 8", 271.1, -24.36));         /* NGC 6530 */
    ck_assert(holds("IC 405", 79.076, 34.313));     /* AE Aur */
    ck_assert(!holds("NGC 1499", 59.741, 35.791));  /* xi Per stands beside it */
    ck_assert(!holds("NGC 7000", 314.2, 43.2));     /* the dark Gulf */
    ck_assert(!holds("NGC 7000", 310.358, 45.280)); /* Deneb */
    ck_assert(!holds("M 42", 83.858, -5.910));      /* Hatysa */
}
END_TEST

/* The long sides of what pictures show, from memory, to a fifth. */
START_TEST(outlines_are_as_large_as_nebulae)
{
    static const struct {
        const char *name;
        double arcmin;
    } handbook[] = {{"NGC 1499", 160}, {"NGC 2237", 85}, {"IC 1805", 150},
                    {"IC 1396", 170},  {"M 1", 6},       {"NGC 7000", 120},
                    {"M 8", 90},       {"M 16", 35},     {"Sh2-103", 200}};
    for (size_t i = 0; i < sizeof handbook / sizeof *handbook; i++) {
        double rim[ELLIPSE_RIM_MOST][3], longest = 0;
        struct sky_ellipse shape;
        ellipse_from_object(&shape, known(handbook[i].name));
        int points = ellipse_rim(rim, &shape);
        for (int k = 0; k < points * points; k++) {
            longest = fmax(longest, vector_angle_deg(rim[k / points], rim[k % points]) * 60);
        }
        ck_assert_msg(fabs(longest / handbook[i].arcmin - 1) < 0.2, "%s: %.0f'", handbook[i].name,
                      longest);
    }
}
END_TEST

/* Moved to another place and turned there, an outline keeps its shape: what was within it before
 * is within it then. */
START_TEST(outlines_move_and_turn)
{
    struct sky_ellipse shape, moved;
    double rim[ELLIPSE_RIM_MOST][3], rim_moved[ELLIPSE_RIM_MOST][3];
    ellipse_from_object(&shape, known("NGC 7000"));
    moved = shape;
    moved.ra_deg = 20;
    moved.dec_deg = -80;
    moved.turn_deg += 70;
    int points = ellipse_rim(rim, &shape);
    ck_assert_int_eq(ellipse_rim(rim_moved, &moved), points);
    for (int i = 0; i < points; i++) {
        double v[2][3], ra[2], dec[2];
        struct sky_ellipse both[2] = {shape, moved};
        double turn[2];
        for (int k = 0; k < 2; k++) {
            memcpy(v[k], k ? rim_moved[i] : rim[i], sizeof v[k]);
            vector_to_radec(&ra[k], &dec[k], v[k]);
            turn[k] = radec_position_angle_deg(both[k].ra_deg, both[k].dec_deg, ra[k], dec[k]);
        }
        assert_near(radec_angle_deg(20, -80, ra[1], dec[1]),
                    radec_angle_deg(shape.ra_deg, shape.dec_deg, ra[0], dec[0]), 1e-9, "deg");
        assert_near(angle_wrap_180(turn[1] - turn[0]), 70, 1e-6, "deg");
    }
    double inner[ELLIPSE_AREA_MOST][3];
    int count = ellipse_area(inner, &moved);
    ck_assert_int_gt(count, 200);
    for (int i = 0; i < count; i++) {
        ck_assert(ellipse_contains(&moved, inner[i]));
        ck_assert(!ellipse_contains(&shape, inner[i]));
    }
}
END_TEST

/* The California Nebula lies askew: 160' long (from memory), but upright in a frame 2.9 degrees
 * wide and 1.9 high nothing of it is cut off, while the circle that stands for it without its
 * outline is.
 */
START_TEST(an_outline_needs_less_room_than_its_circle)
{
    struct sky_ellipse shape, guess;
    struct cover cover;
    ellipse_from_object(&shape, known("NGC 1499"));
    struct wcs wcs = frame_at(60.3, 36.37, 0, false, 6000, 4000, 2.9 * 3600 / 6000);
    cover_measure(&cover, &wcs, &shape, 0);
    ck_assert(cover.whole && cover.touched);
    assert_near(cover.share, 1, 1e-9, "share");
    guess = shape;
    guess.outline = NULL;
    guess.turn_unknown = true;
    cover_measure(&cover, &wcs, &guess, 0);
    ck_assert(!cover.whole);
    wcs = frame_at(60.3, 36.37 + 0.95, 0, false, 6000, 4000, 2.9 * 3600 / 6000);
    cover_measure(&cover, &wcs, &shape, 0);
    ck_assert(!cover.whole && cover.touched);
    ck_assert(cover.share > 0.2 && cover.share < 0.8); /* its middle is on the lower edge */
    wcs = frame_at(63, 36.37, 0, false, 6000, 4000, 0.5 * 3600 / 6000);
    cover_measure(&cover, &wcs, &shape, 0);
    ck_assert(!cover.touched && cover.share == 0);
}
END_TEST

/* The area that the table states against the share of a grid that lies within. */
START_TEST(areas_are_those_of_the_lines)
{
    for (int i = 0; i < objects.deep_sky; i++) {
        const struct outline *outline = objects.object[i].outline;
        if (!outline || outline->area_arcmin2 < 100) {
            continue;
        }
        const double step = 0.25 / 60 * RAD_PER_DEG, reach = tan(outline->reach_deg * RAD_PER_DEG);
        const double cell = fmax(step, reach / 60);
        int inside = 0;
        for (double xi = -reach; xi < reach; xi += cell) {
            for (double eta = -reach; eta < reach; eta += cell) {
                inside += outline_contains(outline, xi, eta);
            }
        }
        double area = inside * pow(cell * DEG_PER_RAD * 60, 2);
        ck_assert_msg(fabs(area / outline->area_arcmin2 - 1) < 0.12 || inside < 200,
                      "%s: %.0f and %.0f", objects.object[i].id, area, outline->area_arcmin2);
    }
}
END_TEST

static const char *const objects_table =
    "id\tra_deg\tdec_deg\ttype\tmagnitude\tmajor_arcmin\tminor_arcmin\tangle_deg\tother_names\t"
    "common_name\tusual_name\n"
    "M 1\t83\t22\tsupernova remnant\t8.4\t6\t4\t\t\t\t\n"
    "M 2\t20\t10\tgalaxy\t8\t6\t4\t\t\t\t\n";

static const char *const stars_table =
    "hip\tra_deg\tdec_deg\tv_mag\tname\tbayer\tflamsteed\tvariable\tgliese\thd\tconstellation\n"
    "91262\t279.2\t38.8\t0.03\tVega\t\t3\t\t\t172167\tLyr\n";
static const char *const constellations_table =
    "constellation\tname\tgenitive\tenglish\tlabel_ra_deg\tlabel_dec_deg\n"
    "Lyr\tLyra\tLyrae\tLyre\t285\t36\n";

#define NGC "id\tv_mag\tv_error\tmajor_arcmin\tminor_arcmin\tangle_deg\n"
#define OUTLINES "id\tlevel\textent\tarea_arcmin2\tpoints\n"
#define SQUARE "-60 -60 60 -60 60 60 -60 60"

/* NULL: no such table. */
static int load_own(struct objects *own, const char *ngc, const char *outlines, struct error *err)
{
    const char *const tables[][2] = {{"objects.tsv", objects_table},
                                     {"star-names.tsv", stars_table},
                                     {"constellations.tsv", constellations_table},
                                     {"ngc.tsv", ngc},
                                     {"outlines.tsv", outlines}};
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        if (tables[i][1]) {
            scratch_write(tables[i][0], tables[i][1], strlen(tables[i][1]));
        } else {
            unlink(scratch_path(tables[i][0]));
        }
    }
    return objects_load(own, scratch_folder, err);
}

START_TEST(either_table_may_be_missing)
{
    struct objects own;
    struct sky_ellipse shape;
    ck_assert_int_eq(load_own(&own, NULL, NULL, NULL), 0);
    assert_near(own.object[0].magnitude, 8.4, 1e-9, "mag");
    ck_assert(isnan(own.object[0].magnitude_error) && own.object[0].outline == NULL);
    objects_free(&own);
    ck_assert_int_eq(load_own(&own,
                              NGC "M 9\t1\t1\t1\t1\t1\nM 1\t8\t0.3\t7\t5\t40\nM 2\t\t\t\t\t\n",
                              OUTLINES "M 9\t0\t\t4\t" SQUARE "\nM 1\t0\t\t4\t" SQUARE
                                       "\nM 1\t2\t1\t4\t" SQUARE "\n",
                              NULL),
                     0);
    assert_near(own.object[0].magnitude, 8, 1e-9, "mag");
    assert_near(own.object[0].magnitude_error, 0.3, 1e-9, "mag");
    assert_near(own.object[0].major_arcmin, 7, 1e-9, "arcmin");
    assert_near(own.object[0].angle_deg, 40, 1e-9, "deg");
    assert_near(own.object[1].magnitude, 8, 1e-9, "mag");
    assert_near(own.object[1].major_arcmin, 6, 1e-9, "arcmin");
    assert_near(object_area_arcmin2(&own.object[0]), 4, 1e-9, "arcmin2");
    ellipse_from_object(&shape, &own.object[0]);
    ck_assert(!shape.turn_unknown);
    double v[3];
    vector_from_radec(v, 83, 22 + 59.0 / 3600);
    ck_assert(ellipse_contains(&shape, v));
    vector_from_radec(v, 83, 22 + 61.0 / 3600);
    ck_assert(!ellipse_contains(&shape, v));
    objects_free(&own);
}
END_TEST

START_TEST(bad_rows_are_named)
{
    static const char *const good = NGC "M 1\t8\t0.3\t7\t5\t40\n";
    static const struct {
        const char *ngc, *outlines, *says;
    } bad[] = {
        {NGC "M 1\t8\t0.3\t7\t8\t40\n", NULL, "ngc.tsv: line 2: expected minor_arcmin"},
        {NGC "M 1\t8\t0.3\t7\t\t40\n", NULL, "ngc.tsv: line 2: expected minor_arcmin"},
        {"id\tv_mag\nM 1\t8\n", NULL, "v_error"},
        {good, OUTLINES "M 1\t4\t\t4\t" SQUARE "\n", "outlines.tsv: line 2: expected a level"},
        {good, OUTLINES "M 1\t\t\t4\t" SQUARE "\n", "line 2: expected a level"},
        {good, OUTLINES "M 1\t0\t\t4\t0 0 1 1\n", "line 2: expected three or more points"},
        {good, OUTLINES "M 1\t0\t\t4\t0 0 1 1 2\n", "line 2: expected three or more points"},
        {good, OUTLINES "M 1\t0\t\t4\t0 0 1 1 2 x\n", "line 2: expected three or more points"},
        {good, OUTLINES "M 1\t0\t\t4\t0 0 1 1 2 1e9\n", "line 2: expected three or more points"},
        {good, OUTLINES "M 1\t0\n", "line 2: expected three or more points"},
        {good, OUTLINES "M 1\t2\t1\t4\t" SQUARE "\n", "line 2: expected one hull before"},
        {good, OUTLINES "M 1\t0\t\t4\t" SQUARE "\nM 1\t0\t\t4\t" SQUARE "\n",
         "line 3: expected one hull before"},
        {good, OUTLINES "M 1\t0\t\t4\t" SQUARE "\nM 2\t2\t1\t4\t" SQUARE "\n",
         "line 3: expected one hull before"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct objects own;
        struct error err = {0};
        ck_assert_int_eq(load_own(&own, bad[i].ngc, bad[i].outlines, &err), ERROR_INPUT);
        ck_assert_msg(strstr(err.text, bad[i].says) != NULL, "%zu: %s", i, err.text);
        ck_assert(own.object == NULL);
    }
}
END_TEST

Suite *ngc_suite(void)
{
    Suite *suite = suite_create("ngc");
    TCase *bundled = tcase_create("bundled");
    tcase_add_unchecked_fixture(bundled, objects_fixture_load, objects_fixture_free);
    tcase_set_timeout(bundled, 60);
    tcase_add_test(bundled, magnitudes_are_visual);
    tcase_add_test(bundled, errors_hold_what_the_band_may_change);
    tcase_add_test(bundled, galaxies_have_sizes_and_angles);
    tcase_add_test(bundled, outlines_lie_where_nebulae_are);
    tcase_add_test(bundled, outlines_are_as_large_as_nebulae);
    tcase_add_test(bundled, outlines_move_and_turn);
    tcase_add_test(bundled, an_outline_needs_less_room_than_its_circle);
    tcase_add_test(bundled, areas_are_those_of_the_lines);
    suite_add_tcase(suite, bundled);
    TCase *own = scratch_case(suite, "own");
    tcase_add_test(own, either_table_may_be_missing);
    tcase_add_test(own, bad_rows_are_named);
    return suite;
}
