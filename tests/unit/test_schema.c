/* Tables of JSON objects: round trips of frames and their health, lines of older formats, and what
 * happens to a value that no table has. */
#include "base/random.h"
#include "base/schema_print.h"
#include "base/text.h"
#include "near.h"
#include "night/night_list.h"
#include "scratch.h"
#include "stamps.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

Suite *schema_suite(void);

/* Every key has its sentence, every word is another one. */
static void check_table(const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind != SCHEMA_INCLUDE) {
            ck_assert_msg(row->text && row->text[0], "%s says nothing", row->key);
            ck_assert_ptr_eq(schema_find(schema, row->key), row);
        }
        for (int i = 0; row->word && i < row->count; i++) {
            for (int j = 0; j < i; j++) {
                ck_assert_str_ne(row->word(i), row->word(j));
            }
        }
        if (row->of) {
            check_table(row->of);
        }
    }
}

START_TEST(has_sound_tables)
{
    check_table(&health_schema);
    check_table(&night_frame_schema);
}
END_TEST

/* A value as the table allows it, and as its decimals show it. */
static double draw_number(const struct schema_row *row, struct random *random)
{
    bool bounded = row->low < row->high;
    double low = bounded ? fmax(row->low, -900) : -900, high = bounded ? fmin(row->high, 900) : 900;
    char text[40];
    if (row->nullable && random_uniform(random) < 0.3) {
        return row->missing;
    }
    snprintf(text, sizeof text, "%.*f", row->decimals, random_between(random, low, high));
    return fmin(fmax(strtod(text, NULL), low), high);
}

static void draw_text(char *text, size_t size, struct random *random)
{
    static const char *const pieces[] = {"a", "\"", "\u00e9", "<", "\\", " "};
    text[0] = '\0';
    do {
        strcat(text, pieces[random_bits(random) % 6]);
    } while (strlen(text) + 3 < size && random_uniform(random) < 0.8);
}

static void draw_rows(char *structure, const struct schema *schema, struct random *random);

static void draw_row(char *structure, const struct schema_row *row, struct random *random)
{
    char *to = structure + row->at;
    int whole = row->kind == SCHEMA_INTEGER ? (int)draw_number(row, random)
                : row->kind == SCHEMA_WORD  ? (int)(random_bits(random) % (unsigned)row->count)
                                            : (int)(random_bits(random) & ((1U << row->count) - 1));
    long long large = (long long)(random_bits(random) >> 2);
    bool truth = random_uniform(random) < 0.5;
    double number = draw_number(row, random);
    switch (row->kind) {
    case SCHEMA_NUMBER:
        memcpy(to, &number, sizeof number);
        break;
    case SCHEMA_INTEGER:
    case SCHEMA_WORD:
    case SCHEMA_WORDS:
        memcpy(to, &whole, sizeof whole);
        break;
    case SCHEMA_LARGE:
        memcpy(to, &large, sizeof large);
        break;
    case SCHEMA_BOOL:
        memcpy(to, &truth, sizeof truth);
        break;
    case SCHEMA_TEXT:
        draw_text(to, row->size, random);
        break;
    case SCHEMA_NUMBERS:
        for (int i = 0; i < row->count; i++) {
            number = draw_number(row, random);
            memcpy(to + (size_t)i * sizeof number, &number, sizeof number);
        }
        break;
    case SCHEMA_OBJECT:
    case SCHEMA_INCLUDE:
        draw_rows(to, row->of, random);
        break;
    default:
        break;
    }
}

static void draw_rows(char *structure, const struct schema *schema, struct random *random)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (!row->put && !(row->take && row->kind != SCHEMA_OBJECT)) {
            draw_row(structure, row, random);
        }
    }
}

/* Every member that a table tells of, read back as it was. */
static void compare_rows(const char *got, const char *want, const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        const char *a = got + row->at, *b = want + row->at;
        if (row->kind == SCHEMA_OBJECT) {
            compare_rows(a, b, row->of);
        } else if (row->kind == SCHEMA_NUMBER) {
            double x, y;
            memcpy(&x, a, sizeof x);
            memcpy(&y, b, sizeof y);
            ck_assert_msg((isnan(x) && isnan(y)) || fabs(x - y) < pow(10, -row->decimals) * 0.51,
                          "%s: %g, expected %g", row->key, x, y);
        } else if (row->kind == SCHEMA_INTEGER || row->kind == SCHEMA_WORDS) {
            ck_assert_msg(memcmp(a, b, sizeof(int)) == 0, "%s differs", row->key);
        } else if (row->kind == SCHEMA_BOOL) {
            ck_assert_msg(*(const bool *)a == *(const bool *)b, "%s differs", row->key);
        }
    }
}

