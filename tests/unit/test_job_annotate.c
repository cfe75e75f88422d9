/* Drawing on a picture, and a chart without one, as calls. */
#include "image/frame.h"
#include "job_fixture.h"
#include "jobs/job_annotate.h"
#include "jobs/job_chart.h"
#include "stamps.h"

#include "base/units.h"

#include <cairo.h>
#include <math.h>

Suite *job_annotate_suite(void);

static int annotate(const struct picture_source *picture, const struct job_annotate_wish *wish,
                    struct error *err)
{
    static struct job_annotate_result result;
    job_fixture_hush();
    int code = job_annotate(&result, job_fixture_engine(), picture, wish, NULL, err);
    job_fixture_unhush();
    ck_assert(code || !result.solved.solution.solved || result.report.objects > 0);
    job_annotate_free(&result);
    return code;
}

static void check_bytes(const char *path, const struct file_bytes *bytes)
{
    size_t size;
    unsigned char *file = scratch_read(path, &size);
    ck_assert_uint_gt(size, 1000);
    ck_assert_uint_eq(bytes->size, size);
    ck_assert_mem_eq(bytes->bytes, file, size);
    free(file);
}

/* SVG is left out: it numbers the drawings of a process. */
START_TEST(from_memory_to_memory_as_from_file_to_file)
{
    static const enum drawing_format formats[] = {DRAWING_PNG, DRAWING_JPEG, DRAWING_PDF};
    const char *path = job_fixture_frame("a.jpg", 0, NULL);
    const struct picture_source file = picture_source_file(path);
    const struct picture_source memory = job_fixture_memory(path);
    struct file_bytes bytes = {0};
    struct job_annotate_wish wish = {.format = formats[_i], .output.name = scratch_path("drawn")};
    ck_assert_int_eq(annotate(&file, &wish, NULL), 0);
    unlink(path);
    wish.output.memory = &bytes;
    ck_assert_int_eq(annotate(&memory, &wish, NULL), 0);
    check_bytes(wish.output.name, &bytes);
    file_bytes_free(&bytes);
    free((void *)memory.bytes);
}
END_TEST

/* A sheet that has nothing but the plan on it. */
static void draw_plan(const struct night_plan *plan, const struct picture_source *file,
                      cairo_surface_t **surface)
{
    const char *name = scratch_path("sheet.png");
    struct job_annotate_wish wish = {.format = DRAWING_PNG, .output.name = name, .alone = true};
    static struct job_annotate_result result;
    struct error err = {0};
    wish.plan = plan;
    aim_target_radec(&wish.target, plan->middle.ra_deg, plan->middle.dec_deg);
    wish.drawing.hide = (1U << LAYERS) - 1;
    wish.drawing.show = 1U << LAYER_PLAN;
    ck_assert_msg(job_annotate(&result, job_fixture_engine(), file, &wish, NULL, &err) == 0, "%s",
                  err.text);
    ck_assert(result.has_target && result.aim.verdict == AIM_WHOLE);
    job_annotate_free(&result);
    *surface = cairo_image_surface_create_from_png(name);
    ck_assert_int_eq((int)cairo_surface_status(*surface), CAIRO_STATUS_SUCCESS);
}

/* Whether something is drawn within two pixels. */
static bool is_inked(cairo_surface_t *surface, double x, double y)
{
    const unsigned char *bytes = cairo_image_surface_get_data(surface);
    int stride = cairo_image_surface_get_stride(surface);
    bool any = false;
    for (int row = (int)lround(y) - 2; row <= (int)lround(y) + 2; row++) {
        for (int column = (int)lround(x) - 2; column <= (int)lround(x) + 2; column++) {
            bool inside = row >= 0 && column >= 0 && row < 1000 && column < 1500;
            any = any || (inside && bytes[row * stride + 4 * column + 3] > 60);
        }
    }
    return any;
}

