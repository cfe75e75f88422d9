#include "base/options_parts.h"

#include "base/text.h"

#include <assert.h>
#include <getopt.h>
#include <string.h>

enum {
    FIRST_LONG = 256, /* getopt's value of row 0 given by its long name */
    HELP_LONG = FIRST_LONG + OPTIONS_MAX_ROWS,
    LONGEST_TYPED = 64 /* of an unknown option, as it is said again */
};

static int refuse_value(const struct option_row *row, const char *expected, const char *text,
                        struct error *err)
{
    return error_set(err, ERROR_USAGE, "--%s: expected %s, not \"%.80s\"", row->name, expected,
                     text);
}

static int refuse_number(const struct option_row *row, const char *noun, const char *text,
                         struct error *err)
{
    char expected[120];
    if (row->low < row->high) {
        snprintf(expected, sizeof expected, "%s from %.10g to %.10g", noun, row->low, row->high);
    } else {
        snprintf(expected, sizeof expected, "%s", noun);
    }
    return refuse_value(row, expected, text, err);
}

static bool in_range(const struct option_row *row, double value)
{
    return row->low >= row->high || (value >= row->low && value <= row->high);
}

/* Position of text among words separated by '|', or -1. */
static int find_choice(const char *words, const char *text)
{
    size_t length = strlen(text);
    for (int which = 0;; which++) {
        size_t word = strcspn(words, "|");
        if (word == length && memcmp(words, text, length) == 0) {
            return which;
        }
        if (words[word] == '\0') {
            return -1;
        }
        words += word + 1;
    }
}

static int store_number(void *member, const struct option_row *row, const char *text,
                        struct error *err)
{
    double value;
    if (!text_read_double(&value, text) || !in_range(row, value)) {
        return refuse_number(row, "a number", text, err);
    }
    *(double *)member = value;
    return 0;
}

static int store_integer(void *member, const struct option_row *row, const char *text,
                         struct error *err)
{
    long value;
    if (!text_read_long(&value, text) || value != (int)value || !in_range(row, (double)value)) {
        return refuse_number(row, "a whole number", text, err);
    }
    *(int *)member = (int)value;
    return 0;
}

static int store_choice(void *member, const struct option_row *row, const char *text,
                        struct error *err)
{
    int which = find_choice(row->argument, text);
    if (which < 0) {
        return refuse_value(row, row->argument, text, err);
    }
    *(int *)member = which;
    return 0;
}

static int store_value(void *settings, const struct option_row *row, const char *text,
                       struct error *err)
{
    void *member = (char *)settings + row->store;
    switch (row->kind) {
    case OPTION_FLAG:
        *(bool *)member = true;
        return 0;
    case OPTION_TEXT:
        if (*text == '\0') {
            return refuse_value(row, row->argument, text, err);
        }
        *(const char **)member = text;
        return 0;
    case OPTION_OPTIONAL:
        *(const char **)member = "";
        return !text || row->read(member, text) ? 0 : refuse_value(row, row->expected, text, err);
    case OPTION_NUMBER:
        return store_number(member, row, text, err);
    case OPTION_INTEGER:
        return store_integer(member, row, text, err);
    case OPTION_CHOICE:
        return store_choice(member, row, text, err);
    case OPTION_READ:
        return row->read(member, text) ? 0 : refuse_value(row, row->expected, text, err);
    case OPTION_HEADING: /* getopt never hears of these */
        break;
    }
    return 0;
}

/* The table in the shape that getopt_long wants. */
struct getopt_table {
    char letters[2 * OPTIONS_MAX_ROWS + 8];
    struct option longs[2 * OPTIONS_MAX_ROWS + 2];
    const struct option_row *rows;
    int count;
};

static void add_letter(char *letters, char letter, bool value)
{
    size_t at = strlen(letters);
    letters[at++] = letter;
    if (value) {
        letters[at++] = ':';
    }
    letters[at] = '\0';
}

/* What an option was called in earlier versions; NULL: the same. */
static const char *former_name(const char *name)
{
    static const struct {
        const char *name, *former;
    } renamed[] = {{"zone", "utc-offset"}};
    for (size_t i = 0; i < sizeof renamed / sizeof *renamed; i++) {
        if (strcmp(renamed[i].name, name) == 0) {
            return renamed[i].former;
        }
    }
    return NULL;
}

static void fill_getopt_table(struct getopt_table *table, const struct option_row *rows)
{
    memset(table, 0, sizeof *table);
    /* '-': operands are handed over in their order; ':': missing values are told apart. */
    strcpy(table->letters, "-:h");
    table->rows = rows;
    int longs = 0;
    table->longs[longs++] = (struct option){.name = "help", .val = HELP_LONG};
    for (int i = 0; !options_is_end(&rows[i]); i++) {
        assert(i < OPTIONS_MAX_ROWS);
        table->count = i + 1;
        if (rows[i].kind == OPTION_HEADING) {
            continue;
        }
        struct option entry = {
            .name = rows[i].name,
            .has_arg = options_needs_value(&rows[i])   ? required_argument
                       : options_takes_value(&rows[i]) ? optional_argument
                                                       : no_argument,
            .val = FIRST_LONG + i,
        };
        table->longs[longs++] = entry;
        entry.name = former_name(rows[i].name);
        if (entry.name) {
            table->longs[longs++] = entry;
        }
        if (rows[i].letter) {
            add_letter(table->letters, rows[i].letter, options_needs_value(&rows[i]));
        }
    }
}

