/* Frames of a night: from a solve to a line and back, and lines that are damaged. */
#include "base/text.h"
#include "match/curved_camera.h"
#include "match/solve.h"
#include "near.h"
#include "night/night_unite.h"
#include "scratch.h"
#include "sky_fixture.h"
#include "stamps.h"

#include <math.h>
#include <string.h>

Suite *night_frame_suite(void);

/* A modelled picture of that lens, solved. */
static void solve_model(struct solution *solution, struct model_stars *model,
                        const struct model_options *options)
{
    struct solve_options how = {0};
    struct error err = {0};
    sky_look(model, options);
    ck_assert_int_eq(solve_stars(solution, &model->list, fixture_index(), &how, &err), 0);
    ck_assert_msg(solution->solved, "%s", solution->why);
}

static void make_note(struct night_frame *note, const char *name, const struct solution *solution)
{
    struct frame frame = {.width = 3000, .height = 2000, .format = "JPEG"};
    struct error err = {0};
    frame.facts.iso = (struct fact){800, FACT_EXIF, "EXIF"};
    frame.facts.latitude_deg = (struct fact){-33.456789, FACT_EXIF, "EXIF GPS"};
    frame.facts.longitude_deg = (struct fact){-70.654321, FACT_EXIF, "EXIF GPS"};
    frame.facts.height_m = (struct fact){520.5, FACT_EXIF, "EXIF GPS"};
    frame.facts.exposure_s = (struct fact){2, FACT_EXIF, "EXIF"};
    frame.facts.start_local = make_stamp("2026-02-24T20:30:00.25");
    snprintf(frame.facts.camera, sizeof frame.facts.camera, "Sample \"One\" <b>");
    const struct night_source source = {.name = name, .frame = &frame, .solution = solution};
    ck_assert_int_eq(night_frame_make(note, &source, &err), 0);
}

static void round_trip(struct night_frame *back, const struct night_frame *note)
{
    struct json json = {0};
    struct error err = {0};
    ck_assert_int_eq(night_frame_write(&json, note, &err), 0);
    ck_assert_ptr_null(strchr(json.text, '\n'));
    int code = night_frame_read(back, json.text, json.length, &err);
    ck_assert_msg(code == 0, "%s in %s", err.text, json.text);
    json_free(&json);
}

/* The WCS that a line keeps is that of the solution, for lenses that bend and pictures in a mirror.
 */
START_TEST(test_wcs)
{
    const double bend[] = {0, -0.02, 0.01, -0.006};
    struct model_stars model = {0};
    struct random random = {5};
    for (int round = 0; round < 8; round++) {
        struct model_options options = sky_usual(15, 300);
        struct solution solution = {0};
        struct night_frame note, back;
        struct wcs wcs;
        sky_point(&options, round, &random);
        options.lens.mirrored = round >= 4;
        options.lens.distortion = bend[round % 4];
        solve_model(&solution, &model, &options);
        make_note(&note, "a.jpg", &solution);
        round_trip(&back, &note);
        ck_assert(night_frame_wcs(&wcs, &back));
        assert_near(sky_largest_error_px(&wcs, &solution.wcs), 0, 1.0, "px");
        /* What the fit to stars that are off by 0.3 px leaves open in the corners comes on top. */
        assert_near(sky_largest_error_px(&wcs, &model.truth), 0, 2.5, "px");
        ck_assert_int_eq(wcs_mirrored(&wcs), options.lens.mirrored);
        night_frame_free(&note);
        night_frame_free(&back);
        solution_free(&solution);
    }
    model_stars_free(&model);
}
END_TEST

/* Without a pose the middle still is right. */
START_TEST(test_wcs_without_pose)
{
    struct model_stars model = {0};
    struct random random = {6};
    for (int round = 1; round < 5; round++) {
        struct model_options options = sky_usual(15, 300);
        struct solution solution = {0};
        struct night_frame note;
        struct wcs wcs;
        sky_point(&options, 4 * round - 1, &random);
        options.lens.mirrored = round >= 3;
        solve_model(&solution, &model, &options);
        make_note(&note, "a.jpg", &solution);
        note.pose.focal_px = 0;
        ck_assert(night_frame_wcs(&wcs, &note));
        assert_near(sky_largest_error_px(&wcs, &solution.wcs), 0, 1.5, "px");
        night_frame_free(&note);
        solution_free(&solution);
    }
    model_stars_free(&model);
}
END_TEST

