/* Characters of UTF-8: RFC 3629, section 4, and the samples of its section 7. */
#include "base/csv.h"
#include "base/utf8.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

START_TEST(test_length_and_code)
{
    /* RFC 3629, section 7: A, not identical to, alpha; and its four-byte example U+233B4. */
    static const struct {
        const char *text;
        size_t length;
        uint32_t code;
    } good[] = {
        {"A", 1, 0x41},
        {"\xe2\x89\xa2", 3, 0x2262},
        {"\xce\x91", 2, 0x391},
        {"\xf0\xa3\x8e\xb4", 4, 0x233b4},
        {"\xf4\x8f\xbf\xbf", 4, 0x10ffff},
        {"", 1, 0},
    };
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        ck_assert_uint_eq(utf8_length(good[i].text), good[i].length);
        ck_assert_uint_eq(utf8_code(good[i].text, good[i].length), good[i].code);
    }
    /* Overlong forms, surrogates, beyond the last plane, cut short, out of place. */
    static const char *const bad[] = {"\xc0\x80",
                                      "\xe0\x80\xaf",
                                      "\xed\xa0\x80",
                                      "\xf0\x80\x80\x80",
                                      "\xf4\x90\x80\x80",
                                      "\xe2\x89",
                                      "\xce",
                                      "\x80",
                                      "\xff"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        ck_assert_uint_eq(utf8_length(bad[i]), 0);
    }
}
END_TEST

START_TEST(test_cuts_part_no_character)
{
    char out[6];
    utf8_copy(out, sizeof out, "abc\xce\x91");
    ck_assert_str_eq(out, "abc\xce\x91");
    utf8_copy(out, sizeof out, "abcd\xce\x91");
    ck_assert_str_eq(out, "abcd");
    utf8_copy(out, 1, "a");
    ck_assert_str_eq(out, "");
    ck_assert_uint_eq(utf8_count("\xce\x91 \xe2\x89\xa2", 6), 3);
}
END_TEST

START_TEST(test_shown_text_moves_no_cursor)
{
    char out[64];
    /* A colour, a line feed, a C1 control, a turn of direction, half a character. */
    utf8_shown(out, sizeof out,
               "a\033[31mb\nc\xc2\x9b"
               "d\xe2\x80\xaegpj\xce");
    ck_assert_str_eq(out, "a?[31mb?c?d?gpj?");
    utf8_shown(out, sizeof out,
               "Gro\xc3\x9f"
               "er B\xc3\xa4r");
    ck_assert_str_eq(out, "Gro\xc3\x9f"
                          "er B\xc3\xa4r");
    utf8_shown(out, 4, "ab\xce\x91");
    ck_assert_str_eq(out, "ab");
}
END_TEST

/* What a spreadsheet would run is text (the usual advice against formula injection: common
 * practice, no source); numbers in cells of their own are not touched. */
START_TEST(test_cells_of_text_are_no_formulas)
{
    static const struct {
        const char *text, *cell;
    } cells[] = {{"a.jpg", "a.jpg"},
                 {"=cmd|' /C calc'!A0", "'=cmd|' /C calc'!A0"},
                 {"+1", "'+1"},
                 {"-x.jpg", "'-x.jpg"},
                 {"@SUM(1,2)", "\"'@SUM(1,2)\""},
                 {"\t=1", "'\t=1"},
                 {"a\"b,c", "\"a\"\"b,c\""},
                 {"a\033[31mb", "a?[31mb"},
                 {"", ""}};
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        char *text = NULL;
        size_t length = 0;
        FILE *out = open_memstream(&text, &length);
        ck_assert_ptr_nonnull(out);
        csv_write_text(out, cells[i].text);
        ck_assert_int_eq(fclose(out), 0);
        ck_assert_str_eq(text, cells[i].cell);
        free(text);
    }
}
END_TEST

Suite *utf8_suite(void);
Suite *utf8_suite(void)
{
    Suite *suite = suite_create("utf8");
    TCase *tests = tcase_create("utf8");
    tcase_add_test(tests, test_length_and_code);
    tcase_add_test(tests, test_cuts_part_no_character);
    tcase_add_test(tests, test_shown_text_moves_no_cursor);
    tcase_add_test(tests, test_cells_of_text_are_no_formulas);
    suite_add_tcase(suite, tests);
    return suite;
}