/* The edge is held against a plain WCS of such a frame, and the cross leaves the middle free. */
START_TEST(the_frame_of_a_plan_is_drawn_where_it_lies)
{
    struct wcs truth, meant = {.width = 601, .height = 401, .x = 300, .y = 200, .order = 0};
    const char *path = job_fixture_frame("a.png", 0, &truth);
    const struct picture_source file = picture_source_file(path);
    struct night_plan plan = {.up_deg = 40, .focal_mm = 300};
    cairo_surface_t *surface;
    double scale = 0.005, turn = 40 * RAD_PER_DEG, x, y, ra, dec;
    wcs_radec(&plan.middle.ra_deg, &plan.middle.dec_deg, &truth, 800, 520);
    plan.field_width_deg = 2 * atan(300 * scale * RAD_PER_DEG) * DEG_PER_RAD;
    plan.field_height_deg = 2 * atan(200 * scale * RAD_PER_DEG) * DEG_PER_RAD;
    meant.ra_deg = plan.middle.ra_deg;
    meant.dec_deg = plan.middle.dec_deg;
    meant.cd[0][0] = meant.cd[1][1] = -scale * cos(turn);
    meant.cd[1][0] = scale * sin(turn);
    meant.cd[0][1] = -scale * sin(turn);
    draw_plan(&plan, &file, &surface);
    for (int i = 0; i <= 600; i += 50) {
        double rim[4][2] = {{i, 0}, {i, 400}, {0, i * 2 / 3.0}, {600, i * 2 / 3.0}};
        for (int k = 0; k < 4; k++) {
            wcs_radec(&ra, &dec, &meant, rim[k][0], rim[k][1]);
            ck_assert(wcs_pixel_radec(&x, &y, &truth, ra, dec));
            ck_assert_msg(is_inked(surface, x, y), "edge %d at %d: (%.0f, %.0f)", k, i, x, y);
        }
    }
    ck_assert(!is_inked(surface, 800, 520));
    ck_assert(is_inked(surface, 800 + 12, 520) && is_inked(surface, 800, 520 - 12));
    ck_assert(!is_inked(surface, 740, 520));
    cairo_surface_destroy(surface);
}
END_TEST

START_TEST(a_drawing_is_a_picture_of_the_same_size)
{
    const struct picture_source file = picture_source_file(job_fixture_frame("a.jpg", 0, NULL));
    const struct frame_options plane = {0};
    struct file_bytes bytes = {0};
    struct frame frame;
    const struct job_annotate_wish wish = {.format = DRAWING_PNG, .output = {"drawn", &bytes}};
    ck_assert_int_eq(annotate(&file, &wish, NULL), 0);
    const struct picture_source drawn = picture_source_bytes(bytes.bytes, bytes.size, "drawn");
    ck_assert_int_eq(frame_read_from(&frame, &drawn, &plane, NULL), 0);
    ck_assert(frame.width == 1500 && frame.height == 1000);
    frame_free(&frame);
    file_bytes_free(&bytes);
}
END_TEST

static void check_refused(const struct picture_source *picture,
                          const struct job_annotate_wish *wish, int code, const char *reason)
{
    struct error err = {0};
    int files = scratch_count();
    ck_assert_int_eq(annotate(picture, wish, &err), code);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s", err.text);
    ck_assert_int_eq(scratch_count(), files);
}

START_TEST(what_cannot_be_is_refused_and_writes_nothing)
{
    char path[600];
    snprintf(path, sizeof path, "%s", job_fixture_frame("a.png", 0, NULL));
    const struct picture_source file = picture_source_file(path);
    const struct picture_source text = picture_source_bytes("text", 4, "a text");
    const struct job_annotate_wish clear = {
        .format = DRAWING_JPEG, .alone = true, .output.name = scratch_path("drawn.jpg")};
    const struct job_annotate_wish timed = {.occasion.taken = make_stamp("2026-01-18T21:00:00"),
                                            .output.name = scratch_path("drawn.png")};
    check_refused(&file, &clear, ERROR_USAGE, "no transparency");
    check_refused(&file, &timed, ERROR_USAGE, "of which zone");
    const struct job_annotate_wish other = {.drawing.other.focal_mm = 300,
                                            .output.name = scratch_path("drawn.png")};
    const struct job_annotate_wish nowhere = {.output.name = scratch_path("no/drawn.png")};
    check_refused(&file, &other, ERROR_USAGE, "its own focal length");
    check_refused(&text, &other, ERROR_INPUT, "not a picture");
    check_refused(&file, &nowhere, ERROR_OUTPUT, "no/drawn.png");
}
END_TEST