START_TEST(brings_health_there_and_back)
{
    struct random random = {3};
    for (int round = 0; round < 300; round++) {
        struct frame_health health, back;
        struct json json = {0};
        struct json_node *node;
        struct error err = {0};
        health_read_json(&health, NULL);
        draw_rows((char *)&health, &health_schema, &random);
        health.double_px = fabs(health.double_px) + 0.01;
        schema_write(&json, NULL, &health_schema, &health);
        ck_assert_msg(json_read(&node, json.text, json.length, &err) == 0, "%s: %s", err.text,
                      json.text);
        health_read_json(&back, node);
        compare_rows((const char *)&back, (const char *)&health, &health_schema);
        ck_assert_int_eq(back.look.kind, health.look.kind);
        json_read_free(node);
        json_free(&json);
    }
}
END_TEST

/* What goes together of a frame that was read, and perhaps solved. */
static void draw_frame(struct night_frame *frame, struct random *random)
{
    const struct night_pose square = {.axis = {{1, 0, 0}, {0, 0, -1}, {0, 1, 0}},
                                      .focal_px = 5000,
                                      .distortion = -0.0125,
                                      .x = 3.5,
                                      .y = -8.25,
                                      .half_diagonal = 1000};
    memset(frame, 0, sizeof *frame);
    draw_rows((char *)frame, &night_frame_schema, random);
    memset(&frame->pose, 0, sizeof frame->pose);
    if (random_uniform(random) < 0.7) {
        frame->pose = square;
    }
    frame->name = "frame \u00e9.jpg";
    frame->digest = random_bits(random);
    frame->width = 1 + (int)(random_bits(random) % 10000);
    frame->height = 1 + (int)(random_bits(random) % 10000);
    frame->read = true;
    frame->unread = CAUSE_CONTENT;
    frame->target.has_pixel = random_uniform(random) < 0.5;
    frame->ra_deg = fmod(fabs(frame->ra_deg), 360);
    frame->dec_deg = fmod(frame->dec_deg, 90);
    frame->scale_arcsec = fabs(frame->scale_arcsec) + 1e-5;
    frame->health.double_px = fabs(frame->health.double_px);
    frame->health.faults &=
        ~(1U << HEALTH_NOT_LIGHT); /* its sentence needs levels, which are not kept */
    frame->health.limits = health_usual();
    frame->health.solved = frame->solved;
    frame->streaks.count = (int)(random_bits(random) % (STREAKS_MOST + 1));
    for (int i = 0; i < frame->streaks.count; i++) {
        frame->streaks.streak[i] =
            (struct streak){i, 2 * i, 100 * i, (double)(random_bits(random) % 1000)};
    }
    char says[240];
    health_write_verdict(says, sizeof says, &frame->health);
    frame->says = text_copy(says);
    frame->camera = text_copy("Sample \"One\"");
    frame->why = frame->solved ? NULL : text_copy("no stars \u00e9");
}

/* Lines are longer than messages may be. */
static void check_same(const char *got, const char *want)
{
    size_t at = 0;
    while (got[at] && got[at] == want[at]) {
        at++;
    }
    size_t from = at > 30 ? at - 30 : 0;
    ck_assert_msg(got[at] == want[at], "%.100s ..., expected %.100s ...", got + from, want + from);
}

/* A line is read as it was written: it is the same when it is written again. */
START_TEST(brings_frames_there_and_back)
{
    struct random random = {4};
    for (int round = 0; round < 300; round++) {
        struct night_frame frame, back;
        struct json json = {0}, again = {0};
        struct error err = {0};
        draw_frame(&frame, &random);
        ck_assert_int_eq(night_frame_write(&json, &frame, &err), 0);
        ck_assert_msg(night_frame_read(&back, json.text, json.length, &err) == 0, "%s: %s",
                      err.text, json.text);
        ck_assert_int_eq(back.log_format, SCHEMA_FORMAT);
        ck_assert_int_eq(night_frame_write(&again, &back, &err), 0);
        check_same(again.text, json.text);
        ck_assert_int_eq(back.solved, frame.solved);
        ck_assert(back.digest == frame.digest && back.bytes == frame.bytes);
        ck_assert_str_eq(back.camera, frame.camera);
        json_free(&json);
        json_free(&again);
        ck_assert_str_eq(night_frame_why(&back), night_frame_why(&frame));
        ck_assert_str_eq(night_frame_says(&back), night_frame_says(&frame));
        free(frame.camera);
        free(frame.why);
        free(frame.says);
        night_frame_free(&back);
    }
}
END_TEST

static const char old_lines[] = "tests/unit/lines-format-1.jsonl";