START_TEST(test_round_trip)
{
    struct model_options options = sky_usual(15, 300);
    struct model_stars model = {0};
    struct solution solution = {0};
    struct night_frame note, back;
    struct aim_target target;
    options.ra_deg = 83.8;
    options.dec_deg = -5.4;
    solve_model(&solution, &model, &options);
    make_note(&note, "odd \xff\n%41 <script>.jpg", &solution);
    aim_target_radec(&target, 83.9, -5.0);
    night_frame_aim(&note, &target);
    note.times.total_ms = 12.5;
    note.modified_ns = 1771965000123456789;
    note.bytes = 24000000;
    note.digest = UINT64_C(0xfedcba9876543210);
    note.read_errors = 2;
    note.health.fwhm_px = 3.25;
    note.health.faults = 1U << HEALTH_TRAILS | 1U << HEALTH_UNEVEN;
    note.health.look.kind = KIND_FLAT;
    free(note.says);
    note.says = text_copy("trails");
    note.streaks = (struct streak_list){{{10, 20, 300, 400}, {1, 2, 3, 4}}, 2};
    round_trip(&back, &note);

    ck_assert_str_eq(back.name, note.name);
    ck_assert(back.read && back.solved);
    ck_assert_int_eq(back.bytes, note.bytes);
    ck_assert_int_eq(back.modified_ns, note.modified_ns);
    ck_assert_uint_eq(back.digest, note.digest);
    ck_assert_int_eq(back.read_errors, 2);
    ck_assert_str_eq(back.camera, "Sample \"One\" <b>");
    assert_stamp(back.start_local, "2026-02-24T20:30:00.25");
    assert_near(back.iso, 800, 0, "ISO");
    assert_near(back.latitude_deg, -33.456789, 1e-9, "latitude");
    assert_near(back.longitude_deg, -70.654321, 1e-9, "longitude");
    assert_near(back.height_m, 520.5, 1e-9, "height");
    assert_near(back.exposure_s, 2, 0, "s");
    assert_near(back.ra_deg, note.ra_deg, 1e-6, "deg");
    assert_near(back.dec_deg, note.dec_deg, 1e-6, "deg");
    assert_near(back.scale_arcsec, note.scale_arcsec, 1e-5, "arcsec");
    assert_near(back.times.total_ms, 12.5, 0, "ms");
    assert_near(back.target.x, note.target.x, 0.01, "px");
    ck_assert_int_eq(back.target.verdict, AIM_WHOLE);
    ck_assert_uint_eq(back.health.faults, note.health.faults);
    ck_assert_int_eq(back.health.look.kind, KIND_FLAT);
    assert_near(back.health.fwhm_px, 3.25, 0, "px");
    ck_assert(isnan(back.health.elongation));
    ck_assert_int_eq(back.streaks.count, 2);
    assert_near(back.streaks.streak[0].y1, 400, 0, "px");
    night_frame_free(&note);
    night_frame_free(&back);
    solution_free(&solution);
    model_stars_free(&model);
}
END_TEST

/* A copy outlives what it was made from, and has a name of its own; thousands of frames are small.
 */
