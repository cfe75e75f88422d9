/* Drawing on a picture, and a chart without one, as calls. */
#include "image/frame.h"
#include "job_fixture.h"
#include "jobs/job_annotate.h"
#include "jobs/job_chart.h"

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
    const struct job_annotate_wish timed = {.occasion.taken = "2026-01-18T21:00:00",
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
    tcase_add_test(c, a_drawing_is_a_picture_of_the_same_size);
    tcase_add_test(c, what_cannot_be_is_refused_and_writes_nothing);
    tcase_add_test(c, no_solution_and_a_cancelled_job_write_nothing);
    tcase_add_test(c, a_chart_needs_no_picture);
    tcase_add_test(c, the_frame_of_a_lens_is_held_against_an_object);
    return s;
}
