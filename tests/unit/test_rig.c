#include "near.h"
#include "rig/rig.h"
#include "rig/rig_in_use.h"
#include "stamps.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *rig_suite(void);

static const char meadow[] = "; what I carry\n"
                             "[body Otter]\n"
                             "  model = EXAMPLE OTTER 2\n"
                             "  pixels = 4000x6000   ; portrait or not\n"
                             "  pixel = 3.7\n"
                             "\n"
                             "[body Heron]\n"
                             "pixels = 6000 x 4000\n"
                             "sensor = 36x24\n"
                             "read noise = 2.5\n"
                             "[lens Long]\n"
                             "focal = 250\n"
                             "aperture = 4\n"
                             "[lens Zoom]\n"
                             "focal = 70-300\n"
                             "[place Garden]\n"
                             "latitude = 50.1\n"
                             "longitude = 10.2 W\n"
                             "utc offset = -03:30\n"
                             "bortle = 5\n"
                             "[head Ball]\n"
                             "lean east = 1.5\n"
                             "[defaults]\n"
                             "body = otter\n"
                             "lens = Long\n";

static struct rig_file file;

static int parse(const char *text, struct error *err)
{
    return rig_parse(&file, text, strlen(text), "rig.ini", err);
}

static void parse_well(const char *text)
{
    struct error err = {0};
    ck_assert_msg(parse(text, &err) == 0, "%s", err.text);
}

START_TEST(a_whole_file)
{
    parse_well(meadow);
    ck_assert_int_eq(file.bodies, 2);
    ck_assert_int_eq(file.lenses, 2);
    ck_assert_str_eq(file.body[0].model, "EXAMPLE OTTER 2");
    assert_near(file.body[0].width_px, 6000, 0, "px");
    assert_near(file.body[0].sensor_width, 22.2, 1e-9, "mm");
    assert_near(file.body[1].pixel_um, 6, 1e-9, "um");
    assert_near(file.body[1].read_noise, 2.5, 0, "electrons");
    ck_assert(isnan(file.body[0].read_noise));
    assert_near(file.lens[0].shortest_mm, 250, 0, "mm");
    assert_near(file.lens[1].longest_mm, 300, 0, "mm");
    ck_assert(isnan(file.lens[1].f_number));
    assert_near(file.place[0].longitude_deg, -10.2, 0, "deg");
    assert_near(file.place[0].utc_offset_min, -210, 0, "min");
    assert_near(file.place[0].height_m, 0, 0, "m");
    ck_assert(isnan(file.place[0].sky_mag));
    assert_near(file.head[0].lean_east_deg, 1.5, 0, "deg");
    assert_near(file.head[0].lean_north_deg, 0, 0, "deg");
    ck_assert(isnan(file.head[0].error_deg));
    ck_assert_int_eq(file.place[0].entry.line, 16);
}
END_TEST

/* As other editors leave it: a byte order mark, CR LF, no end to the last line. */
/* One a line; nine are more than there is room for. */
START_TEST(indexes)
{
    char text[400] = "[defaults]\n";
    struct error err = {0};
    parse_well("[defaults]\nindex = deep/orion.alidx\nindex = /data/indexes\n");
    ck_assert_int_eq(file.defaults.index.count, 2);
    ck_assert_str_eq(file.defaults.index.path[0], "deep/orion.alidx");
    ck_assert_str_eq(file.defaults.index.path[1], "/data/indexes");
    parse_well(meadow);
    ck_assert_int_eq(file.defaults.index.count, 0);
    for (int i = 0; i < RIG_PATHS_MOST + 1; i++) {
        strcat(text, "index = a.alidx\n");
    }
    ck_assert_int_eq(parse(text, &err), ERROR_INPUT);
    ck_assert_str_eq(err.text, "rig.ini: line 10: index: expected at most 8 files and folders");
}
END_TEST

