#include "base/random.h"
#include "base/table.h"
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

Suite *table_suite(void);

static void open_text(struct table *table, const char *text)
{
    struct error err = {0};
    int code = table_open(table, text, strlen(text), "t.csv", &err);
    ck_assert_msg(code == 0, "%s", err.text);
}

static void check_cell(const struct table *table, int column, const char *want)
{
    char text[64];
    table_text(table, column, text, sizeof text);
    ck_assert_str_eq(text, want);
}

START_TEST(test_delimiters)
{
    static const char *const texts[] = {"ra,dec\n1,2\n", "ra\tdec\n1\t2\n",        "ra;dec\n1;2\n",
                                        "ra|dec\n1|2\n", "ra, dec\r\n 1 , 2 \r\n", "ra,dec\n1,2"};
    static const char marks[] = ",\t;|,,";
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct table table;
        double value;
        open_text(&table, texts[i]);
        ck_assert_int_eq(table.delimiter, marks[i]);
        ck_assert_int_eq(table.columns, 2);
        ck_assert(table_next(&table));
        ck_assert_int_eq(table.row_cells, 2);
        ck_assert(table_double(&table, 0, &value));
        assert_near(value, 1, 0, "cell");
        ck_assert(table_double(&table, 1, &value));
        assert_near(value, 2, 0, "cell");
        ck_assert(!table_next(&table));
        ck_assert(!table_double(&table, 0, &value));
        ck_assert(!table_next(&table));
    }
}
END_TEST

START_TEST(test_skipped_lines)
{
    struct table table;
    open_text(&table, "\xef\xbb\xbf# a comment, with commas\n\n  \t\na,b\n# more\n1,2\n\n3,4\n\n");
    ck_assert_int_eq(table.line_number, 4);
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.line_number, 6);
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.line_number, 8);
    check_cell(&table, 1, "4");
    ck_assert(!table_next(&table));
}
END_TEST

START_TEST(test_columns)
{
    struct table table;
    open_text(&table, "Name,\"RA deg\", Vmag \n");
    ck_assert_int_eq(table_column(&table, "name"), 0);
    ck_assert_int_eq(table_column(&table, "ra DEG"), 1);
    ck_assert_int_eq(table_column(&table, "VMAG"), 2);
    ck_assert_int_eq(table_column(&table, "vmag2"), -1);
    ck_assert_int_eq(table_column(&table, "vma"), -1);
    ck_assert_int_eq(table_column(&table, ""), -1);
}
END_TEST

START_TEST(test_quotes)
{
    struct table table;
    open_text(&table, "name,mag,note\n"
                      "\"Cloud, small\",2.5,\"say \"\"x\"\", then\"\n"
                      "\"never closed,1,2\n"
                      "6\" scope,1,\"\"\n");
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, 3);
    check_cell(&table, 0, "Cloud, small");
    check_cell(&table, 1, "2.5");
    check_cell(&table, 2, "say \"\"x\"\", then");
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, 3);
    check_cell(&table, 0, "\"never closed");
    ck_assert(table_next(&table));
    check_cell(&table, 0, "6\" scope");
    check_cell(&table, 2, "");
}
END_TEST

START_TEST(test_uneven_rows)
{
    struct table table;
    double value = 7;
    open_text(&table, "a,b,c\n1\n1,2,3,4\n,,\n");
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, 1);
    ck_assert(!table_double(&table, 2, &value));
    check_cell(&table, 2, "");
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, 4);
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, 3);
    ck_assert(!table_double(&table, 0, &value));
    ck_assert(!table_double(&table, -1, &value));
    assert_near(value, 7, 0, "left alone");
}
END_TEST

START_TEST(test_numbers)
{
    struct table table;
    double value = 7;
    open_text(&table, "a,b\n1e3,\"-0.25\"\n1x,nan\n1 2,1e999\n0x1,inf\n");
    ck_assert(table_next(&table));
    ck_assert(table_double(&table, 0, &value));
    assert_near(value, 1000, 0, "cell");
    ck_assert(table_double(&table, 1, &value));
    assert_near(value, -0.25, 0, "cell");
    while (table_next(&table)) {
        ck_assert(!table_double(&table, 0, &value));
        ck_assert(!table_double(&table, 1, &value));
    }
    assert_near(value, -0.25, 0, "left alone");
}
END_TEST

START_TEST(test_text_is_cut)
{
    struct table table;
    char text[4];
    open_text(&table, "a,b\nlonger,x\n");
    ck_assert(table_next(&table));
    table_text(&table, 0, text, sizeof text);
    ck_assert_str_eq(text, "lon");
    table_text(&table, 5, text, sizeof text);
    ck_assert_str_eq(text, "");
    table_text(&table, 0, text, 0);
}
END_TEST

static void check_refused(const char *bytes, size_t size, const char *reason)
{
    struct table table;
    struct error err = {0};
    ck_assert_int_eq(table_open(&table, bytes, size, "t.csv", &err), ERROR_INPUT);
    ck_assert_msg(strstr(err.text, "t.csv: ") == err.text, "no name: %s", err.text);
    ck_assert_msg(strstr(err.text, reason) != NULL, "%s, expected: %s", err.text, reason);
}

START_TEST(test_refused)
{
    check_refused(NULL, 0, "found no line");
    check_refused("# only\n\n", 8, "found no line");
    check_refused("one word\n1\n", 11, "at least two columns");
    check_refused("a,\0b\n", 5, "line 1: expected a text table with a header row, found binary");
    check_refused("\n\x1a,b\n", 5, "line 2: expected a text table with a header row, found binary");
    char wide[1000];
    memset(wide, ',', sizeof wide);
    check_refused(wide, sizeof wide, "fewer than 256 columns");
}
END_TEST

START_TEST(test_wide_row)
{
    char text[600] = "a,b\n";
    memset(text + 4, ',', 500);
    struct table table;
    open_text(&table, text);
    ck_assert(table_next(&table));
    ck_assert_int_eq(table.row_cells, TABLE_MAX_COLUMNS);
}
END_TEST

/* Any bytes at all: every cell must lie inside them (the memory is exactly as large). */
START_TEST(test_random_bytes)
{
    struct random r = {3};
    static const char letters[] = ",,;\t|\"\" \r\n#a1.-e";
    for (int i = 0; i < 20000; i++) {
        size_t size = random_bits(&r) % 60 + 1;
        char *bytes = malloc(size);
        ck_assert_ptr_nonnull(bytes);
        for (size_t k = 0; k < size; k++) {
            bytes[k] = letters[random_bits(&r) % (sizeof letters - 1)];
        }
        struct table table;
        if (table_open(&table, bytes, size, "t.csv", NULL) == 0) {
            while (table_next(&table)) {
                for (int c = 0; c < table.row_cells; c++) {
                    const struct table_cell *cell = &table.row[c];
                    ck_assert(cell->start >= bytes && cell->start + cell->length <= bytes + size);
                }
            }
        }
        free(bytes);
    }
}
END_TEST

Suite *table_suite(void)
{
    Suite *suite = suite_create("table");
    TCase *c = tcase_create("table");
    tcase_add_test(c, test_delimiters);
    tcase_add_test(c, test_skipped_lines);
    tcase_add_test(c, test_columns);
    tcase_add_test(c, test_quotes);
    tcase_add_test(c, test_uneven_rows);
    tcase_add_test(c, test_numbers);
    tcase_add_test(c, test_text_is_cut);
    tcase_add_test(c, test_refused);
    tcase_add_test(c, test_wide_row);
    tcase_add_test(c, test_random_bytes);
    suite_add_tcase(suite, c);
    return suite;
}
