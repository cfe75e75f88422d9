/* What a frame shows, in order of note. */
#include "frames.h"
#include "near.h"
#include "objects/bodies.h"
#include "objects/caption.h"
#include "objects/field.h"
#include "sky/vector.h"

#include <stdio.h>
#include <string.h>

Suite *field_suite(void);

/* A table of our own around RA 10, Dec 0. */
static struct object table[40];
static struct objects objects;

static void start_table(void)
{
    memset(table, 0, sizeof table);
    objects = (struct objects){.object = table};
}

/* dx degrees west, dy north. */
static struct object *add(const char *id, enum object_type type, double dx, double dy,
                          double magnitude, double size)
{
    struct object *object = &table[objects.count++];
    *object = (struct object){.id = id,
                              .other_names = "",
                              .common_names = "",
                              .type = type,
                              .ra_deg = fmod(370 - dx, 360),
                              .dec_deg = dy,
                              .magnitude = magnitude,
                              .major_arcmin = size,
                              .minor_arcmin = size};
    objects.deep_sky += type != OBJECT_STAR;
    return object;
}

/* 5 x 3.33 degrees, north up. */
static struct field find(void)
{
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    struct field field = {0};
    struct error err = {0};
    ck_assert_int_eq(field_find(&field, &wcs, &objects, &err), 0);
    return field;
}

/* "A B C" */
static void expect_order(const char *ids)
{
    char text[300] = "";
    struct field field = find();
    for (int i = 0; i < field.objects; i++) {
        snprintf(text + strlen(text), sizeof text - strlen(text), "%s%s", i ? ", " : "",
                 field.object[i].object->id);
    }
    ck_assert_str_eq(text, ids);
    field_free(&field);
}

/* Two galaxies that are alike but for what the test changes in the second: it must come first. */
static struct object *add_pair(void)
{
    start_table();
    add("NGC 1", OBJECT_GALAXY, 0, 0, 9, 10);
    return add("NGC 2", OBJECT_GALAXY, 1, 0, 9, 10);
}

START_TEST(famous_bright_and_large_things_come_first)
{
    add_pair();
    expect_order("NGC 1, NGC 2");
    add_pair()->id = "M 2";
    expect_order("M 2, NGC 1");
    add_pair()->common_names = "Sail Galaxy";
    expect_order("NGC 2, NGC 1");
    add_pair()->other_names = "C 9";
    expect_order("NGC 2, NGC 1");
    add_pair()->other_names = "Sh2-1;C 9";
    expect_order("NGC 2, NGC 1");
    add_pair()->other_names = "Sh2-1;PGC 9";
    expect_order("NGC 1, NGC 2");
    add_pair()->magnitude = 8;
    expect_order("NGC 2, NGC 1");
    struct object *larger = add_pair(); /* of nebulae: a galaxy would be spread thinner */
    table[0].type = larger->type = OBJECT_EMISSION_NEBULA;
    table[0].magnitude = larger->magnitude = NAN;
    larger->major_arcmin = larger->minor_arcmin = 15;
    expect_order("NGC 2, NGC 1");
    struct object *unknown = add_pair();
    unknown->magnitude = NAN;
    expect_order("NGC 1, NGC 2");
    unknown = add_pair();
    unknown->major_arcmin = unknown->minor_arcmin = NAN;
    expect_order("NGC 1");
}
END_TEST

START_TEST(what_is_outside_is_left_out)
{
    add("M 1", OBJECT_GALAXY, 2.4, 0, 8, 4);
    add("M 2", OBJECT_GALAXY, 2.6, 0, 8, 4);
    add("M 3", OBJECT_GALAXY, 2.6, 0, 8, 30); /* reaches in */
    add("M 4", OBJECT_GALAXY, 0, 1.7, 8, 4);
    add("M 5", OBJECT_GALAXY, 180, 0, 8, 30);
    add("M 6", OBJECT_GALAXY, 90, 0, 8, 30);
    expect_order("M 1, M 3");
}
END_TEST