/* Kept from version 0.1; the first has every key that there was. */
START_TEST(reads_lines_without_a_format)
{
    struct night_list list = {0};
    struct night_lines lines;
    struct error err = {0};
    ck_assert_msg(night_list_read(&list, &lines, old_lines, &err) == 0, "%s", err.text);
    ck_assert_int_eq(lines.frames, 4);
    ck_assert_int_eq(lines.broken, 0);
    const struct night_frame *f = &list.frame[0];
    const struct frame_health *h = &f->health;
    ck_assert_int_eq(f->log_format, 1);
    ck_assert_str_eq(f->lens, "70-200 mm");
    assert_stamp(f->start_utc, "2026-02-24T19:30:02.00Z");
    assert_stamp(f->start_local, "2026-02-24T20:30:02.00");
    ck_assert(f->solved && f->read && f->bytes == 145744);
    ck_assert_int_eq(f->width, 900);
    ck_assert_int_eq(f->height, 600);
    ck_assert_int_eq(f->detected, 183);
    ck_assert_int_eq(f->matched, 53);
    assert_near(f->ra_deg, 84.187199, 0, "deg");
    assert_near(f->dec_deg, -5.434062, 0, "deg");
    assert_near(f->field_width_deg, 4.14077, 0, "deg");
    assert_near(f->field_height_deg, 2.75469, 0, "deg");
    assert_near(f->scale_arcsec, 16.50059, 0, "arcsec");
    assert_near(f->up_angle_deg, 9.604, 0, "deg");
    assert_near(f->rms_px, 0.188, 0, "px");
    assert_near(f->rms_arcsec, 3.1017, 0, "arcsec");
    assert_near(f->chance_log10, -147.13, 0, "");
    assert_near(f->distortion_px, 3.46, 0, "px");
    assert_near(f->pose.x, 8.448, 0, "px");
    assert_near(f->pose.y, -0.838, 0, "px");
    assert_near(f->pose.focal_px, 12500.486, 0, "px");
    assert_near(f->target.x, 529.24, 0, "px");
    assert_near(f->target.y, 303.51, 0, "px");
    assert_near(f->focal_mm, 200, 0, "mm");
    assert_near(f->f_number, 2.8, 0, "");
    assert_near(f->iso, 3200, 0, "");
    assert_near(f->exposure_s, 1, 0, "s");
    assert_near(h->fwhm_px, 2.889, 0, "px");
    assert_near(h->fwhm_arcsec, 47.666, 0, "arcsec");
    assert_near(h->fwhm_middle_px, 2.856, 0, "px");
    assert_near(h->fwhm_corner_px[0], 3.291, 0, "px");
    ck_assert(isnan(h->fwhm_corner_px[1]));
    assert_near(h->elongation, 1.026, 0, "");
    assert_near(h->trail_px, 0.96, 0, "px");
    assert_near(h->trail_angle_deg, 14.4, 0, "deg");
    assert_near(h->drift_px, 0.91, 0, "px");
    assert_near(h->drift_angle_deg, 9.6, 0, "deg");
    assert_near(h->motion_px, 0.42, 0, "px");
    assert_near(h->motion_angle_deg, 39.7, 0, "deg");
    assert_near(h->limit_exposure_s, 3.3081, 0, "s");
    assert_near(h->double_px, 4.25, 0, "px");
    assert_near(h->double_angle_deg, -120.5, 0, "deg");
    assert_near(h->double_share, 0.375, 0, "");
    assert_near(h->sky_level, 31.8568, 0, "");
    assert_near(h->sky_share, 0.12493, 0, "");
    assert_near(h->sky_mag, 18.415, 0, "mag");
    assert_near(h->saturated_share, 0.01639, 0, "");
    assert_near(h->zero_mag, 17.578, 0, "mag");
    assert_near(h->zero_error, 0.033, 0, "mag");
    assert_near(h->colour_term, 0.292, 0, "");
    assert_near(h->limit_mag, 9.85, 0, "mag");
    assert_near(h->vignetting, 0.363, 0, "");
    assert_near(h->uneven_mag, 0.1, 0, "mag");
    assert_near(h->missing_share, 0.125, 0, "");
    assert_near(h->hidden_share, 0.25, 0, "");
    ck_assert_int_eq(h->shapes, 38);
    ck_assert_int_eq(h->zero_stars, 62);
    ck_assert_int_eq(h->expected, 40);
    ck_assert_uint_eq(h->faults, 1U << HEALTH_DOUBLE);
    ck_assert_int_eq(f->streaks.count, 2);
    assert_near(f->streaks.streak[1].y0, 500, 0, "px");
    assert_near(f->times.match_ms, 0.079, 0, "ms");
    ck_assert(list.frame[1].read && !list.frame[1].solved);
    ck_assert(!list.frame[2].read);
    ck_assert_int_eq(list.frame[2].unread, CAUSE_SHORT);
    ck_assert_str_eq(list.frame[3].name, "a\xff"
                                         "b.jpg");
    night_list_free(&list);
}
END_TEST