START_TEST(odd_line_ends)
{
    parse_well("\xef\xbb\xbf[lens A]\r\n\r\n# note\r\nfocal=50\r\n[lens B]\r\nFocal : 85");
    ck_assert_int_eq(file.lenses, 2);
    ck_assert_int_eq(file.lens[1].entry.line, 5);
    assert_near(file.lens[1].longest_mm, 85, 0, "mm");
    parse_well("");
    ck_assert_int_eq(file.lenses, 0);
}
END_TEST

START_TEST(choosing)
{
    struct rig rig;
    struct error err = {0};
    parse_well(meadow);
    ck_assert_int_eq(rig_choose(&rig, &file, &(struct rig_choice){0}, &err), 0);
    ck_assert_ptr_eq(rig.body, &file.body[0]);
    ck_assert_ptr_eq(rig.lens, &file.lens[0]);
    ck_assert_ptr_eq(rig.place, &file.place[0]); /* the only one */
    ck_assert(!rig.body_named);
    struct rig_choice heron = {.body = "HERON", .lens = "zoom"};
    ck_assert_int_eq(rig_choose(&rig, &file, &heron, &err), 0);
    ck_assert_ptr_eq(rig.body, &file.body[1]);
    ck_assert(rig.body_named && rig.lens_named);
    struct rig_choice typo = {.body = "Heros"};
    ck_assert_int_eq(rig_choose(&rig, &file, &typo, &err), ERROR_USAGE);
    ck_assert_ptr_nonnull(strstr(err.text, "\"Heros\"; there is Otter, Heron"));
}
END_TEST

START_TEST(models)
{
    parse_well(meadow);
    ck_assert_ptr_eq(rig_body_of_model(&file, "Example Otter 2 Mark"), &file.body[0]);
    ck_assert_ptr_null(rig_body_of_model(&file, "EXAMPLE OTTER"));
    ck_assert_ptr_null(rig_body_of_model(&file, ""));
    ck_assert_ptr_null(rig_lens_of_model(&file, "250 mm"));
}
END_TEST

static struct rig_in_use in_use;
static struct body_table cameras;

static int know(const char *text, const char *given, struct error *err)
{
    const struct rig_choice none = {0};
    parse_well(text);
    memset(&in_use, 0, sizeof in_use);
    in_use.file = file;
    ck_assert_int_eq(rig_choose(&in_use.rig, &in_use.file, &none, err), 0);
    body_table_free(&cameras);
    ck_assert_int_eq(body_table_load(&cameras, "catalogs", err), 0);
    return rig_in_use_know_cameras(&in_use, &cameras, given, "rig.ini", err);
}

/* Sizes of sensors as makers give them, from memory: 22.2 x 14.8 mm of the EOS 450D, 17.3 x 13.0 mm
 * of Four Thirds, 35.8 x 23.9 mm of the ILCE-7, 13.2 x 8.8 mm of one inch. The table's factors are
 * rounded: 1.5 %. */
START_TEST(a_model_tells_the_sensor)
{
    static const struct {
        const char *model;
        double width, height;
    } samples[] = {{"EOS 450D", 22.2, 14.8},
                   {"E-M10 Mark III", 17.3, 13.0},
                   {"Sony ILCE-7M3", 35.8, 23.9},
                   {"DSC-RX100M3", 13.2, 8.8}};
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        char text[100];
        struct error err = {0};
        snprintf(text, sizeof text, "[body A]\nmodel = %s\n", samples[i].model);
        ck_assert_msg(know(text, NULL, &err) == 0, "%s", err.text);
        ck_assert(rig_in_use_asks_cameras(&in_use) == false);
        const struct rig_body *body = in_use.rig.body;
        assert_near(body->sensor_width, samples[i].width, 0.015 * samples[i].width, "mm");
        assert_near(body->sensor_height, samples[i].height, 0.015 * samples[i].height, "mm");
        ck_assert(isnan(body->pixel_um));
        const double width = body->sensor_width;
        ck_assert_msg(know("", samples[i].model, &err) == 0, "%s", err.text);
        assert_near(in_use.rig.body->sensor_width, width, 0, "mm");
        ck_assert(in_use.rig.body_named && in_use.rig.body == &in_use.typed_body);
        snprintf(text, sizeof text, "[defaults]\ncamera = %s\n", samples[i].model);
        ck_assert_msg(know(text, NULL, &err) == 0, "%s", err.text);
        ck_assert(in_use.rig.body == &in_use.typed_body && !in_use.rig.body_named);
    }
    body_table_free(&cameras);
}
END_TEST

