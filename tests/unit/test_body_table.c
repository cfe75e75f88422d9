#include "image/scale_hint.h"
#include "near.h"
#include "rig/body_table.h"
#include "scratch.h"

#include <math.h>
#include <strings.h>

Suite *body_table_suite(void);

static const char menagerie[] = "# Cameras that do not exist\n"
                                "maker\tmodel\tcrop_factor\n"
                                "Example Corporation\tExample Otter\t1.523\n"
                                "Example Corporation\tExample Otter Mark II\t1\n"
                                "Sample Imaging Corp.\tH-7\t2\n"
                                "Sample Imaging Corp.\tXH-7\t4\n"
                                "Sample Imaging Corp.\tBig H-7\t5.5\n";

static struct body_table table;

static int load(const char *text, struct error *err)
{
    FILE *out = fopen(scratch_path("bodies.tsv"), "w");
    ck_assert_ptr_nonnull(out);
    ck_assert_int_ge(fputs(text, out), 0);
    ck_assert_int_eq(fclose(out), 0);
    return body_table_load(&table, scratch_folder, err);
}

static void load_well(const char *text)
{
    struct error err = {0};
    ck_assert_msg(load(text, &err) == 0, "%s", err.text);
}

/* EXIF has the maker before the model; readers of raw files shorten the maker. */
static const struct {
    const char *camera;
    double crop_factor; /* 0: not known */
} names[] = {
    {"EXAMPLE OTTER", 1.523},
    {"Example Otter Mark II", 1},
    {"Example Otter Mark", 0},
    {"Otter", 0},
    {"SAMPLE IMAGING CORP. H-7", 2},
    {"Sample H-7", 2},
    {"Sample XH-7", 4},
    {"Sample Big H-7", 5.5},
    {"Other H-7", 0},
    {"H-7", 2},
    {"7", 0},
    {"", 0},
};

START_TEST(finds_by_name)
{
    load_well(menagerie);
    const struct known_body *body = body_table_find(&table, names[_i].camera);
    assert_near(body ? body->crop_factor : 0, names[_i].crop_factor, 0, names[_i].camera);
    body_table_free(&table);
}
END_TEST

START_TEST(typed_names_may_be_parts)
{
    static const struct {
        const char *typed;
        double crop_factor; /* 0: refused, and why: */
        const char *why;
    } samples[] = {
        {"example otter mark ii", 1, ""},
        {"mark", 1, ""},
        {"XH", 4, ""},
        {"H-7", 2, ""},
        {"otter", 0, "several"},
        {"Heron", 0, "no camera"},
        {"", 0, "no camera"},
    };
    load_well(menagerie);
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        const struct known_body *body;
        struct error err = {0};
        int code = body_table_look_up(&body, &table, samples[i].typed, &err);
        ck_assert_int_eq(code, samples[i].crop_factor > 0 ? 0 : ERROR_USAGE);
        assert_near(body ? body->crop_factor : 0, samples[i].crop_factor, 0, samples[i].typed);
        ck_assert_msg(strstr(err.text, samples[i].why) != NULL, "%s", err.text);
    }
    body_table_free(&table);
}
END_TEST

static struct frame_facts facts_of(const char *camera, int sensor_width, int sensor_height)
{
    struct frame_facts facts = {.sensor_width = sensor_width, .sensor_height = sensor_height};
    snprintf(facts.camera, sizeof facts.camera, "%s", camera);
    return facts;
}

/* A sensor of 36 x 24 mm with 6000 x 4000 pixels has pixels of 6 um. */
START_TEST(pitch_of_whole_and_resized_pictures)
{
    load_well(menagerie);
    struct frame_facts facts = facts_of("Example Otter Mark II", 6000, 4000);
    body_table_note_pitch(&facts, &table, 6000, 4000);
    assert_near(facts.pixel_um.value, 6, 1e-9, "um");
    ck_assert_int_eq(facts.pixel_um.origin, FACT_BODY);
    ck_assert_str_eq(facts.pixel_um.source, "size of this camera's sensor");
    facts = facts_of("Example Otter Mark II", 6000, 4000);
    body_table_note_pitch(&facts, &table, 1000, 1500);
    assert_near(facts.pixel_um.value, 24, 1e-9, "um");
    ck_assert_str_eq(facts.pixel_um.source, "size of this camera's sensor, picture resized");
    facts = facts_of("Sample H-7", 0, 0);
    body_table_note_pitch(&facts, &table, 4000, 3000);
    assert_near(facts.pixel_um.value, 1000 * hypot(36, 24) / 2 / 5000, 1e-9, "um");
    body_table_free(&table);
}
END_TEST