START_TEST(test_copy)
{
    static const char line[] =
        "{\"frame\": \"a\", \"solved\": false, \"why\": \"dew\", \"picture\": "
        "{\"width\": 3, \"height\": 2}, \"camera\": {\"model\": \"m\"}, "
        "\"health\": {\"says\": \"soft\"}}";
    struct night_frame frame, copy = {0}, named = {0}, empty = {0}, none;
    ck_assert_int_eq(night_frame_read(&frame, line, strlen(line), NULL), 0);
    ck_assert_int_eq(night_frame_copy(&copy, &frame, NULL, NULL), 0);
    ck_assert_int_eq(night_frame_copy(&named, &frame, "b", NULL), 0);
    ck_assert_int_eq(night_frame_copy(&none, &empty, "c", NULL), 0);
    night_frame_free(&frame);
    ck_assert_str_eq(copy.name, "a");
    ck_assert_str_eq(named.name, "b");
    ck_assert_str_eq(night_frame_why(&named), "dew");
    ck_assert_str_eq(night_frame_says(&copy), "soft");
    ck_assert_str_eq(copy.camera, "m");
    ck_assert_ptr_null(copy.lens);
    ck_assert_str_eq(night_frame_why(&none), "");
    ck_assert_str_eq(night_frame_says(&none), "");
    night_frame_free(&copy);
    night_frame_free(&named);
    night_frame_free(&none);
    ck_assert_uint_le(sizeof frame, 1300);
}
END_TEST

/* A fisheye's line says where all of it points, not its middle alone. */
START_TEST(test_fisheye)
{
    const struct curved_camera camera = {.kind = PROJECTION_ZEA,
                                         .axis = {{0.6, 0.8, 0}, {0.8, -0.6, 0}, {0, 0, -1}},
                                         .focal_px = 640,
                                         .x = 12,
                                         .y = -7,
                                         .term = {0.02, -0.01, 0.003},
                                         .unit_px = 1000};
    struct solution solution = {.solved = true, .matched = 9, .chance_log10 = -20};
    struct night_frame note, back;
    struct wcs wcs;
    double v[3], x, y;
    curved_wcs(&solution.wcs, &camera, 3000, 2000, true);
    solution.wcs.reach_deg = 80;
    make_note(&note, "fisheye", &solution);
    note.width = 3000;
    note.height = 2000;
    round_trip(&back, &note);
    ck_assert(night_frame_wcs(&wcs, &back));
    ck_assert(!(back.pose.focal_px > 0));
    for (int i = 0; i < 9; i++) {
        double at_x = 1100 + 400 * (i % 3), at_y = 600 + 400 * (i / 3);
        wcs_direction(v, &solution.wcs, at_x, at_y);
        ck_assert(wcs_pixel(&x, &y, &wcs, v));
        assert_near(x, at_x, 0.001, "px");
        assert_near(y, at_y, 0.001, "px");
    }
    night_frame_free(&note);
    night_frame_free(&back);
}
END_TEST

START_TEST(test_clock)
{
    struct night_frame frame = {.modified_ns = 1771965002000000000, .exposure_s = 2};
    struct utc utc;
    char text[32];
    ck_assert_int_eq(night_frame_start(&utc, &frame), NIGHT_CLOCK_FILE);
    time_write(text, sizeof text, utc, 0);
    ck_assert_str_eq(text, "2026-02-24T20:30:00Z"); /* date -u -d @1771965000 */
    frame.start_local = make_stamp("2026-02-24T21:30:00");
    ck_assert_int_eq(night_frame_start(&utc, &frame), NIGHT_CLOCK_LOCAL);
    frame.start_utc = make_stamp("2026-02-24T20:30:00.5Z");
    ck_assert_int_eq(night_frame_start(&utc, &frame), NIGHT_CLOCK_UTC);
    time_write(text, sizeof text, utc, 1);
    ck_assert_str_eq(text, "2026-02-24T20:30:00.5Z");
}
END_TEST

/* Each cause comes back; only what the content is at fault for needs no other try. */
START_TEST(test_unread)
{
    for (int cause = 0; cause < ERROR_CAUSES; cause++) {
        struct night_frame note, back;
        struct error why = {0}, err = {0};
        const struct night_source source = {.name = "a.jpg", .unread = &why};
        error_because(&why, error_set(&why, ERROR_INPUT, "a.jpg: torn"), (enum error_cause)cause);
        ck_assert_int_eq(night_frame_make(&note, &source, &err), 0);
        ck_assert_int_eq(note.read_errors, cause == CAUSE_DEVICE);
        round_trip(&back, &note);
        ck_assert(!back.read);
        ck_assert_str_eq(back.why, "torn");
        ck_assert_int_eq(back.unread, cause);
        ck_assert_int_eq(night_frame_is_settled(&back), cause == CAUSE_CONTENT);
        night_frame_free(&note);
        night_frame_free(&back);
    }
}
END_TEST