/* 4272 x 2848 pixels of 5.2 um (from memory). */
START_TEST(a_model_and_its_pixels_tell_the_pitch)
{
    struct error err = {0};
    double pixel = 0;
    bool resized;
    ck_assert_int_eq(know("[body A]\nmodel = EOS 450D\npixels = 4272x2848\n", NULL, &err), 0);
    assert_near(in_use.rig.body->pixel_um, 5.2, 0.05, "um");
    ck_assert_int_eq(know("[body A]\nmodel = EOS 450D\npixel = 5.2\n", NULL, &err), 0);
    assert_near(in_use.rig.body->width_px, 4272, 40, "px");
    ck_assert_int_eq(know("[body A]\nmodel = EOS 450D\n", NULL, &err), 0);
    ck_assert(rig_pixel_of_frame(&pixel, &resized, in_use.rig.body, 2848, 4272));
    assert_near(pixel, 5.2, 0.05, "um");
    ck_assert(!rig_pixel_of_frame(&pixel, &resized, in_use.rig.body, 2848, 2848));
    body_table_free(&cameras);
}
END_TEST

START_TEST(a_model_that_nobody_knows_is_refused)
{
    struct error err = {0};
    ck_assert_int_eq(know("[body A]\nmodel = Otter\n", NULL, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "rig.ini: line 1: the body \"A\" needs two of"));
    ck_assert_int_eq(know("", "EOS", &err), ERROR_USAGE);
    ck_assert_ptr_nonnull(strstr(err.text, "several cameras"));
    ck_assert_int_eq(know("[defaults]\ncamera = Otter\n", NULL, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "rig.ini: line 1: [defaults] camera"));
    body_table_free(&cameras);
}
END_TEST

START_TEST(cut_and_resized_frames)
{
    double pixel = 0;
    bool resized = true;
    parse_well(meadow);
    const struct rig_body *body = &file.body[0];
    ck_assert(rig_pixel_of_frame(&pixel, &resized, body, 6000, 4000));
    assert_near(pixel, 3.7, 0, "um");
    ck_assert(!resized);
    ck_assert(rig_pixel_of_frame(&pixel, &resized, body, 4020, 6032)); /* raw, upright */
    assert_near(pixel, 3.7, 0, "um");
    ck_assert(rig_pixel_of_frame(&pixel, &resized, body, 1500, 1000));
    assert_near(pixel, 14.8, 1e-9, "um");
    ck_assert(resized);
    ck_assert(!rig_pixel_of_frame(&pixel, &resized, body, 2000, 2000));
    ck_assert(!rig_pixel_of_frame(&pixel, &resized, body, 5000, 4000));
    ck_assert(!rig_pixel_of_frame(&pixel, &resized, body, 9000, 6000));
}
END_TEST

