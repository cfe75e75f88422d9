#include "base/json.h"
#include "near.h"

#include <locale.h>
#include <math.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

Suite *json_suite(void);

START_TEST(test_object)
{
    struct json json = {0};
    json_open(&json, NULL, '{');
    json_string(&json, "frame", "a.jpg");
    json_bool(&json, "solved", true);
    json_open(&json, "centre", '{');
    json_number(&json, "ra_deg", 314.6958, 3);
    json_close(&json, '}');
    json_open(&json, "empty", '[');
    json_close(&json, ']');
    json_open(&json, "list", '[');
    json_integer(&json, NULL, -5);
    json_bool(&json, NULL, false);
    json_string(&json, NULL, NULL);
    json_close(&json, ']');
    json_close(&json, '}');
    ck_assert_str_eq(json.text, "{\"frame\": \"a.jpg\", \"solved\": true, \"centre\": "
                                "{\"ra_deg\": 314.696}, \"empty\": [], \"list\": "
                                "[-5, false, null]}");
    ck_assert_uint_eq(json.length, strlen(json.text));
    ck_assert(!json.failed);
    json_free(&json);
    ck_assert_ptr_null(json.text);
    json_free(&json);
}
END_TEST

static void check_string(const char *value, const char *want)
{
    struct json json = {0};
    json_string(&json, NULL, value);
    ck_assert_str_eq(json.text, want);
    json_free(&json);
}

START_TEST(test_strings)
{
    check_string("", "\"\"");
    check_string("say \"x\" \\ /", "\"say \\\"x\\\" \\\\ /\"");
    check_string("\b\f\n\r\t\x01\x1f\x7f", "\"\\b\\f\\n\\r\\t\\u0001\\u001f\x7f\"");
    check_string("44\u00b0 \u20ac \U0001f52d", "\"44\u00b0 \u20ac \U0001f52d\"");
}
END_TEST

/* One replacement for each byte that belongs to no character; the rest stays. */
START_TEST(test_bad_utf8)
{
    check_string("a\xffz", "\"a\uFFFDz\"");
    check_string("\xc3", "\"\uFFFD\"");
    check_string("\xc0\xaf", "\"\uFFFD\uFFFD\"");
    check_string("\xe2\x82", "\"\uFFFD\uFFFD\"");
    check_string("\xed\xa0\x80", "\"\uFFFD\uFFFD\uFFFD\"");
    check_string("\xe0\x80\xaf", "\"\uFFFD\uFFFD\uFFFD\"");
    check_string("\xf5\x80\x80\x80", "\"\uFFFD\uFFFD\uFFFD\uFFFD\"");
    check_string("\xf4\x90\x80\x80", "\"\uFFFD\uFFFD\uFFFD\uFFFD\"");
    check_string("\xf0\x8f\xbf\xbf", "\"\uFFFD\uFFFD\uFFFD\uFFFD\"");
}
END_TEST

static void check_number(double value, int decimals, const char *want)
{
    struct json json = {0};
    json_number(&json, NULL, value, decimals);
    ck_assert_str_eq(json.text, want);
    json_free(&json);
}

START_TEST(test_numbers)
{
    check_number(1.5, 0, "2");
    check_number(-1.25, 2, "-1.25");
    check_number(-0.001, 2, "0.00");
    check_number(0.1, 17, "0.10000000000000001");
    check_number(1.0, 99, "1.00000000000000000");
    check_number(3.7, -1, "4");
    check_number(-1e20, 0, "-100000000000000000000.0");
    check_number(NAN, 2, "null");
    check_number(-INFINITY, 2, "null");
    struct json json = {0};
    json_number(&json, NULL, -1.7976931348623157e308, 17);
    ck_assert_uint_eq(json.length, 1 + 309 + 1 + 17);
    json_free(&json);
}
END_TEST

START_TEST(test_locale)
{
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "nl_NL.UTF-8"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (setlocale(LC_ALL, names[i])) {
            break;
        }
    }
    check_number(1.5, 1, "1.5");
    setlocale(LC_ALL, "C");
}
END_TEST

START_TEST(test_growth)
{
    struct json json = {0};
    json_open(&json, NULL, '[');
    for (long i = 0; i < 10000; i++) {
        json_integer(&json, NULL, i % 10);
    }
    json_close(&json, ']');
    ck_assert(!json.failed);
    ck_assert_uint_eq(json.length, 10000 + 2 * 9999 + 2);
    ck_assert_uint_eq(strlen(json.text), json.length);
    json_free(&json);
}
END_TEST

/* Whether writing such an object ends the program: the second key in it, or one level deeper. */
static bool ends_program(const char *second, bool deeper)
{
    fflush(NULL);
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        struct json json = {0};
        struct rlimit no_core = {0, 0};
        setrlimit(RLIMIT_CORE, &no_core);
        fclose(stderr);
        json_open(&json, NULL, '{');
        json_bool(&json, "first", true);
        json_open(&json, "between", '{');
        json_bool(&json, "inner", true);
        if (!deeper) {
            json_close(&json, '}');
        }
        json_bool(&json, second, true);
        _exit(0);
    }
    int status = 0;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    return WIFSIGNALED(status) && WTERMSIG(status) == SIGABRT;
}

START_TEST(test_repeated_keys)
{
    ck_assert(ends_program("first", false));
    ck_assert(ends_program("between", false));
    ck_assert(ends_program("inner", true));
    ck_assert(!ends_program("first", true));
    ck_assert(!ends_program("inner", false));
    ck_assert(!ends_program("second", false));
}
END_TEST

Suite *json_suite(void)
{
    Suite *suite = suite_create("json");
    TCase *c = tcase_create("json");
    tcase_add_test(c, test_object);
    tcase_add_test(c, test_strings);
    tcase_add_test(c, test_bad_utf8);
    tcase_add_test(c, test_numbers);
    tcase_add_test(c, test_locale);
    tcase_add_test(c, test_growth);
    tcase_add_test(c, test_repeated_keys);
    suite_add_tcase(suite, c);
    return suite;
}