/* A line of before does not say why: the file is tried again. Digests are 16 digits or none. */
START_TEST(test_file_of_line)
{
    static const struct {
        const char *line;
        bool settled;
        uint64_t digest;
    } lines[] = {
        {"{\"frame\": \"a\", \"solved\": false, \"why\": \"cannot be opened\"}", false, 0},
        {"{\"frame\": \"a\", \"unread\": \"content\"}", true, 0},
        {"{\"frame\": \"a\", \"unread\": 7, \"file\": {\"digest\": 5}}", false, 0},
        {"{\"frame\": \"a\", \"picture\": {\"width\": 9, \"height\": 9}, \"file\": "
         "{\"digest\": \"00000000000000ff\"}}",
         true, 255},
        {"{\"frame\": \"a\", \"file\": {\"digest\": \"00000000000000fF\"}}", false, 0},
        {"{\"frame\": \"a\", \"file\": {\"digest\": \"ff\"}}", false, 0},
        {"{\"frame\": \"a\", \"file\": {\"digest\": \"00000000000000ff0\"}}", false, 0},
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct night_frame frame;
        struct error err = {0};
        const char *line = lines[i].line;
        ck_assert_int_eq(night_frame_read(&frame, line, strlen(line), &err), 0);
        ck_assert_msg(night_frame_is_settled(&frame) == lines[i].settled, "%s", line);
        ck_assert_msg(frame.digest == lines[i].digest, "%s", line);
        night_frame_free(&frame);
    }
}
END_TEST

static int read_text(const char *line)
{
    struct night_frame frame;
    struct error err = {0};
    int code = night_frame_read(&frame, line, strlen(line), &err);
    night_frame_free(&frame);
    return code;
}

START_TEST(test_lines_that_are_no_frames)
{
    ck_assert_int_eq(read_text("{\"event\": \"cloud\"}"), ERROR_NO);
    ck_assert_int_eq(read_text("{\"frame\": 5}"), ERROR_NO);
    ck_assert_int_eq(read_text("{\"frame\": \"\"}"), ERROR_NO);
    ck_assert_int_eq(read_text("[1, 2]"), ERROR_INPUT);
    ck_assert_int_eq(read_text("17"), ERROR_INPUT);
    ck_assert_int_eq(read_text("null"), ERROR_INPUT);
    ck_assert_int_eq(read_text(""), ERROR_INPUT);
    ck_assert_int_eq(read_text("{\"frame\": \"a.jpg\""), ERROR_INPUT);
    ck_assert_int_eq(read_text("{\"frame\": \"a.jpg\"} x"), ERROR_INPUT);
    ck_assert_int_eq(read_text("{\"frame\": \"\xff\"}"), ERROR_INPUT);
    ck_assert_int_eq(read_text("{\"frame\": \"a.jpg\"}\n"), 0);
}
END_TEST