static const struct {
    const char *text, *said;
} bad[] = {
    {"[place A]\nlongitude = 1\nlatitude = 95\n", "line 3: latitude: expected a latitude of -90"},
    {"[place A]\nlatitude = 12 E\n", "line 2: latitude"},
    {"[place A]\nlatitude = -12 S\n", "line 2: latitude"},
    {"[place A]\nlatitude = 1\nlongitude = 200\n", "line 3: longitude"},
    {"[place A]\nlatitude = 1\n", "line 1: the place \"A\" needs latitude and longitude"},
    {"[place A]\nutc offset = 25:00\n", "line 2: utc offset"},
    {"[place A]\nutc offset = 01:99\n", "line 2: utc offset"},
    {"[place A]\nutc offset = --1\n", "line 2: utc offset"},
    {"[lens A]\nfocal = 5\n[body B]\npixels = 20x20\npixel = 3\n[lens a]\nfocal = 6\n",
     "line 6: a second lens named \"a\"; the first is in line 1"},
    {"[lens A]\nfocal = 5\n\n[lens A]\nfocal = 5\n", "line 4: a second lens"},
    {"[lens A]\n\nfokal = 5\n", "line 3: [lens] knows no \"fokal\""},
    {"[lens A]\nfocal = 300-70\n", "line 2: focal: expected a focal length"},
    {"[lens A]\nfocal = nan\n", "line 2: focal"},
    {"[lens A]\nfocal = 250 # mm\n", "line 2: focal"},
    {"[lens A]\nfocal =\n", "line 2: focal"},
    {"[lens A]\naperture = 4\n", "line 1: the lens \"A\" needs its focal length"},
    {"[lens]\nfocal = 50\n", "line 2: the section needs a name"},
    {"[defaults x]\nbody = A\n", "line 2: the section [defaults] has no name"},
    {"[defaults]\nbody = A\n", "line 1: [defaults] names the body \"A\", which"},
    {"[camera A]\npixel = 4\n", "line 2: expected a section [body NAME]"},
    {"pixel = 4\n", "line 1: expected a section"},
    {"[body A]\npixel = 4\n", "line 1: the body \"A\" needs two of"},
    {"[body A]\npixel = 4\npixels = 6000x4000\nsensor = 36x24\n", "contradicts itself"},
    {"[body A]\npixels = 6000\n", "line 2: pixels: expected a size like 6000x4000"},
    {"[body A]\nmodel =\n", "line 2: model: expected text"},
    {"[lens A]\nfocal 250\n", "line 2: expected \"key = value\" or a section"},
    {"[lens A\nfocal = 250\n", "line 1: expected a ]"},
    {"[lens A]\nfocal = 250\ndistortion = -31\n", "line 3: distortion: expected per cent at the"},
    {"[profile P]\nlens = A\nfocal = 5\nradius = 9\n",
     "line 1: the profile \"P\" needs lens, focal, radius and distortion"},
    {"[profile P]\nlens = A\nfocal = 5\nradius = 9\ndistortion = 0\n",
     "line 1: the profile \"P\" names the lens \"A\", which the file does not have"},
    {"[profile P]\ndistortion = -0.6, 0.2, 0.1, 0.1\n", "line 2: distortion: expected up to three"},
    {"[profile P]\ndistortion = -0.6 0.2\n", "line 2: distortion: expected up to three"},
    {"[profile P]\ndistortion = -0.6,\n", "line 2: distortion: expected up to three"},
    {"[profile P]\ndistortion = -0.6, 31\n", "line 2: distortion: expected up to three"},
    {"[profile P]\ndistortion = nan\n", "line 2: distortion: expected up to three"},
    {"[profile P]\naxis = 1\n", "line 2: axis: expected two numbers like 0.8, -0.3"},
    {"[profile P]\nradius = 0\n", "line 2: radius: expected mm on the sensor"},
    {"[profile P]\nerror = -1\n", "line 2: error: expected per cent"},
    {"[lens A]\nfocal = 5\n[profile P]\nlens = A\nfocal = 5\nradius = 9\ndistortion = 20, 20\n",
     "line 3: the profile \"P\" folds the frame over at its edge: expected a distortion that"},
    {"[lens 0123456789012345678901234567890123456789]\nfocal = 5\n", "name of the section is too"},
};

START_TEST(refusals)
{
    struct error err = {0};
    ck_assert_int_eq(parse(bad[_i].text, &err), ERROR_INPUT);
    ck_assert_ptr_eq(strstr(err.text, "rig.ini: line "), err.text);
    ck_assert_msg(strstr(err.text, bad[_i].said) != NULL, "says: %s", err.text);
}
END_TEST

START_TEST(long_lines_and_zero_bytes)
{
    struct error err = {0};
    char text[600] = "[lens A]\nmodel = ";
    memset(text + strlen(text), 'x', 400);
    ck_assert_int_eq(parse(text, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "line 2: the line is too long"));
    text[9] = '#'; /* a comment may be long */
    parse_well(text);
    ck_assert_int_eq(rig_parse(&file, "[lens A]\nfo\0cal = 3\n", 20, "rig.ini", &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "zero byte"));
}
END_TEST

