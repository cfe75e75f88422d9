#include "near.h"
#include "objects/name_key.h"
#include "objects/objects.h"
#include "sky/vector.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

Suite *objects_suite(void);

static const char catalogues[] = "catalogs";

static struct objects bundled;

static void load_bundled(void)
{
    struct error err = {0};
    ck_assert_msg(objects_load(&bundled, catalogues, &err) == 0, "%s", err.text);
}

static void free_bundled(void)
{
    objects_free(&bundled);
}

static const struct object *find(const char *name)
{
    const struct object *object = objects_find(&bundled, name);
    ck_assert_msg(object != NULL, "nothing is called \"%s\"", name);
    return object;
}

static void assert_found(const char *name, const char *id)
{
    ck_assert_msg(strcmp(find(name)->id, id) == 0, "\"%s\" is %s, expected %s", name,
                  find(name)->id, id);
}

START_TEST(test_spellings)
{
    static const char *const pairs[][2] = {
        {"m31", "M 31"},
        {"M 31", "M 31"},
        {"  m-31 ", "M 31"},
        {"Messier 31", "M 31"},
        {"messier031", "M 31"},
        {"NGC 224", "M 31"},
        {"andromeda galaxy", "M 31"},
        {"Andromeda", "M 31"},
        {"andromeda nebula", "M 31"},
        {"ngc7000", "NGC 7000"},
        {"caldwell 20", "NGC 7000"},
        {"c20", "NGC 7000"},
        {"sh2 155", "Sh2-155"},
        {"sh2-155", "Sh2-155"},
        {"sh2155", "Sh2-155"},
        {"sharpless 155", "Sh2-155"},
        {"Sharpless 2-155", "Sh2-155"},
        {"barnard 33", "B 33"},
        {"b33", "B 33"},
        {"horsehead", "B 33"},
        {"ic1805", "IC 1805"},
        {"heart nebula", "IC 1805"},
        {"cr399", "Cr 399"},
        {"collinder 399", "Cr 399"},
        {"barnards loop", "Sh2-276"},
        {"Barnard\xe2\x80\x99s Loop", "Sh2-276"},
        {"wizard nebula", "NGC 7380"},
        {"The Wizard", "NGC 7380"},
        {"flaming star", "IC 405"},
        {"rosette", "NGC 2237"},
        {"ngc 2239", "NGC 2244"},
        {"omega centauri", "NGC 5139"},
        {"\xcf\x89 Cen", "NGC 5139"},
        {"lmc", "LMC"},
        {"abell 1656", "ACO 1656"},
        {"pk164+31.1", "PK 164+31.1"},
        {"snr g263.9-3.0", "SNR G263.9-03.0"},
        {"CEDERBLAD 19G", "Ced 19g"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        assert_found(pairs[i][0], pairs[i][1]);
    }
}
END_TEST

START_TEST(test_star_spellings)
{
    static const char *const pairs[][2] = {
        {"vega", "Vega"},
        {"alpha lyr", "Vega"},
        {"alf lyr", "Vega"},
        {"alpha Lyrae", "Vega"},
        {"\xce\xb1 Lyr", "Vega"},
        {"\xce\xb1 Lyrae", "Vega"},
        {"3 lyr", "Vega"},
        {"HIP 91262", "Vega"},
        {"hd172167", "Vega"},
        {"51 peg", "Helvetios"},
        {"51 Pegasi", "Helvetios"},
        {"alpha cen", "Rigil Kentaurus"}, /* the brighter of two */
        {"alf2 cen", "Toliman"},
        {"\xce\xb1\xc2\xb2 Centauri", "Toliman"}, /* raised 2 */
        {"47 ursae majoris", "Chalawan"},
        {"markab", "Markab"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        assert_found(pairs[i][0], pairs[i][1]);
    }
    /* Two stars bear the name; alpha Pegasi is brighter than kappa Puppis. */
    assert_near(find("markab")->ra_deg, 346.1902, 0.001, "deg");
}
END_TEST

START_TEST(test_star_and_nebula_of_one_name)
{
    ck_assert_int_eq(find("maia")->type, OBJECT_STAR);
    ck_assert_int_eq(find("maia nebula")->type, OBJECT_REFLECTION_NEBULA);
    assert_found("maia nebula", "NGC 1432");
}
END_TEST

START_TEST(test_lists_complete)
{
    char name[20];
    for (int i = 1; i <= 110; i++) {
        snprintf(name, sizeof name, "M %d", i);
        assert_found(name, name);
    }
    double last = 90;
    for (int i = 1; i <= 109; i++) {
        snprintf(name, sizeof name, "C %d", i);
        const struct object *object = find(name);
        /* The Caldwell list goes from north to south (common practice, no source). */
        ck_assert_msg(object->dec_deg < last + 0.6, "%s: %s is out of order", name, object->id);
        last = object->dec_deg;
    }
}
END_TEST

/* Positions from memory, to a tenth of a degree; sizes to a factor of two. */
START_TEST(test_well_known)
{
    static const struct {
        const char *name;
        double ra, dec, major;
        enum object_type type;
    } known[] = {
        {"M 31", 10.68, 41.27, 180, OBJECT_GALAXY},
        {"M 42", 83.82, -5.39, 85, OBJECT_EMISSION_NEBULA},
        {"M 45", 56.75, 24.12, 110, OBJECT_OPEN_CLUSTER},
        {"M 87", 187.71, 12.39, 8, OBJECT_GALAXY},
        {"M 98", 183.45, 14.90, 10, OBJECT_GALAXY},
        {"M 102", 226.62, 55.76, 5, OBJECT_GALAXY},
        {"NGC 4565", 189.09, 25.99, 16, OBJECT_GALAXY},
        {"Flame Nebula", 85.43, -1.85, 30, OBJECT_EMISSION_NEBULA},
        {"IC 434", 85.25, -2.45, 60, OBJECT_EMISSION_NEBULA},
        {"Rosette Nebula", 97.95, 4.95, 80, OBJECT_EMISSION_NEBULA},
        {"Heart Nebula", 38.2, 61.45, 150, OBJECT_EMISSION_NEBULA},
        {"Soul Nebula", 42.8, 60.4, 150, OBJECT_EMISSION_NEBULA},
        {"Veil Nebula", 312.75, 30.67, 200, OBJECT_SUPERNOVA_REMNANT},
        {"Western Veil", 311.4, 30.7, 70, OBJECT_SUPERNOVA_REMNANT},
        {"Eastern Veil", 314.1, 31.72, 60, OBJECT_SUPERNOVA_REMNANT},
        {"Double Cluster", 35.0, 57.13, 60, OBJECT_OPEN_CLUSTER},
        {"Pelican Nebula", 312.75, 44.37, 60, OBJECT_EMISSION_NEBULA},
        {"Hyades", 66.73, 15.87, 330, OBJECT_OPEN_CLUSTER},
        {"Coathanger", 291.35, 20.18, 60, OBJECT_OPEN_CLUSTER},
        {"Large Magellanic Cloud", 80.89, -69.76, 640, OBJECT_GALAXY},
        {"Small Magellanic Cloud", 13.16, -72.80, 310, OBJECT_GALAXY},
        {"Carina Nebula", 161.1, -59.87, 120, OBJECT_EMISSION_NEBULA},
        {"Helix Nebula", 337.41, -20.84, 20, OBJECT_PLANETARY_NEBULA},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        const struct object *object = find(known[i].name);
        double off = radec_angle_deg(object->ra_deg, object->dec_deg, known[i].ra, known[i].dec);
        ck_assert_msg(off < 0.1, "%s is %.2f deg off", known[i].name, off);
        ck_assert_msg(object->type == known[i].type, "%s is a %s", known[i].name,
                      object_type_word(object->type));
        double ratio = object->major_arcmin / known[i].major;
        ck_assert_msg(ratio > 0.5 && ratio < 2, "%s is %.1f' across", known[i].name,
                      object->major_arcmin);
    }
}
END_TEST

static double apart(const char *a, const char *b)
{
    const struct object *one = find(a), *other = find(b);
    return radec_angle_deg(one->ra_deg, one->dec_deg, other->ra_deg, other->dec_deg);
}

/* Common practice, no source: M 43 next to M 42, between the belt and the two lower stars; NGC 2024
 * and B 33 beside the belt's eastern star. */
START_TEST(test_orion)
{
    ck_assert(apart("M 42", "M 43") < 0.25);
    ck_assert(find("M 42")->dec_deg < find("Alnilam")->dec_deg);
    ck_assert(find("M 42")->dec_deg > find("Saiph")->dec_deg);
    ck_assert(find("M 42")->dec_deg > find("Rigel")->dec_deg);
    ck_assert(find("Alnitak")->ra_deg > find("Alnilam")->ra_deg);
    ck_assert(apart("Alnitak", "NGC 2024") < 0.4);
    ck_assert(apart("Alnitak", "B 33") < 0.8);
}
END_TEST

START_TEST(test_rows_make_sense)
{
    ck_assert_int_gt(bundled.deep_sky, 14000);
    ck_assert_int_gt(bundled.count - bundled.deep_sky, 4800);
    for (int i = 0; i < bundled.count; i++) {
        const struct object *object = &bundled.object[i];
        ck_assert(object->ra_deg >= 0 && object->ra_deg < 360);
        ck_assert(object->dec_deg >= -90 && object->dec_deg <= 90);
        ck_assert_msg(isnan(object->magnitude) ||
                          (object->magnitude > -2 && object->magnitude < 30),
                      "%s", object->id);
        ck_assert_msg(isnan(object->major_arcmin) == isnan(object->minor_arcmin), "%s", object->id);
        double major = object->major_arcmin, minor = object->minor_arcmin;
        ck_assert_msg(isnan(major) || (minor > 0 && minor <= major), "%s", object->id);
        double angle = object->angle_deg;
        ck_assert_msg(isnan(angle) || (angle >= 0 && angle < 180 && minor < major), "%s",
                      object->id);
        ck_assert_msg((object->type == OBJECT_STAR) == (i >= bundled.deep_sky), "%s", object->id);
    }
}
END_TEST

START_TEST(test_unknown)
{
    static const char *const names[] = {"xyzzy", "",   "!!!",          "M 111",
                                        "NGC",   "m0", "\xff\xfe\xfd", "sh2-999"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        ck_assert_msg(!objects_find(&bundled, names[i]), "\"%s\" found", names[i]);
    }
    char longest[5000];
    memset(longest, 'a', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    ck_assert(!objects_find(&bundled, longest));
    struct error err = {0};
    ck_assert_int_eq(objects_unknown(&bundled, longest, &err), ERROR_USAGE);
    for (size_t i = 0; i + 1 < sizeof longest; i++) {
        longest[i] = i % 2 ? ' ' : '1';
    }
    ck_assert(!objects_find(&bundled, longest));
    struct objects none = {0};
    ck_assert(!objects_find(&none, "M 31"));
}
END_TEST

START_TEST(a_planet_is_not_what_is_named_after_it)
{
    static const char *const planets[] = {"Mercury", "venus",  "Mars",   "Jupiter",
                                          "SATURN",  "uranus", "Neptune"};
    for (size_t i = 0; i < sizeof planets / sizeof *planets; i++) {
        struct error err = {0};
        ck_assert_msg(!objects_look_up(&bundled, planets[i], &err), "%s", planets[i]);
        ck_assert_int_eq(err.code, ERROR_USAGE);
        ck_assert_msg(strstr(err.text, "moves among the stars") != NULL, "%s", err.text);
        ck_assert((strstr(err.text, "the Saturn Nebula is NGC 7009") != NULL) == (i == 4));
    }
    ck_assert_str_eq(objects_find(&bundled, "Saturn Nebula")->id, "NGC 7009");
}
END_TEST

static int hints(struct object_hint list[OBJECT_HINTS], const char *name)
{
    return objects_hints(list, &bundled, name);
}

START_TEST(test_hints)
{
    struct object_hint list[OBJECT_HINTS];
    static const char *const pairs[][2] = {
        {"andromda galaxy", "Andromeda Galaxy"},
        {"orion nebla", "Orion Nebula"},
        {"betelguese", "Betelgeuse"},
        {"rosete", "Rosette Nebula"},
        {"vegga", "Vega"},
        {"ngc70000", "NGC 7000"},
        {"n7000", "NGC 7000"},
        {"pliades", "Pleiades"},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        ck_assert_int_gt(hints(list, pairs[i][0]), 0);
        ck_assert_str_eq(list[0].name, pairs[i][1]);
    }
    ck_assert_int_eq(hints(list, "m311"), OBJECT_HINTS);
    ck_assert_str_eq(list[0].name, "M 11");
    ck_assert_str_eq(list[1].name, "M 31");
    ck_assert_int_eq(hints(list, "qqqqqqqqqqqq"), 0);
    ck_assert_int_eq(hints(list, ""), 0);
    struct error err = {0};
    ck_assert_int_eq(objects_unknown(&bundled, "andromda galaxy", &err), ERROR_USAGE);
    ck_assert(strstr(err.text, "andromda galaxy") && strstr(err.text, "Andromeda Galaxy"));
}
END_TEST

START_TEST(test_title)
{
    char title[40];
    object_title(title, sizeof title, find("m31"));
    ck_assert_str_eq(title, "Andromeda Galaxy");
    object_title(title, sizeof title, find("vega"));
    ck_assert_str_eq(title, "Vega");
    object_title(title, sizeof title, find("m 2"));
    ck_assert_str_eq(title, "M 2");
    object_title(title, 5, find("m31"));
    ck_assert_str_eq(title, "Andr");
}
END_TEST

START_TEST(test_distance)
{
    ck_assert_int_eq(name_key_distance("", "", 3), 0);
    ck_assert_int_eq(name_key_distance("vega", "vega", 3), 0);
    ck_assert_int_eq(name_key_distance("vega", "vegga", 3), 1);
    ck_assert_int_eq(name_key_distance("vega", "vgea", 3), 1);
    ck_assert_int_eq(name_key_distance("vega", "vela", 3), 1);
    ck_assert_int_eq(name_key_distance("vega", "", 4), 4);
    ck_assert_int_eq(name_key_distance("kitten", "sitting", 5), 3);
    ck_assert_int_gt(name_key_distance("vega", "rigel", 2), 2);
}
END_TEST

/* A folder with three small tables, one of which the test spoils. */
struct folder {
    char name[64];
};

static void put(const struct folder *folder, const char *file, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder->name, file);
    FILE *stream = fopen(path, "w");
    ck_assert_ptr_nonnull(stream);
    fputs(text, stream);
    fclose(stream);
}

static const char good_objects[] =
    "# "
    "title\nid\tra_deg\tdec_deg\ttype\tmagnitude\tmajor_arcmin\tminor_arcmin\tangle_deg\tother_"
    "names\t"
    "common_name\tusual_name\nM 1\t83.6\t22\tsupernova remnant\t8.4\t6\t4\t\tNGC 1952\tCrab "
    "Nebula\tCrab Nebula\n";
static const char good_stars[] =
    "hip\tra_deg\tdec_deg\tv_mag\tname\tbayer\tflamsteed\tvariable\tgliese\thd\tconstellation\n"
    "91262\t279.2\t38.8\t0.03\tVega\t\xce\xb1\t3\t\t\t172167\tLyr\n";
static const char good_constellations[] =
    "constellation\tname\tgenitive\tenglish\tlabel_ra_deg\tlabel_dec_deg\n"
    "Lyr\tLyra\tLyrae\tLyre\t285\t36\n";

static void make_folder(struct folder *folder)
{
    strcpy(folder->name, "/tmp/alidade-test-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder->name));
    put(folder, "objects.tsv", good_objects);
    put(folder, "star-names.tsv", good_stars);
    put(folder, "constellations.tsv", good_constellations);
}

static void remove_folder(const struct folder *folder)
{
    static const char *const files[] = {"objects.tsv", "star-names.tsv", "constellations.tsv"};
    for (int i = 0; i < 3; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%s", folder->name, files[i]);
        remove(path);
    }
    rmdir(folder->name);
}

static const char *replaced(char *out, size_t size, const char *text, const char *old,
                            const char *new)
{
    const char *place = strstr(text, old);
    ck_assert_ptr_nonnull(place);
    snprintf(out, size, "%.*s%s%s", (int)(place - text), text, new, place + strlen(old));
    return out;
}

START_TEST(test_small_tables)
{
    struct folder folder;
    struct objects objects;
    struct error err = {0};
    make_folder(&folder);
    ck_assert_msg(objects_load(&objects, folder.name, &err) == 0, "%s", err.text);
    ck_assert_int_eq(objects.count, 2);
    ck_assert_str_eq(objects.object[0].common_names, "Crab Nebula");
    ck_assert_str_eq(objects.object[0].usual_name, "Crab Nebula");
    ck_assert_str_eq(objects.object[1].other_names, "\xce\xb1 Lyr;3 Lyr;HIP 91262;HD 172167");
    objects_free(&objects);
    objects_free(&objects);
    remove_folder(&folder);
}
END_TEST

START_TEST(test_bad_tables)
{
    static const struct {
        const char *file, *good, *old, *new, *says;
    } faults[] = {
        {"objects.tsv", good_objects, "dec_deg", "dec", "line 2: expected a column named dec_deg"},
        {"objects.tsv", good_objects, "83.6", "east", "line 3: expected a right ascension"},
        {"objects.tsv", good_objects, "83.6", "361", "line 3: expected a right ascension"},
        {"objects.tsv", good_objects, "\t22\t", "\t95\t", "line 3: expected a declination"},
        {"objects.tsv", good_objects, "supernova", "super", "line 3: expected a type of object"},
        {"objects.tsv", good_objects, "M 1\t", "\t", "line 3: expected a designation"},
        {"star-names.tsv", good_stars, "v_mag", "v", "line 1: expected a column named v_mag"},
        {"star-names.tsv", good_stars, "38.8", "", "line 2: expected a declination"},
        {"constellations.tsv", good_constellations, "Lyr\t", "Ly\t", "line 2: expected an abbrev"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        struct folder folder;
        struct objects objects;
        struct error err = {0};
        char text[600];
        make_folder(&folder);
        put(&folder, faults[i].file,
            replaced(text, sizeof text, faults[i].good, faults[i].old, faults[i].new));
        ck_assert_int_eq(objects_load(&objects, folder.name, &err), ERROR_INPUT);
        ck_assert_msg(strstr(err.text, faults[i].file) && strstr(err.text, faults[i].says),
                      "says \"%s\", expected \"%s\"", err.text, faults[i].says);
        ck_assert(objects.count == 0 && !objects.object && !objects.store);
        remove_folder(&folder);
    }
}
END_TEST

START_TEST(test_missing_folder)
{
    struct objects objects;
    struct error err = {0};
    ck_assert_int_eq(objects_load(&objects, "/nonexistent", &err), ERROR_INPUT);
    ck_assert(strstr(err.text, "/nonexistent"));
    char longest[3000];
    memset(longest, 'x', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    ck_assert_int_eq(objects_load(&objects, longest, &err), ERROR_INPUT);
}
END_TEST

/* Every 2000th row of the table, read here by other means. */
START_TEST(stars_without_names_are_found_by_number)
{
    FILE *table = fopen("catalogs/stars.tsv", "r");
    ck_assert_ptr_nonnull(table);
    char line[200], name[40], id[40];
    long hip;
    double ra, dec, magnitude;
    int rows = 0, tried = 0;
    while (fgets(line, sizeof line, table)) {
        if (sscanf(line, "%ld %lf %lf %lf", &hip, &ra, &dec, &magnitude) != 4 || rows++ % 2000) {
            continue;
        }
        static const char *const spellings[] = {"HIP %ld", "hip%ld", "Hipparcos %ld", "hip-0%ld"};
        struct error err = {0};
        snprintf(name, sizeof name, spellings[tried++ % 4], hip);
        snprintf(id, sizeof id, "HIP %ld", hip);
        const struct object *star = objects_look_up(&bundled, name, &err);
        ck_assert_msg(star != NULL, "%s", err.text);
        ck_assert_msg(strcmp(star->id, id) == 0 || strstr(star->other_names, id), "%s is %s", name,
                      star->id);
        ck_assert_int_eq(star->type, OBJECT_STAR);
        assert_near(star->ra_deg, ra, 1e-9, "degrees");
        assert_near(star->dec_deg, dec, 1e-9, "degrees");
        assert_near(star->magnitude, magnitude, 1e-9, "mag");
    }
    fclose(table);
    ck_assert_int_eq(tried, 60);
}
END_TEST

START_TEST(a_number_that_no_star_has_is_explained)
{
    static const char *const names[][2] = {{"HIP 130000", "end at 120416"},
                                           {"HIP 672", "left that number out"},
                                           {"HD 5", "every Hipparcos number"}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct error err = {0};
        ck_assert_ptr_null(objects_look_up(&bundled, names[i][0], &err));
        ck_assert_int_eq(err.code, ERROR_USAGE);
        ck_assert_msg(strstr(err.text, names[i][1]) != NULL, "%s", err.text);
    }
}
END_TEST

/* An English name of the tables, and what is left of it without "nebula" and the like. */
struct english {
    const struct object *object;
    char name[80], key[NAME_KEY_SIZE], cut[NAME_KEY_SIZE];
};

enum { ENGLISH_MOST = 2000 };

static int list_english(struct english list[ENGLISH_MOST])
{
    int count = 0;
    for (int i = 0; i < bundled.deep_sky; i++) {
        const char *next = bundled.object[i].common_names;
        while (*next) {
            size_t length = strcspn(next, ";");
            ck_assert_int_lt(count, ENGLISH_MOST);
            struct english *one = &list[count++];
            one->object = &bundled.object[i];
            ck_assert_uint_lt(length, sizeof one->name);
            snprintf(one->name, sizeof one->name, "%.*s", (int)length, next);
            name_key(one->key, one->name, NULL);
            memcpy(one->cut, one->key, sizeof one->cut);
            name_key_cut_kind(one->cut);
            next += length + (next[length] == ';');
        }
    }
    ck_assert_int_gt(count, 500);
    return count;
}

static bool is_listed(const char *const *list, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(list[i], name) == 0) {
            return true;
        }
    }
    return false;
}

#define LISTED(list, name) is_listed(list, sizeof(list) / sizeof *(list), name)

/* A name of a group on each of its members would stand several times in one picture, and which of
 * them is meant by it would be chance. */
START_TEST(an_english_name_means_one_object)
{
    static const char *const far_apart[] = {"Spindle Galaxy", "Starfish Cluster",
                                            "Little Scorpion Cluster"};
    /* Something and what lies in or around it. */
    static const char *const near_by[] = {"Carafe Nebula", "Antares Cluster",
                                          "Lambda Orionis Cluster", "\xce\xb7 Car Cluster"};
    static struct english list[ENGLISH_MOST];
    int count = list_english(list);
    for (int i = 0; i < count; i++) {
        for (int k = 0; k < i; k++) {
            const struct object *a = list[i].object, *b = list[k].object;
            double apart_deg = radec_angle_deg(a->ra_deg, a->dec_deg, b->ra_deg, b->dec_deg);
            bool near = apart_deg < 1, same = strcmp(list[i].key, list[k].key) == 0,
                 alike = near && strcmp(list[i].cut, list[k].cut) == 0;
            ck_assert_msg(!same || (!near && LISTED(far_apart, list[i].name)),
                          "%s and %s are both \"%s\"", b->id, a->id, list[i].name);
            ck_assert_msg(!alike || a == b || LISTED(near_by, list[i].name),
                          "%s is \"%s\" and %s \"%s\"", b->id, list[k].name, a->id, list[i].name);
        }
    }
}
END_TEST

static bool is_plain_word(const char *word, size_t length)
{
    static const char *const small[] = {"of", "the", "in", "on", "and", "for", "a", "h"};
    char text[80];
    snprintf(text, sizeof text, "%.*s", (int)length, word);
    return LISTED(small, text) || word[0] < 'a' || word[0] > 'z';
}

START_TEST(english_names_are_written_as_names)
{
    static const char *const signs[] = {"NGC ", "IC ", "PGC ", "UGC "};
    static struct english list[ENGLISH_MOST];
    int count = list_english(list);
    for (int i = 0; i < count; i++) {
        const char *name = list[i].name;
        for (const char *word = name; *word; word += strspn(word, " -")) {
            size_t length = strcspn(word, " -");
            ck_assert_msg(is_plain_word(word, length), "%s: small letter in \"%s\"",
                          list[i].object->id, name);
            word += length;
        }
        ck_assert_msg(strncmp(name, "The ", 4) != 0 || !strchr(name + 4, ' '),
                      "%s: needless article in \"%s\"", list[i].object->id, name);
        for (size_t k = 0; k < sizeof signs / sizeof *signs; k++) {
            ck_assert_msg(strncmp(name, signs[k], strlen(signs[k])) != 0, "%s: \"%s\" is no name",
                          list[i].object->id, name);
        }
    }
}
END_TEST

/* By name, and large enough that a frame which holds it holds its members. */
START_TEST(groups_hold_their_members)
{
    static const char *const groups[][6] = {
        {"Leo Triplet", "M 65", "M 66", "NGC 3628"},
        {"Markarian's Chain", "M 84", "M 86", "NGC 4438", "NGC 4473", "NGC 4477"},
        {"Grus Quartet", "NGC 7552", "NGC 7582", "NGC 7590", "NGC 7599"},
        {"Leo Quartet", "NGC 3190"},
        {"Stephan's Quintet", "NGC 7320"},
        {"Copeland's Septet", "NGC 3753"},
    };
    for (size_t i = 0; i < sizeof groups / sizeof *groups; i++) {
        const struct object *group = find(groups[i][0]);
        for (int k = 1; k < 6 && groups[i][k]; k++) {
            const struct object *member = find(groups[i][k]);
            double apart_deg =
                radec_angle_deg(group->ra_deg, group->dec_deg, member->ra_deg, member->dec_deg);
            ck_assert_msg(group == member || apart_deg * 60 < group->major_arcmin / 2,
                          "%s is %.0f' off %s", member->id, apart_deg * 60, groups[i][0]);
        }
    }
}
END_TEST

Suite *objects_suite(void)
{
    Suite *suite = suite_create("objects");
    TCase *names = tcase_create("bundled tables");
    tcase_add_unchecked_fixture(names, load_bundled, free_bundled);
    tcase_add_test(names, test_spellings);
    tcase_add_test(names, test_star_spellings);
    tcase_add_test(names, test_star_and_nebula_of_one_name);
    tcase_add_test(names, test_lists_complete);
    tcase_add_test(names, test_well_known);
    tcase_add_test(names, test_orion);
    tcase_add_test(names, test_rows_make_sense);
    tcase_add_test(names, test_unknown);
    tcase_add_test(names, a_planet_is_not_what_is_named_after_it);
    tcase_add_test(names, test_hints);
    tcase_add_test(names, test_title);
    tcase_add_test(names, stars_without_names_are_found_by_number);
    tcase_add_test(names, a_number_that_no_star_has_is_explained);
    tcase_add_test(names, an_english_name_means_one_object);
    tcase_add_test(names, english_names_are_written_as_names);
    tcase_add_test(names, groups_hold_their_members);
    tcase_set_timeout(names, 60);
    suite_add_tcase(suite, names);
    TCase *tables = tcase_create("tables");
    tcase_add_test(tables, test_distance);
    tcase_add_test(tables, test_small_tables);
    tcase_add_test(tables, test_bad_tables);
    tcase_add_test(tables, test_missing_folder);
    suite_add_tcase(suite, tables);
    return suite;
}