/* The row that getopt's value stands for, or NULL. */
static const struct option_row *find_row(const struct getopt_table *table, int value)
{
    if (value >= FIRST_LONG && value < FIRST_LONG + table->count) {
        return &table->rows[value - FIRST_LONG];
    }
    for (int i = 0; i < table->count; i++) {
        if (table->rows[i].letter && table->rows[i].letter == value) {
            return &table->rows[i];
        }
    }
    return NULL;
}

/* typed is not terminated: its length is given. */
static int refuse_long(const struct getopt_table *table, const char *typed, size_t length,
                       struct error *err)
{
    char name[LONGEST_TYPED + 1];
    snprintf(name, sizeof name, "%.*s", (int)(length < LONGEST_TYPED ? length : LONGEST_TYPED),
             typed);
    const char *nearest = NULL, *first = NULL;
    int best = 0;
    for (const struct option *o = table->longs; o->name; o++) {
        if (strncmp(o->name, name, strlen(name)) == 0) {
            if (first) {
                return error_set(err, ERROR_USAGE, "--%s may be --%s or --%s: write it out", name,
                                 first, o->name);
            }
            first = o->name;
        }
        int distance = options_distance(name, o->name);
        if (options_is_near(name, o->name) && (!nearest || distance < best)) {
            nearest = o->name;
            best = distance;
        }
    }
    if (nearest) {
        return error_set(err, ERROR_USAGE, "unknown option --%s; did you mean --%s?", name,
                         nearest);
    }
    return error_set(err, ERROR_USAGE, "unknown option --%s", name);
}

/* getopt_long has answered '?' on this word of the command line. */
static int refuse_option(const struct getopt_table *table, const char *word, struct error *err)
{
    const struct option_row *row = find_row(table, optopt);
    if (optopt == HELP_LONG || (row && optopt >= FIRST_LONG)) {
        return error_set(err, ERROR_USAGE, "--%s takes no value", row ? row->name : "help");
    }
    if (strncmp(word, "--", 2) == 0) {
        return refuse_long(table, word + 2, strcspn(word + 2, "="), err);
    }
    return error_set(err, ERROR_USAGE, "unknown option -%c", optopt);
}

static void add_operand(struct option_operands *rest, char *word)
{
    rest->item[rest->count++] = word;
}

static int check_required(const struct getopt_table *table, const bool *given, struct error *err)
{
    for (int i = 0; i < table->count; i++) {
        if (table->rows[i].required && !given[i]) {
            return error_set(err, ERROR_USAGE, "--%s %s is needed", table->rows[i].name,
                             table->rows[i].argument);
        }
    }
    return 0;
}

/* "-12.5" where getopt stumbled over "-1": the rest of the word is passed over. */
static bool skip_negative_number(const struct getopt_table *table, int argc, char **argv, int at)
{
    double ignored;
    if (!text_read_double(&ignored, argv[at])) {
        return false;
    }
    while (optind == at) {
        getopt_long(argc, argv, table->letters, table->longs, NULL);
    }
    return true;
}

/* What getopt took for the value, or the next word where that can be one. */
static const char *find_value(const struct option_row *row, int argc, char **argv)
{
    const char *found;
    bool next = row->kind == OPTION_OPTIONAL && !optarg && optind < argc;
    return next && row->read(&found, argv[optind]) ? argv[optind++] : optarg;
}

/* Takes one step along the command line; *more is false at its end. */
static int parse_step(void *settings, struct option_operands *rest,
                      const struct getopt_table *table, bool *given, bool *more, int argc,
                      char **argv, struct error *err)
{
    int at = optind > 0 ? optind : 1;
    int value = getopt_long(argc, argv, table->letters, table->longs, NULL);
    const struct option_row *row;
    switch (value) {
    case -1:
        *more = false;
        return 0;
    case 1:
        add_operand(rest, optarg);
        return 0;
    case 'h':
    case HELP_LONG:
        rest->help = true;
        *more = false;
        return 0;
    case ':':
        row = find_row(table, optopt);
        return error_set(err, ERROR_USAGE, "--%s needs a value: %s", row->name, row->argument);
    case '?':
        if (skip_negative_number(table, argc, argv, at)) {
            add_operand(rest, argv[at]);
            return 0;
        }
        return refuse_option(table, argv[at], err);
    default:
        row = find_row(table, value);
        given[row - table->rows] = true;
        return store_value(settings, row, find_value(row, argc, argv), err);
    }
}

int options_parse(void *settings, struct option_operands *rest, const struct option_row *rows,
                  int argc, char **argv, struct error *err)
{
    struct getopt_table table;
    fill_getopt_table(&table, rows);
    *rest = (struct option_operands){.item = argv + (argc > 0)};
    bool given[OPTIONS_MAX_ROWS] = {false};
    bool more = true;
    opterr = 0;
    optind = 0; /* the GNU way to start afresh */
    while (more) {
        int code = parse_step(settings, rest, &table, given, &more, argc, argv, err);
        if (code) {
            return code;
        }
    }
    if (rest->help) {
        return 0;
    }
    while (optind < argc) {
        add_operand(rest, argv[optind++]);
    }
    return check_required(&table, given, err);
}
