/* How reports are wrapped at a narrow terminal. */
#include "cli/terminal.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

Suite *terminal_suite(void);

static const struct {
    const char *text, *wrapped;
} rows[] = {
    {"Keep 60 of 60 frames: 2 min on M 42 (Orion Nebula)\n",
     "Keep 60 of 60 frames: 2 min on M 42 (Orion\n    Nebula)\n"},
    {"  clock    the camera's: CET (UTC+01:00); clocks go forward\n",
     "  clock    the camera's: CET (UTC+01:00);\n           clocks go forward\n"},
    {"  next time re-centre every 31 frames (4 min 8 s): the frame has no room\n",
     "  next time re-centre every 31 frames (4\n            min 8 s): the frame has no\n"
     "            room\n"},
    {"            take 100 bias frames and 100 flats too\n",
     "            take 100 bias frames and 100\n            flats too\n"},
    {"  frames    60 kept, 0 doubtful\n", "  frames    60 kept, 0 doubtful\n"},
    {"{\"a\": \"a line of JSON stays as it is, however long it may be\"}\n",
     "{\"a\": \"a line of JSON stays as it is, however long it may be\"}\n"},
};

START_TEST(lines_are_wrapped_under_the_text_of_their_label)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    ck_assert_ptr_nonnull(out);
    terminal_wrap(out, rows[_i].text, strlen(rows[_i].text), 43);
    ck_assert_int_eq(fclose(out), 0);
    ck_assert_str_eq(text, rows[_i].wrapped);
    free(text);
}
END_TEST

/* A pipe, or a file, gets lines as they are. */
START_TEST(what_is_no_terminal_is_left_alone)
{
    char *written = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&written, &size);
    struct terminal_text text;
    ck_assert_ptr_nonnull(out);
    ck_assert_ptr_eq(terminal_begin(&text, out), out);
    fputs(rows[2].text, out);
    terminal_end(&text);
    ck_assert_int_eq(fclose(out), 0);
    ck_assert_str_eq(written, rows[2].text);
    free(written);
}
END_TEST

Suite *terminal_suite(void)
{
    Suite *suite = suite_create("terminal");
    TCase *c = tcase_create("terminal");
    tcase_add_loop_test(c, lines_are_wrapped_under_the_text_of_their_label, 0,
                        sizeof rows / sizeof *rows);
    tcase_add_test(c, what_is_no_terminal_is_left_alone);
    suite_add_tcase(suite, c);
    return suite;
}