static void cut_out(char *text, const char *from, const char *until)
{
    char *start = strstr(text, from), *end = start ? strstr(start, until) : NULL;
    ck_assert_msg(end != NULL, "no %s", from);
    memmove(start, end, strlen(end) + 1);
}

/* The same line again, but for its format and the sentence, which is made anew. */
START_TEST(writes_old_lines_as_they_were)
{
    struct night_list list = {0};
    struct night_lines lines;
    struct error err = {0};
    struct json json = {0};
    char line[4096] = "";
    FILE *stream = fopen(old_lines, "r");
    ck_assert_ptr_nonnull(stream);
    ck_assert_ptr_nonnull(fgets(line, sizeof line, stream));
    fclose(stream);
    line[strcspn(line, "\n")] = '\0';
    ck_assert_int_eq(night_list_read(&list, &lines, old_lines, &err), 0);
    ck_assert_int_eq(night_frame_write(&json, &list.frame[0], &err), 0);
    cut_out(json.text, "\"format\": 2, ", "\"solved\"");
    cut_out(json.text, "\"says\"", "\"faults\"");
    cut_out(line, "\"says\"", "\"faults\"");
    check_same(json.text, line);
    json_free(&json);
    night_list_free(&list);
}
END_TEST

START_TEST(refuses_lines_of_a_later_format)
{
    struct night_list list = {0};
    struct night_lines lines;
    struct error err = {0};
    static const char line[] = "{\"frame\": \"a.jpg\", \"format\": 3, \"solved\": false}\n";
    const char *name = scratch_write("later.jsonl", line, sizeof line - 1);
    ck_assert_int_eq(night_list_read(&list, &lines, name, &err), ERROR_INPUT);
    ck_assert_ptr_nonnull(strstr(err.text, "are of format 3"));
    night_list_free(&list);
}
END_TEST

enum mistake { NO_MISTAKE, UNKNOWN_KEY, WRONG_KIND, INNER_KEY, UNKNOWN_PART };

/* Whether it ends the program. */
static bool ends_program(enum mistake mistake)
{
    fflush(NULL);
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        struct json json = {0};
        struct rlimit no_core = {0, 0};
        setrlimit(RLIMIT_CORE, &no_core);
        fclose(stderr);
        schema_begin(&json, &health_schema);
        schema_put_number(&json, mistake == UNKNOWN_KEY ? "fwhm_m" : "fwhm_px", 1);
        if (mistake == WRONG_KIND) {
            schema_put_integer(&json, "elongation", 1);
        }
        schema_open(&json, mistake == UNKNOWN_PART ? "trails" : "trail");
        schema_put_number(&json, mistake == INNER_KEY ? "elongation" : "length_px", 1);
        _exit(0);
    }
    int status = 0;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    return WIFSIGNALED(status) && WTERMSIG(status) == SIGABRT;
}

START_TEST(writes_nothing_that_no_table_has)
{
    ck_assert(!ends_program(NO_MISTAKE));
    for (enum mistake mistake = UNKNOWN_KEY; mistake <= UNKNOWN_PART; mistake++) {
        ck_assert_msg(ends_program(mistake), "mistake %d goes by", (int)mistake);
    }
}
END_TEST

/* That JSON Schema says what it should is the matter of tests/outside/check_schema.py. */
START_TEST(prints_documents)
{
    const struct schema *const tables[] = {&night_frame_schema, NULL};
    struct error err = {0};
    struct json_node *node;
    char *text = NULL;
    size_t length;
    FILE *stream = open_memstream(&text, &length);
    ck_assert_int_eq(schema_print_json(stream, tables, &err), 0);
    fclose(stream);
    ck_assert_int_eq(json_read(&node, text, length, &err), 0);
    ck_assert_ptr_nonnull(json_read_member(json_read_member(node, "$defs"), "frame"));
    json_read_free(node);
    free(text);
    char type[100];
    schema_write_type(type, sizeof type, schema_find(&health_schema, "fwhm_corners_px"));
    ck_assert_str_eq(type, "array of 4 numbers or null");
    schema_write_type(type, sizeof type, schema_find(&night_frame_schema, "frame"));
    ck_assert_str_eq(type, "string");
}
END_TEST

Suite *schema_suite(void)
{
    Suite *suite = suite_create("schema");
    TCase *c = scratch_case(suite, "schema");
    tcase_add_test(c, has_sound_tables);
    tcase_add_test(c, brings_health_there_and_back);
    tcase_add_test(c, brings_frames_there_and_back);
    tcase_add_test(c, reads_lines_without_a_format);
    tcase_add_test(c, writes_old_lines_as_they_were);
    tcase_add_test(c, refuses_lines_of_a_later_format);
    tcase_add_test(c, writes_nothing_that_no_table_has);
    tcase_add_test(c, prints_documents);
    suite_add_tcase(suite, c);
    return suite;
}
