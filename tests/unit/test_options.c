/* The option table and the command table. */
#include "base/command.h"
#include "base/options.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

Suite *options_suite(void);

struct settings {
    const char *output;
    double faintest;
    int threads;
    int format;
    bool json;
    bool loud;
    char initial;
};

static bool read_initial(void *member, const char *text)
{
    if (text[0] < 'A' || text[0] > 'Z') {
        return false;
    }
    *(char *)member = text[0];
    return true;
}

static const struct option_row rows[] = {
    {.kind = OPTION_HEADING, .help = "Writing"},
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write here",
     .store = offsetof(struct settings, output)},
    {.name = "format",
     .kind = OPTION_CHOICE,
     .argument = "text|csv|fits",
     .help = "how to write",
     .store = offsetof(struct settings, format)},
    {.kind = OPTION_HEADING, .help = "Choosing"},
    {.name = "faintest",
     .letter = 'f',
     .kind = OPTION_NUMBER,
     .argument = "MAG",
     .help = "leave out stars fainter than this; a help text long enough to need a second line",
     .low = -5,
     .high = 30,
     .store = offsetof(struct settings, faintest)},
    {.name = "threads",
     .kind = OPTION_INTEGER,
     .argument = "N",
     .help = "threads",
     .low = 1,
     .high = 64,
     .store = offsetof(struct settings, threads)},
    {.name = "initial",
     .kind = OPTION_READ,
     .argument = "LETTER",
     .help = "an entry whose value is long",
     .read = read_initial,
     .expected = "a capital letter",
     .store = offsetof(struct settings, initial)},
    {.name = "json", .letter = 'j', .help = "JSON", .store = offsetof(struct settings, json)},
    {.name = "join-all", .letter = 'l', .help = "loud", .store = offsetof(struct settings, loud)},
    {0},
};

static const struct option_row needy_rows[] = {
    {.name = "output",
     .letter = 'o',
     .kind = OPTION_TEXT,
     .argument = "FILE",
     .help = "write here",
     .required = true,
     .store = offsetof(struct settings, output)},
    {.name = "json", .help = "JSON", .store = offsetof(struct settings, json)},
    {0},
};

/* Splits words at blanks into a static argv and parses it. */
static char words_text[300];
static char *words[40];
static struct settings got;
static struct option_operands rest;
static struct error problem;

static int split(const char *line)
{
    int count = 0;
    snprintf(words_text, sizeof words_text, "program %s", line);
    for (char *w = strtok(words_text, " "); w; w = strtok(NULL, " ")) {
        words[count++] = strcmp(w, "''") == 0 ? w + 2 : w;
    }
    words[count] = NULL;
    return count;
}

static int parse_with(const struct option_row *table, const char *line)
{
    int count = split(line);
    memset(&problem, 0, sizeof problem);
    got = (struct settings){.faintest = 9.5};
    return options_parse(&got, &rest, table, count, words, &problem);
}

static int parse(const char *line)
{
    return parse_with(rows, line);
}

static void expect_operands(const char *joined)
{
    char text[300] = "";
    for (int i = 0; i < rest.count; i++) {
        snprintf(text + strlen(text), sizeof text - strlen(text), "%s[%s]", i ? " " : "",
                 rest.item[i]);
    }
    ck_assert_str_eq(text, joined);
}

static void expect_refusal(const char *line, const char *text)
{
    ck_assert_msg(parse(line) == ERROR_USAGE, "'%s' was accepted", line);
    ck_assert_int_eq(problem.code, ERROR_USAGE);
    ck_assert_str_eq(problem.text, text);
}

START_TEST(every_kind_is_stored)
{
    ck_assert_int_eq(
        parse("-o a.txt --faintest -1.5 --threads=3 --format csv --initial Q --json -l"), 0);
    ck_assert_str_eq(got.output, "a.txt");
    ck_assert_double_eq(got.faintest, -1.5);
    ck_assert_int_eq(got.threads, 3);
    ck_assert_int_eq(got.format, 1);
    ck_assert_int_eq(got.initial, 'Q');
    ck_assert(got.json && got.loud);
    ck_assert_int_eq(rest.count, 0);
    ck_assert(!rest.help);
}
END_TEST