START_TEST(obscure_rows_only_fill_up)
{
    /* None has a name or a number that is known. */
    char id[12][20];
    for (int i = 0; i < 12; i++) {
        snprintf(id[i], sizeof id[i], "LDN %d", 100 + i);
        add(id[i], OBJECT_DARK_NEBULA, -2 + 0.3 * i, 0, NAN, 20 + i);
    }
    expect_order("LDN 111, LDN 110, LDN 109, LDN 108, LDN 107");
    table[0].common_names = "Keel Nebula";
    expect_order("LDN 100, LDN 111, LDN 110, LDN 109, LDN 108");
    const char *known[] = {"M 1", "M 2", "M 3", "M 4"};
    for (int i = 0; i < 4; i++) {
        add(known[i], OBJECT_GALAXY, -2 + 0.1 * i, 1, 8 + 0.1 * i, 5);
    }
    expect_order("M 1, M 2, M 3, M 4, LDN 100");
}
END_TEST

START_TEST(large_obscure_rows_are_dropped)
{
    add("LBN 1", OBJECT_BRIGHT_NEBULA, 0, 0, NAN, 60);
    add("LBN 2", OBJECT_BRIGHT_NEBULA, 0, 0, NAN, 40);
    expect_order("LBN 2");
}
END_TEST

START_TEST(background_is_not_notable)
{
    add("M 1", OBJECT_GALAXY, 0, 0, 9, 6);
    add("Sh2-1", OBJECT_EMISSION_NEBULA, 0, 0, NAN, 1800)->common_names = "Fog Nebula";
    add("Thin 1", OBJECT_GALAXY, 0, 0, 7, 120)->common_names = "Thin Galaxy"; /* 17.2 a sq. min. */
    expect_order("M 1");
}
END_TEST

START_TEST(place_and_size_are_those_of_the_picture)
{
    add("M 1", OBJECT_GALAXY, 1, 0.5, 8, 30);
    add("M 2", OBJECT_GALAXY, -2.5, 0, 8, 60);
    struct field field = find();
    ck_assert_int_eq(field.objects, 2);
    const struct field_object *inner = &field.object[0], *edge = &field.object[1];
    ck_assert_str_eq(inner->object->id, "M 1");
    assert_near(inner->x, 2999.5 + 1200, 1.5, "px"); /* 1 degree is 1200 px, nearly */
    assert_near(inner->y, 1999.5 - 600, 1.5, "px");
    assert_near(inner->major_px, 300, 0.1, "px");
    assert_near(inner->share, 1, 1e-12, "of the area");
    assert_near(edge->share, 0.5, 0.02, "of the area");
    field_free(&field);
}
END_TEST

START_TEST(stars_come_by_brightness)
{
    add("Dim", OBJECT_STAR, 0, 0, 5, NAN);
    add("Bright", OBJECT_STAR, 1, 0, 2, NAN);
    add("Away", OBJECT_STAR, 4, 0, 1, NAN);
    add("Unknown", OBJECT_STAR, 0.5, 0, NAN, NAN);
    struct field field = find();
    ck_assert_int_eq(field.stars, 3);
    ck_assert_str_eq(field.star[0].object->id, "Bright");
    ck_assert_str_eq(field.star[1].object->id, "Dim");
    ck_assert_str_eq(field.star[2].object->id, "Unknown");
    field_free(&field);
}
END_TEST

static void expect_words(int most, size_t size, const char *words)
{
    static const struct atlas nowhere; /* without constellations nothing is said of them */
    struct wcs wcs = frame_at(10, 0, 0, false, 6000, 4000, 3);
    char text[300];
    struct field field = find();
    field_write_subject(text, size, &field, &wcs, &nowhere, most);
    ck_assert_str_eq(text, words);
    field_free(&field);
}