START_TEST(too_many)
{
    struct error err = {0};
    char text[4096] = "";
    for (int i = 0; i <= RIG_MOST; i++) {
        sprintf(text + strlen(text), "[lens L%d]\nfocal = 50\n", i);
    }
    ck_assert_int_eq(parse(text, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "line 66: more than 32 of a kind: lens"));
}
END_TEST

static void edit(const char *before, const char *section, const char *after)
{
    static const struct rig_value values[] = {{"lean east", "2"}, {"skew", "0.1"}};
    struct error err = {0};
    char *out = NULL;
    size_t length = 0;
    ck_assert_int_eq(rig_edit(&out, &length, before, strlen(before), section, values, 2, &err), 0);
    ck_assert_str_eq(out, after);
    ck_assert_uint_eq(length, strlen(after));
    free(out);
}

START_TEST(writing_back)
{
    edit("", "head Ball", "[head Ball]\nlean east = 2\nskew = 0.1\n");
    edit("# mine\n[lens A]\nfocal = 50", "head Ball",
         "# mine\n[lens A]\nfocal = 50\n\n[head Ball]\nlean east = 2\nskew = 0.1\n");
    edit("[head Ball]\n# level?\n LEAN EAST=1 ; yes\nerror = 1\n\n# next\n[lens A]\nskew = 9\n",
         "head ball",
         "[head Ball]\n# level?\nlean east = 2\nerror = 1\nskew = 0.1\n\n# next\n[lens A]\nskew = "
         "9\n");
    /* Of several sections one may have values; the others are left alone. */
    edit("[head Ball]\nskew = 3\n[place A]\n[head Ball]\n# none\n", "head Ball",
         "[head Ball]\nskew = 0.1\nlean east = 2\n[place A]\n[head Ball]\n# none\n");
    edit("[head Ball]\n[head Ball]\nskew = 3\n[place A]\n", "head Ball",
         "[head Ball]\n[head Ball]\nskew = 0.1\nlean east = 2\n[place A]\n");
    edit("[ head Ball ]\r\nskew=3\r\nlean north = 4", "head Ball",
         "[ head Ball ]\r\nskew = 0.1\nlean north = 4\nlean east = 2\n");
}
END_TEST

START_TEST(written_back_and_read_again)
{
    static const struct rig_value values[] = {{"lean east", "-2.25"}, {"learned", "2026-02-24"}};
    struct error err = {0};
    char *out = NULL;
    size_t length = 0;
    ck_assert_int_eq(rig_edit(&out, &length, meadow, strlen(meadow), "head Ball", values, 2, &err),
                     0);
    ck_assert_int_eq(rig_parse(&file, out, length, "rig.ini", &err), 0);
    assert_near(file.head[0].lean_east_deg, -2.25, 0, "deg");
    assert_stamp(file.head[0].learned, "2026-02-24T00:00:00");
    ck_assert_ptr_nonnull(strstr(out, "pixels = 4000x6000   ; portrait or not\n"));
    free(out);
}
END_TEST

static const char zoom[] = "[lens Zoom]\nfocal = 70-300\n[lens Other]\nfocal = 200\n"
                           "[profile wide]\nlens = zoom\nfocal = 70\nradius = 13\n"
                           "distortion = -1, 0.4\nerror = 0.01\naxis = 0.5, -0.2\n"
                           "[profile long]\nlens = Zoom\nfocal = 280\nradius = 26\n"
                           "distortion = 4\nerror = 0.03\naxis error = 0.1\n"
                           "[profile other]\nlens = Other\nfocal = 200\nradius = 13\n"
                           "distortion = 9\n";

/* How far a place of the sensor is drawn too far out, as a share. */
static double bend_at(const struct lens_profile *profile, double focal_mm, double radius_mm)
{
    return lens_profile_at(profile, radius_mm / focal_mm / profile->radius);
}