START_TEST(a_former_name_still_works)
{
    static const struct option_row renamed[] = {{.name = "zone",
                                                 .kind = OPTION_INTEGER,
                                                 .argument = "N",
                                                 .help = "hours",
                                                 .store = offsetof(struct settings, threads)},
                                                {0}};
    ck_assert_int_eq(parse_with(renamed, "--utc-offset 3"), 0);
    ck_assert_int_eq(got.threads, 3);
    ck_assert_int_eq(parse_with(renamed, "--zone x"), ERROR_USAGE);
    ck_assert_str_eq(problem.text, "--zone: expected a whole number, not \"x\"");
    ck_assert_int_eq(parse("--utc-offset 3"), ERROR_USAGE);
}
END_TEST

static bool read_place(void *member, const char *text)
{
    *(const char **)member = text;
    return strchr(text, ':') != NULL;
}

START_TEST(an_optional_value_is_taken_where_it_is_one)
{
    static const struct option_row optional[] = {{.name = "page",
                                                  .kind = OPTION_OPTIONAL,
                                                  .argument = "[PLACE]",
                                                  .help = "a page",
                                                  .read = read_place,
                                                  .expected = "a place",
                                                  .store = offsetof(struct settings, output)},
                                                 {0}};
    ck_assert_int_eq(parse_with(optional, "--page here:1 folder"), 0);
    ck_assert_str_eq(got.output, "here:1");
    expect_operands("[folder]");
    ck_assert_int_eq(parse_with(optional, "--page folder"), 0);
    ck_assert_str_eq(got.output, "");
    expect_operands("[folder]");
    ck_assert_int_eq(parse_with(optional, "--page=:2 folder"), 0);
    ck_assert_str_eq(got.output, ":2");
    ck_assert_int_eq(parse_with(optional, "--page=2 folder"), ERROR_USAGE);
    ck_assert_str_eq(problem.text, "--page: expected a place, not \"2\"");
    ck_assert_int_eq(parse_with(optional, "folder --page"), 0);
    ck_assert_str_eq(got.output, "");
    ck_assert_int_eq(parse_with(optional, "folder"), 0);
    ck_assert_ptr_null(got.output);
}
END_TEST

START_TEST(defaults_stay_when_nothing_is_given)
{
    ck_assert_int_eq(parse(""), 0);
    ck_assert_double_eq(got.faintest, 9.5);
    ck_assert_ptr_null(got.output);
    ck_assert(!got.json);
}
END_TEST

START_TEST(operands_keep_their_order_around_options)
{
    ck_assert_int_eq(parse("one -j two --faintest 3 three -ofour five"), 0);
    expect_operands("[one] [two] [three] [five]");
    ck_assert_str_eq(got.output, "four");
    ck_assert_int_eq(parse("one -- -j --json two"), 0);
    expect_operands("[one] [-j] [--json] [two]");
    ck_assert(!got.json);
    ck_assert_int_eq(parse("- one"), 0);
    expect_operands("[-] [one]");
}
END_TEST

START_TEST(negative_numbers_are_operands)
{
    ck_assert_int_eq(parse("83.8 -5.4 -j"), 0);
    expect_operands("[83.8] [-5.4]");
    ck_assert(got.json);
    ck_assert_int_eq(parse("-5 x"), 0);
    expect_operands("[-5] [x]");
    expect_refusal("-5x", "unknown option -5");
}
END_TEST

START_TEST(letters_join_and_long_names_may_be_cut)
{
    ck_assert_int_eq(parse("-jlf12 --out a"), 0);
    ck_assert(got.json && got.loud);
    ck_assert_double_eq(got.faintest, 12);
    ck_assert_str_eq(got.output, "a");
    expect_refusal("--j", "--j may be --json or --join-all: write it out");
}
END_TEST