START_TEST(the_subject_names_what_matters)
{
    expect_words(4, 300, "");
    add("M 2", OBJECT_GALAXY, 1.5, 0, 5, 60)->usual_name = "Sail Galaxy";
    table[0].common_names = "Sail Galaxy;Other";
    add("M 1", OBJECT_GALAXY, -1.5, 0, 8, 20);
    add("NGC 7", OBJECT_GALAXY, 0, 1, 5, 30);
    add("LDN 3", OBJECT_DARK_NEBULA, -1, 0, NAN, 30);
    expect_words(4, 300, "M 2 (Sail Galaxy), M 1 and NGC 7");
    expect_words(2, 300, "M 2 (Sail Galaxy) and M 1");
    expect_words(1, 300, "M 2 (Sail Galaxy)");
    expect_words(4, 62, "M 2 (Sail Galaxy), M 1"); /* room for a constellation is kept */
}
END_TEST

/* What was put into the middle is what the picture is of, though the edge is as notable. */
START_TEST(the_middle_goes_first)
{
    add("M 2", OBJECT_GALAXY, 1.5, 0, 7, 20);
    add("NGC 7", OBJECT_GALAXY, 0, 0, 7, 20)->usual_name = "Bell Galaxy";
    table[0].usual_name = "";
    table[0].common_names = "";
    table[1].common_names = "Some Nickname"; /* which is not said */
    expect_words(4, 300, "NGC 7 (Bell Galaxy) and M 2");
    table[1].ra_deg = fmod(370 + 1.5, 360);
    expect_words(4, 300, "M 2 and NGC 7 (Bell Galaxy)");
}
END_TEST

static void expect_north(double up_deg, bool mirrored, const char *words)
{
    char text[60];
    struct wcs wcs = frame_at(10, 20, up_deg, mirrored, 6000, 4000, 3);
    field_write_north(text, sizeof text, &wcs);
    ck_assert_str_eq(text, words);
}

/* Seen from within the sphere east is left of north: where picture-up is 30 degrees east of north,
 * north is 30 degrees right of up; in a mirror, left. */
START_TEST(north_is_where_an_arrow_shows_it)
{
    expect_north(0, false, "↑ straight up");
    expect_north(180, false, "↓ straight down");
    expect_north(30, false, "↗ 30.0° right of up");
    expect_north(30, true, "↖ 30.0° left of up");
    expect_north(330, false, "↖ 30.0° left of up");
    expect_north(100, false, "→ 80.0° right of down");
    expect_north(200, false, "↓ 20.0° left of down");
}
END_TEST

START_TEST(stars_stand_in_where_there_is_little_else)
{
    add("LDN 3", OBJECT_DARK_NEBULA, -1, 0, NAN, 30);
    add("Polestar", OBJECT_STAR, 0, 0, 2, NAN);
    add("Dim", OBJECT_STAR, 0, 0, 4.5, NAN);
    expect_words(4, 300, "Polestar");
}
END_TEST

START_TEST(captions_are_cut_between_characters)
{
    struct object object = {.id = "M 31", .common_names = "ξξ;Other", .usual_name = "ξξ"};
    char text[20];
    caption_full(text, sizeof text, &object);
    ck_assert_str_eq(text, "M 31 (ξξ)");
    caption_full(text, 10, &object);
    ck_assert_str_eq(text, "M 31 (ξ");
    caption_common(text, 4, &object);
    ck_assert_str_eq(text, "ξ");
    object.usual_name = "M 31";
    caption_full(text, sizeof text, &object);
    ck_assert_str_eq(text, "M 31");
}
END_TEST

static struct atlas atlas;

static void load(void)
{
    struct error err = {0};
    ck_assert_msg(atlas_load(&atlas, "catalogs", &err) == 0, "%s", err.text);
}

static void unload(void)
{
    atlas_free(&atlas);
}

/* degrees wide at 3:2 */
static void expect_field(double ra, double dec, double width, const char *place,
                         const char *subject)
{
    char text[300];
    struct field field = {0};
    struct wcs wcs = frame_at(ra, dec, 0, false, 6000, 4000, width * 3600 / 6000);
    field_write_place(text, sizeof text, &wcs, &atlas);
    ck_assert_str_eq(text, place);
    ck_assert_int_eq(field_find(&field, &wcs, &atlas.objects, NULL), 0);
    field_write_subject(text, sizeof text, &field, &wcs, &atlas, 3);
    ck_assert_str_eq(text, subject);
    field_free(&field);
}