START_TEST(no_solution_and_a_cancelled_job_write_nothing)
{
    static struct job_annotate_result result;
    const struct picture_source grey = picture_source_file(job_fixture_grey("grey.png"));
    const struct picture_source file = picture_source_file(job_fixture_frame("a.jpg", 0, NULL));
    const struct job_annotate_wish wish = {.output.name = scratch_path("drawn.png")};
    struct job_watchman man;
    struct error err = {0};
    ck_assert_int_eq(annotate(&grey, &wish, NULL), 0);
    for (int i = 0; i < 2; i++) {
        job_watchman_start(&man, i);
        int code = job_annotate(&result, job_fixture_engine(), &file, &wish, &man.control, &err);
        ck_assert_int_eq(code, ERROR_CANCELLED);
        job_annotate_free(&result);
    }
    ck_assert_int_eq(scratch_count(), 2);
}
END_TEST

START_TEST(a_chart_needs_no_picture)
{
    const struct job_engine *engine = job_fixture_engine();
    const struct object *object = objects_look_up(&engine->atlas.objects, "M 42", NULL);
    struct job_chart_wish wish = {.format = DRAWING_PNG, .output.name = scratch_path("chart.png")};
    struct overlay_report report;
    struct job_watchman man;
    struct error err = {0};
    struct file_bytes bytes = {0};
    job_fixture_hush();
    ck_assert_int_eq(job_chart(&report, engine, object, &wish, NULL, &err), 0);
    wish.output.memory = &bytes;
    ck_assert_int_eq(job_chart(&report, engine, object, &wish, NULL, &err), 0);
    job_fixture_unhush();
    ck_assert_int_gt(report.objects, 0);
    check_bytes(wish.output.name, &bytes);
    file_bytes_free(&bytes);
    job_watchman_start(&man, 0);
    ck_assert_int_eq(job_chart(&report, engine, object, &wish, &man.control, &err),
                     ERROR_CANCELLED);
    ck_assert_ptr_null(bytes.bytes);
}
END_TEST

/* 22.2 mm behind 250 mm cover 2 atan(11.1 / 250) = 5.085 degrees. */
START_TEST(the_frame_of_a_lens_is_held_against_an_object)
{
    const struct job_chart_wish wish = {.drawing.other = {250, 22.2, 14.8}};
    const struct job_chart_wish nothing = {0};
    struct other_frame frame;
    job_chart_frame(&frame, job_fixture_engine(), &wish);
    ck_assert_double_eq_tol(frame.width_deg, 5.085, 0.001);
    ck_assert_str_eq(frame.name, "250 mm on 22.2 × 14.8 mm");
    job_chart_frame(&frame, job_fixture_engine(), &nothing);
    ck_assert(frame.width_deg == 0);
}
END_TEST

Suite *job_annotate_suite(void)
{
    Suite *s = suite_create("job_annotate");
    TCase *c = job_fixture_case(s, "annotate");
    tcase_add_loop_test(c, from_memory_to_memory_as_from_file_to_file, 0, 3);
    tcase_add_test(c, the_frame_of_a_plan_is_drawn_where_it_lies);
    tcase_add_test(c, a_drawing_is_a_picture_of_the_same_size);
    tcase_add_test(c, what_cannot_be_is_refused_and_writes_nothing);
    tcase_add_test(c, no_solution_and_a_cancelled_job_write_nothing);
    tcase_add_test(c, a_chart_needs_no_picture);
    tcase_add_test(c, the_frame_of_a_lens_is_held_against_an_object);
    return s;
}