START_TEST(unknown_options_are_refused_with_the_nearest)
{
    expect_refusal("--fiantest 3", "unknown option --fiantest; did you mean --faintest?");
    expect_refusal("--treads=3", "unknown option --treads; did you mean --threads?");
    expect_refusal("--xylophone", "unknown option --xylophone");
    expect_refusal("-x", "unknown option -x");
    expect_refusal("-jx", "unknown option -x");
    expect_refusal("--hlep", "unknown option --hlep; did you mean --help?");
}
END_TEST

START_TEST(wrong_values_are_refused_with_what_was_expected)
{
    expect_refusal("--faintest abc", "--faintest: expected a number from -5 to 30, not \"abc\"");
    expect_refusal("-f 31", "--faintest: expected a number from -5 to 30, not \"31\"");
    expect_refusal("-f nan", "--faintest: expected a number from -5 to 30, not \"nan\"");
    expect_refusal("--threads 2.5", "--threads: expected a whole number from 1 to 64, not \"2.5\"");
    expect_refusal("--threads 99999999999",
                   "--threads: expected a whole number from 1 to 64, not \"99999999999\"");
    expect_refusal("--format xml", "--format: expected text|csv|fits, not \"xml\"");
    expect_refusal("--format text|csv", "--format: expected text|csv|fits, not \"text|csv\"");
    expect_refusal("--initial q", "--initial: expected a capital letter, not \"q\"");
    expect_refusal("-o ''", "--output: expected FILE, not \"\"");
    expect_refusal("--output", "--output needs a value: FILE");
    expect_refusal("a -o", "--output needs a value: FILE");
    expect_refusal("--json=yes", "--json takes no value");
    expect_refusal("--help=yes", "--help takes no value");
}
END_TEST

START_TEST(a_required_option_is_asked_for)
{
    ck_assert_int_eq(parse_with(needy_rows, "a"), ERROR_USAGE);
    ck_assert_str_eq(problem.text, "--output FILE is needed");
    ck_assert_int_eq(parse_with(needy_rows, "a -o b"), 0);
    ck_assert_int_eq(parse_with(needy_rows, "a --help"), 0);
    ck_assert(rest.help);
}
END_TEST

START_TEST(an_empty_command_line_is_no_crash)
{
    struct settings s = {0};
    char *none[] = {NULL};
    ck_assert_int_eq(options_parse(&s, &rest, rows, 0, none, &problem), 0);
    ck_assert_int_eq(rest.count, 0);
}
END_TEST

/* Collects what a function writes to a stream. */
static char written[8000];

static FILE *open_written(void)
{
    memset(written, 0, sizeof written);
    FILE *out = fmemopen(written, sizeof written, "w");
    ck_assert_ptr_nonnull(out);
    return out;
}

START_TEST(help_comes_from_the_table)
{
    FILE *out = open_written();
    options_write_help(out, rows, 60);
    fclose(out);
    ck_assert_str_eq(written, "Writing:\n"
                              "  -o, --output FILE     write here\n"
                              "      --format text|csv|fits\n"
                              "                        how to write\n"
                              "\n"
                              "Choosing:\n"
                              "  -f, --faintest MAG    leave out stars fainter than this; a\n"
                              "                        help text long enough to need a\n"
                              "                        second line\n"
                              "      --threads N       threads\n"
                              "      --initial LETTER  an entry whose value is long\n"
                              "  -j, --json            JSON\n"
                              "  -l, --join-all        loud\n"
                              "  -h, --help            print this and exit\n");
}
END_TEST

static void assert_wrapped(const char *text, int width, const char *expected)
{
    FILE *out = open_written();
    options_write_wrapped(out, text, 0, 2, width);
    fclose(out);
    ck_assert_str_eq(written, expected);
}

START_TEST(wrapping_counts_characters_and_keeps_paragraphs)
{
    assert_wrapped("1° 2° 3° 4° 5°\n\nab  cdefghijklmnop q", 8,
                   "1° 2° 3°\n  4° 5°\n\n  ab\n  cdefghijklmnop\n  q\n");
}
END_TEST

START_TEST(wrapping_keeps_names_together)
{
    assert_wrapped("M\u00a042, NGC\u00a01977, B", 9, "M 42,\n  NGC 1977,\n  B\n");
}
END_TEST