/* A claim without the numbers to it counts for nothing; wrong types and wild numbers do no harm. */
START_TEST(test_doubtful_lines)
{
    static const char *const lines[] = {
        "{\"frame\": \"a\", \"solved\": true}",
        "{\"frame\": \"a\", \"solved\": true, \"centre\": {\"ra_deg\": 1, \"dec_deg\": 99}, "
        "\"scale_arcsec_px\": 3, \"picture\": {\"width\": 10, \"height\": 10}}",
        "{\"frame\": \"a\", \"solved\": true, \"centre\": {\"ra_deg\": 1, \"dec_deg\": 9}, "
        "\"scale_arcsec_px\": 0, \"picture\": {\"width\": 10, \"height\": 10}}",
        "{\"frame\": \"a\", \"solved\": true, \"centre\": {\"ra_deg\": 1, \"dec_deg\": 9}, "
        "\"scale_arcsec_px\": 3, \"picture\": {\"width\": 60001, \"height\": 10}}",
        "{\"frame\": \"a\", \"solved\": true, \"centre\": [1, 2], \"scale_arcsec_px\": \"3\", "
        "\"picture\": {\"width\": 1e300, \"height\": -4}, \"pose\": {\"axes\": [1, 2, 3]}, "
        "\"health\": {\"fwhm_px\": \"wide\", \"faults\": {\"a\": 1}, \"kind\": 7}, \"time\": 3}",
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct night_frame frame;
        struct error err = {0};
        ck_assert_int_eq(night_frame_read(&frame, lines[i], strlen(lines[i]), &err), 0);
        ck_assert_msg(!frame.solved, "line %zu", i);
        ck_assert(isnan(frame.health.fwhm_px));
        night_frame_free(&frame);
    }
}
END_TEST

/* Every beginning of a line is refused or read, and nothing worse. */
START_TEST(test_torn_lines)
{
    struct night_frame note, back;
    struct json json = {0};
    struct error err = {0};
    make_note(&note, "a.jpg", NULL);
    ck_assert_int_eq(night_frame_write(&json, &note, &err), 0);
    for (size_t length = 0; length < json.length; length++) {
        ck_assert_int_eq(night_frame_read(&back, json.text, length, &err), ERROR_INPUT);
        ck_assert_ptr_null(back.name);
    }
    json_free(&json);
    night_frame_free(&note);
}
END_TEST

START_TEST(test_list)
{
    static const char text[] = "{\"frame\": \"a\", \"why\": \"first\"}\n"
                               "{\"frame\": \"b\"}\n"
                               "{\"frame\": \"a\", \"why\": \"sec\n"
                               "{\"event\": 1}\n"
                               "\n"
                               "{\"frame\": \"a\", \"why\": \"last\"}\n"
                               "{\"frame\": \"c\", \"wh";
    struct night_list list = {0};
    struct night_lines lines;
    struct error err = {0};
    const char *name = scratch_write("log.jsonl", text, sizeof text - 1);
    ck_assert_int_eq(night_list_read(&list, &lines, name, &err), 0);
    ck_assert_int_eq(lines.frames, 3);
    ck_assert_int_eq(lines.others, 1);
    ck_assert_int_eq(lines.broken, 2);
    ck_assert_int_eq(lines.first_broken, 3);
    ck_assert(lines.torn);
    ck_assert_int_eq(night_unite_names(&list, 0, &err), 0);
    ck_assert_int_eq(list.count, 2);
    ck_assert_str_eq(list.frame[0].name, "a");
    ck_assert_str_eq(list.frame[0].why, "last");
    ck_assert_str_eq(list.frame[1].name, "b");
    night_list_free(&list);
    ck_assert_int_eq(night_list_read(&list, &lines, scratch_path("none"), &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "none"));
}
END_TEST

Suite *night_frame_suite(void)
{
    Suite *suite = suite_create("night_frame");
    TCase *plain = tcase_create("lines");
    tcase_set_timeout(plain, 60);
    tcase_add_unchecked_fixture(plain, fixture_make_both, NULL);
    tcase_add_checked_fixture(plain, scratch_make, scratch_remove);
    tcase_add_test(plain, test_wcs);
    tcase_add_test(plain, test_copy);
    tcase_add_test(plain, test_fisheye);
    tcase_add_test(plain, test_wcs_without_pose);
    tcase_add_test(plain, test_round_trip);
    tcase_add_test(plain, test_clock);
    tcase_add_test(plain, test_unread);
    tcase_add_test(plain, test_file_of_line);
    tcase_add_test(plain, test_lines_that_are_no_frames);
    tcase_add_test(plain, test_doubtful_lines);
    tcase_add_test(plain, test_torn_lines);
    tcase_add_test(plain, test_list);
    suite_add_tcase(suite, plain);
    return suite;
}