START_TEST(no_pitch_of_crops_and_strangers)
{
    static const struct {
        const char *camera;
        int sensor_width, sensor_height, width, height;
    } cases[] = {
        {"Example Otter", 6000, 4000, 3000, 3000},
        {"Example Otter", 6000, 4000, 4000, 3000}, /* 4:3 out of 3:2 */
        {"Example Otter", 0, 0, 1920, 1080},
        {"Example Otter", 6000, 3376, 6000, 3376}, /* the camera cut it to 16:9 */
        {"Example Stoat", 6000, 4000, 6000, 4000},
    };
    load_well(menagerie);
    struct frame_facts facts =
        facts_of(cases[_i].camera, cases[_i].sensor_width, cases[_i].sensor_height);
    body_table_note_pitch(&facts, &table, cases[_i].width, cases[_i].height);
    ck_assert_int_eq(facts.pixel_um.origin, FACT_UNKNOWN);
    body_table_free(&table);
}
END_TEST

START_TEST(what_is_known_stays)
{
    load_well(menagerie);
    struct frame_facts facts = facts_of("Example Otter", 6000, 4000);
    facts.pixel_um = (struct fact){3.7, FACT_EXIF, "focal-plane resolution"};
    body_table_note_pitch(&facts, &table, 6000, 4000);
    assert_near(facts.pixel_um.value, 3.7, 0, "um");
    body_table_free(&table);
}
END_TEST

/* A rounded crop factor must widen the search for the scale, by less than the focal length does. */
START_TEST(tolerance_of_the_scale)
{
    struct frame_facts facts = {.focal_mm = {50, FACT_USER, "as given"},
                                .pixel_um = {6, FACT_BODY, "size of this camera's sensor"}};
    struct scale_hint hint;
    ck_assert(scale_hint_find(&hint, &facts, 6000, 4000));
    assert_near(hint.arcsec_px, 206.264806 * 6 / 50, 1e-9, "arcsec");
    assert_near(hint.tolerance, 0.05, 1e-9, "of the scale"); /* hypot(0.03, 0.04) */
}
END_TEST

static const struct {
    const char *text, *message;
} broken[] = {
    {"maker\tmodel\nA\tB\n", "line 1: expected a column named crop_factor"},
    {"maker\tmodel\tcrop_factor\nA\tB\t1\nA\tC\t\n", "line 3: expected a crop factor of 0.2 to 30"},
    {"maker\tmodel\tcrop_factor\nA\tB\t-1\n", "line 2: expected a crop factor"},
    {"maker\tmodel\tcrop_factor\nA\tB\tnan\n", "line 2: expected a crop factor"},
    {"maker\tmodel\tcrop_factor\nA\t\t1\n", "line 2: expected a maker and a model"},
    {"maker\tmodel\tcrop_factor\n\tB\t1\n", "line 2: expected a maker and a model"},
};

START_TEST(broken_tables)
{
    struct error err = {0};
    ck_assert_int_eq(load(broken[_i].text, &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, broken[_i].message) != NULL, "%s", err.text);
    ck_assert_ptr_null(table.body);
}
END_TEST

/* The bundled table: every camera of it is found by its own names, and sensors are from those of
 * telephones to medium format. */
START_TEST(bundled_table)
{
    struct error err = {0};
    ck_assert_msg(body_table_load(&table, "catalogs", &err) == 0, "%s", err.text);
    ck_assert_int_gt(table.bodies, 800);
    for (int i = 0; i < table.bodies; i++) {
        char camera[96];
        const struct known_body *body = &table.body[i];
        snprintf(camera, sizeof camera, "%s %s", body->maker, body->model);
        const struct known_body *found = body_table_find(&table, camera);
        ck_assert_msg(found && strcasecmp(found->model, body->model) == 0, "%s", camera);
        assert_near(found->crop_factor, body->crop_factor, 0.01 * body->crop_factor, camera);
        ck_assert_msg(body->crop_factor > 0.5 && body->crop_factor < 15, "%s", camera);
    }
    body_table_free(&table);
}
END_TEST

#define COUNT(list) (int)(sizeof(list) / sizeof *(list))

Suite *body_table_suite(void)
{
    Suite *suite = suite_create("body_table");
    TCase *cases = tcase_create("sensors");
    tcase_add_checked_fixture(cases, scratch_make, scratch_remove);
    tcase_add_test(cases, typed_names_may_be_parts);
    tcase_add_loop_test(cases, finds_by_name, 0, COUNT(names));
    tcase_add_test(cases, pitch_of_whole_and_resized_pictures);
    tcase_add_loop_test(cases, no_pitch_of_crops_and_strangers, 0, 5);
    tcase_add_test(cases, what_is_known_stays);
    tcase_add_test(cases, tolerance_of_the_scale);
    tcase_add_loop_test(cases, broken_tables, 0, COUNT(broken));
    tcase_add_test(cases, bundled_table);
    suite_add_tcase(suite, cases);
    return suite;
}