START_TEST(distance_counts_single_slips)
{
    ck_assert_int_eq(options_distance("", ""), 0);
    ck_assert_int_eq(options_distance("abc", ""), 3);
    ck_assert_int_eq(options_distance("abc", "abc"), 0);
    ck_assert_int_eq(options_distance("abc", "acb"), 1);
    ck_assert_int_eq(options_distance("abc", "xbc"), 1);
    ck_assert_int_eq(options_distance("abc", "abcd"), 1);
    ck_assert_int_eq(options_distance("kitten", "sitting"), 3);
    char longer[200];
    memset(longer, 'x', sizeof longer);
    longer[199] = '\0';
    ck_assert_int_eq(options_distance(longer, "x"), 63);
}
END_TEST

static int run_add(const void *settings, int operands, char **operand, FILE *out, struct error *err)
{
    const struct settings *s = settings;
    if (s->faintest < 0) {
        return error_set(err, ERROR_INPUT, "%s: no such thing", operand[0]);
    }
    fprintf(out, "%d %s %.1f%s\n", operands, operand[0], s->faintest, s->json ? " json" : "");
    return s->loud ? ERROR_NO : 0;
}

static int run_short_of_memory(const void *settings, int operands, char **operand, FILE *out,
                               struct error *err)
{
    (void)settings, (void)operands, (void)operand, (void)out;
    return error_memory(err);
}

static const struct settings add_defaults = {.faintest = 7};

static const struct command add_command = {
    .name = "add",
    .summary = "Add things.",
    .operands = "THING...",
    .least = 1,
    .most = 2,
    .about = "More about it.",
    .options = rows,
    .defaults = &add_defaults,
    .settings_size = sizeof(struct settings),
    .run = run_add,
};

static const struct command fail_command = {
    .name = "fail",
    .summary = "Run out of memory.",
    .options = needy_rows,
    .settings_size = sizeof(struct settings),
    .run = run_short_of_memory,
};

static const struct command *const commands[] = {&add_command, &fail_command, NULL};

static const struct exit_row exits[] = {{0, "done"}, {7, "not so"}, {0}};

static const struct program program = {
    .name = "tool",
    .version = "1.2",
    .about = "A tool.",
    .commands = commands,
    .exits = exits,
    .epilogue = "More of them.",
};

static char complaints_text[2000];

static int run(const char *line)
{
    int count = split(line);
    FILE *out = open_written();
    memset(complaints_text, 0, sizeof complaints_text);
    FILE *complaints = fmemopen(complaints_text, sizeof complaints_text, "w");
    int code = command_main(&program, count, words, out, complaints);
    fclose(out);
    fclose(complaints);
    return code;
}

START_TEST(a_command_gets_its_settings)
{
    ck_assert_int_eq(run("add x"), 0);
    ck_assert_str_eq(written, "1 x 7.0\n");
    ck_assert_int_eq(run("add x --json y -f 3"), 0);
    ck_assert_str_eq(written, "2 x 3.0 json\n");
    ck_assert_str_eq(complaints_text, "");
    ck_assert_int_eq(run("add x -l"), ERROR_NO);
    ck_assert_str_eq(complaints_text, "");
}
END_TEST

START_TEST(complaints_name_the_command)
{
    ck_assert_int_eq(run("add x -f -1"), ERROR_INPUT);
    ck_assert_str_eq(complaints_text, "tool add: x: no such thing\n");
    ck_assert_str_eq(written, "");
    ck_assert_int_eq(run("fail -o x"), ERROR_INPUT);
    ck_assert_str_eq(complaints_text, "tool fail: out of memory\n");
}
END_TEST