START_TEST(profiles)
{
    struct lens_profile profile;
    parse_well(zoom);
    const struct rig_lens *lens = &file.lens[0];
    ck_assert_int_eq(file.profiles, 3);
    assert_near(file.profile[0].term_percent[1], 0.4, 0, "%");
    assert_near(file.profile[0].term_percent[2], 0, 0, "%");
    ck_assert(isnan(file.profile[2].error_percent));
    ck_assert(rig_lens_profile(&profile, &file, lens, 70));
    assert_near(profile.radius, 13.0 / 70, 1e-15, "");
    assert_near(profile.term[0], -0.01, 1e-15, "share");
    assert_near(profile.axis_x, 0.005, 1e-15, "share");
    assert_near(profile.axis_y, -0.002, 1e-15, "share");
    assert_near(profile.error, 0.0001, 1e-15, "share");
    /* EXIF rounds: 3 % off it is still that one. */
    ck_assert(rig_lens_profile(&profile, &file, lens, 72));
    assert_near(profile.term[0], -0.01, 1e-15, "share");
    ck_assert(rig_lens_profile(&profile, &file, lens, 68));
    ck_assert(!rig_lens_profile(&profile, &file, lens, 67.5));
    ck_assert(rig_lens_profile(&profile, &file, lens, 288));
    ck_assert(!rig_lens_profile(&profile, &file, lens, 289));
    assert_near(profile.radius, 0, 0, "");
    ck_assert_ptr_eq(rig_profile_of(&file, lens, 71), &file.profile[0]);
    ck_assert_ptr_null(rig_profile_of(&file, lens, 140));
    ck_assert_ptr_eq(rig_profile_of(&file, &file.lens[1], 200), &file.profile[2]);
}
END_TEST

/* Half way between 70 and 280 mm is 140 mm; at 13 mm from the axis one bends by -0.6 %, the other,
 * which bends by 4 % at 26 mm, by 1 %. */
START_TEST(profiles_of_a_zoom)
{
    struct lens_profile wide, between, longest;
    parse_well(zoom);
    const struct rig_lens *lens = &file.lens[0];
    ck_assert(rig_lens_profile(&wide, &file, lens, 70));
    ck_assert(rig_lens_profile(&longest, &file, lens, 280));
    ck_assert(rig_lens_profile(&between, &file, lens, 140));
    assert_near(bend_at(&longest, 280, 13), 0.01, 1e-12, "share");
    assert_near(bend_at(&between, 140, 13), 0.002, 1e-12, "share");
    assert_near(bend_at(&between, 140, 6), (bend_at(&wide, 70, 6) + bend_at(&longest, 280, 6)) / 2,
                1e-12, "share");
    assert_near(between.axis_x * between.radius * 140, 0.005 * 13 / 2, 1e-12, "mm");
    /* The larger error, and a quarter of the 1.6 % by which they differ there. */
    assert_near(between.error, hypot(0.0003, 0.004), 1e-9, "share");
    assert_near(between.axis_error, 0.002, 1e-12, "share");
}
END_TEST

Suite *rig_suite(void)
{
    Suite *suite = suite_create("rig");
    TCase *reading = tcase_create("reading");
    tcase_add_test(reading, profiles);
    tcase_add_test(reading, profiles_of_a_zoom);
    tcase_add_test(reading, a_whole_file);
    tcase_add_test(reading, indexes);
    tcase_add_test(reading, odd_line_ends);
    tcase_add_test(reading, choosing);
    tcase_add_test(reading, models);
    tcase_add_test(reading, a_model_tells_the_sensor);
    tcase_add_test(reading, a_model_and_its_pixels_tell_the_pitch);
    tcase_add_test(reading, a_model_that_nobody_knows_is_refused);
    tcase_add_test(reading, cut_and_resized_frames);
    tcase_add_loop_test(reading, refusals, 0, (int)(sizeof bad / sizeof *bad));
    tcase_add_test(reading, long_lines_and_zero_bytes);
    tcase_add_test(reading, too_many);
    suite_add_tcase(suite, reading);
    TCase *writing = tcase_create("writing");
    tcase_add_test(writing, writing_back);
    tcase_add_test(writing, written_back_and_read_again);
    suite_add_tcase(suite, writing);
    return suite;
}