/* What every observer would name in these fields: common practice, no source. The distances are
 * those of astropy. */
START_TEST(well_known_fields_are_described_as_people_would)
{
    expect_field(10.685, 41.269, 5, "in Andromeda, 7.7° from Mirach",
                 "M 31 (Andromeda Galaxy), M 110 and M 32, in Andromeda");
    expect_field(
        314.7, 44.3, 5, "in Cygnus, 3.2° from Deneb",
        "NGC 7000 (North America Nebula), IC 5070 (Pelican Nebula) and LDN 935, in Cygnus");
    expect_field(
        148.9, 69.4, 2.5, "in Ursa Major, 10.3° from Dubhe",
        "M 81 (Bode's Galaxy), M 82 (Cigar Galaxy) and NGC 3077, in Ursa Major");
    expect_field(37.95, 89.26, 6, "in Ursa Minor, 15\" from Polaris", "Polaris, in Ursa Minor");
    expect_field(275, -15, 3, "in Serpens Cauda, 14.0° from Nunki",
                 "M 17 (Omega Nebula) and M 16 (Eagle Nebula), in Serpens Cauda");
}
END_TEST

START_TEST(a_missing_table_is_named)
{
    struct error err = {0};
    struct atlas none;
    ck_assert_int_eq(atlas_load(&none, "no-such-folder", &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "no-such-folder"));
    ck_assert_ptr_null(none.objects.object);
    atlas_free(&none);
}
END_TEST

/* Where the table of planets says that Jupiter is, to the middle pixel; and only there. Jupiter's
 * place itself is held against an ephemeris by tests/outside/check_bodies.py. */
START_TEST(planets_are_in_the_picture_where_they_stand)
{
    struct field_body body[BODIES_MOST];
    struct utc utc;
    double v[3], ra, dec;
    ck_assert(time_read(&utc, "2026-02-24T19:30:00Z"));
    ck_assert(planet_among_stars(v, PLANET_JUPITER, NULL, utc));
    vector_to_radec(&ra, &dec, v);
    struct wcs wcs = frame_at(ra, dec, 20, _i == 1, 6000, 4000, 3);
    ck_assert_int_eq(bodies_find(body, &wcs, NULL, utc), 1);
    ck_assert_str_eq(body[0].name, "Jupiter");
    assert_near(body[0].x, 2999.5, 0.01, "px");
    assert_near(body[0].y, 1999.5, 0.01, "px");
    assert_near(body[0].ra_deg, ra, 1e-9, "deg");
    wcs = frame_at(ra, dec - 4, 0, _i == 1, 6000, 4000, 3);
    ck_assert_int_eq(bodies_find(body, &wcs, NULL, utc), 0);
}
END_TEST

Suite *field_suite(void)
{
    Suite *suite = suite_create("field");
    TCase *order = tcase_create("order");
    tcase_add_checked_fixture(order, start_table, NULL);
    tcase_add_test(order, famous_bright_and_large_things_come_first);
    tcase_add_loop_test(order, planets_are_in_the_picture_where_they_stand, 0, 2);
    tcase_add_test(order, what_is_outside_is_left_out);
    tcase_add_test(order, obscure_rows_only_fill_up);
    tcase_add_test(order, large_obscure_rows_are_dropped);
    tcase_add_test(order, background_is_not_notable);
    tcase_add_test(order, place_and_size_are_those_of_the_picture);
    tcase_add_test(order, stars_come_by_brightness);
    tcase_add_test(order, the_subject_names_what_matters);
    tcase_add_test(order, the_middle_goes_first);
    tcase_add_test(order, north_is_where_an_arrow_shows_it);
    tcase_add_test(order, stars_stand_in_where_there_is_little_else);
    tcase_add_test(order, captions_are_cut_between_characters);
    suite_add_tcase(suite, order);
    TCase *tables = tcase_create("tables");
    tcase_add_checked_fixture(tables, load, unload);
    tcase_add_test(tables, well_known_fields_are_described_as_people_would);
    tcase_add_test(tables, a_missing_table_is_named);
    suite_add_tcase(suite, tables);
    return suite;
}