START_TEST(wrong_command_lines_are_explained)
{
    ck_assert_int_eq(run(""), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool: a command is missing\n\"tool --help\" explains.\n");
    ck_assert_int_eq(run("dad"), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool: unknown command dad; did you mean add?\n"
                                      "\"tool --help\" explains.\n");
    ck_assert_int_eq(run("--what"), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool: unknown option --what\n\"tool --help\" explains.\n");
    ck_assert_int_eq(run("add"), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool add: THING... is missing\n"
                                      "\"tool add --help\" explains.\n");
    ck_assert_int_eq(run("add a b c"), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool add: \"c\" is one too many: expected THING...\n"
                                      "\"tool add --help\" explains.\n");
    ck_assert_int_eq(run("fail a -o b"), ERROR_USAGE);
    ck_assert_str_eq(complaints_text, "tool fail: \"a\" is one too many: expected options only\n"
                                      "\"tool fail --help\" explains.\n");
}
END_TEST

START_TEST(help_and_version_are_answers)
{
    ck_assert_int_eq(run("--version"), 0);
    ck_assert_str_eq(written, "tool 1.2\n");
    ck_assert_int_eq(run("--help"), 0);
    ck_assert_ptr_nonnull(strstr(written, "Usage: tool COMMAND ...\n\nA tool.\n\nCommands:\n"
                                          "  add         Add things.\n"));
    ck_assert_int_eq(run("help add"), 0);
    ck_assert_ptr_nonnull(strstr(written, "Usage: tool add THING... [options]\n\nAdd things.\n\n"
                                          "More about it.\n\nWriting:\n"));
    ck_assert_ptr_nonnull(strstr(written, "\nExit codes: 0 done; 7 not so. More of them.\n"));
    ck_assert_int_eq(run("fail --help"), 0);
    ck_assert_ptr_nonnull(strstr(written, "Usage: tool fail --output FILE [options]\n\nRun out of "
                                          "memory.\n\nOptions:\n  -o, --output FILE"));
    ck_assert_str_eq(complaints_text, "");
    ck_assert_int_eq(run("help ad"), ERROR_USAGE);
}
END_TEST

START_TEST(an_answer_that_cannot_be_written_is_an_error)
{
    FILE *full = fopen("/dev/full", "w");
    if (!full) {
        return; /* not every system has one */
    }
    FILE *complaints = open_written();
    int count = split("add x");
    ck_assert_int_eq(command_main(&program, count, words, full, complaints), ERROR_OUTPUT);
    fclose(full);
    fclose(complaints);
    ck_assert_ptr_nonnull(strstr(written, "tool add: cannot write the answer: "));
}
END_TEST

Suite *options_suite(void)
{
    Suite *suite = suite_create("options");
    TCase *parsing = tcase_create("parsing");
    tcase_add_test(parsing, every_kind_is_stored);
    tcase_add_test(parsing, a_former_name_still_works);
    tcase_add_test(parsing, an_optional_value_is_taken_where_it_is_one);
    tcase_add_test(parsing, defaults_stay_when_nothing_is_given);
    tcase_add_test(parsing, operands_keep_their_order_around_options);
    tcase_add_test(parsing, negative_numbers_are_operands);
    tcase_add_test(parsing, letters_join_and_long_names_may_be_cut);
    tcase_add_test(parsing, unknown_options_are_refused_with_the_nearest);
    tcase_add_test(parsing, wrong_values_are_refused_with_what_was_expected);
    tcase_add_test(parsing, a_required_option_is_asked_for);
    tcase_add_test(parsing, an_empty_command_line_is_no_crash);
    suite_add_tcase(suite, parsing);
    TCase *printing = tcase_create("printing");
    tcase_add_test(printing, help_comes_from_the_table);
    tcase_add_test(printing, wrapping_counts_characters_and_keeps_paragraphs);
    tcase_add_test(printing, wrapping_keeps_names_together);
    tcase_add_test(printing, distance_counts_single_slips);
    suite_add_tcase(suite, printing);
    TCase *command = tcase_create("commands");
    tcase_add_test(command, a_command_gets_its_settings);
    tcase_add_test(command, complaints_name_the_command);
    tcase_add_test(command, wrong_command_lines_are_explained);
    tcase_add_test(command, help_and_version_are_answers);
    tcase_add_test(command, an_answer_that_cannot_be_written_is_an_error);
    suite_add_tcase(suite, command);
    return suite;
}
