/* base/options.h: command-line options described by a table, read and documented from it. */
#ifndef ALIDADE_BASE_OPTIONS_H
#define ALIDADE_BASE_OPTIONS_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { OPTIONS_MAX_ROWS = 80 };

enum option_kind {
    OPTION_FLAG,     /* bool: set to true */
    OPTION_TEXT,     /* const char *: borrowed from argv, never empty */
    OPTION_NUMBER,   /* double: finite, within low..high */
    OPTION_INTEGER,  /* int: within low..high */
    OPTION_CHOICE,   /* int: which of the words in argument, "plain|json", counted from 0 */
    OPTION_READ,     /* anything: filled by read() */
    OPTION_OPTIONAL, /* const char *: filled by read(), which says what can be a value: what stands
                        behind "=", or the next word where it can be one; else "" */
    OPTION_HEADING   /* no option: help is the title of the rows that follow */
};

/* One option; a table of them ends with a row of zeros. */
struct option_row {
    const char *name; /* long name without dashes; NULL only in headings and at the end */
    char letter;      /* short name, 0 if it has none; 'h' is taken by --help */
    enum option_kind kind;
    const char *argument; /* what help calls the value: "FILE"; NULL for flags */
    const char *help;     /* what it does and its default; wrapped when printed */
    size_t store;         /* offsetof the member in the settings structure */
    double low, high;     /* allowed range of a number, both included; equal: any */
    bool required;
    /* For OPTION_READ and OPTION_OPTIONAL: fills the member from text; false if it is not what it
     * should be. */
    bool (*read)(void *member, const char *text);
    const char *expected; /* for these: "a time like 2024-12-01T20:30" */
};

/* What is left of the command line. */
struct option_operands {
    char **item; /* points into argv */
    int count;
    bool help; /* --help or -h was given: nothing else was checked after it */
};

/* Reads argv[1] .. argv[argc - 1] into settings, which the caller has filled with defaults, and
 * collects the rest, in order, at the front of argv. Options may stand anywhere before "--"; a
 * long one may be cut short if no other begins so; what reads as a negative number is an operand.
 * An option that was renamed still goes by its former name, which no help shows.
 * ERROR_USAGE with a sentence that names the option; settings may be partly filled then.
 * Not for two threads at once: getopt_long underneath keeps its place in a global. */
int options_parse(void *settings, struct option_operands *rest, const struct option_row *rows,
                  int argc, char **argv, struct error *err);

/* Writes one entry a row, the help text in its own column, lines at most width characters. */
void options_write_help(FILE *out, const struct option_row *rows, int width);

/* Writes text, wrapped to width characters (code points of UTF-8), as if column characters stood
 * on the first line already; further lines start with indent blanks. '\n' forces a new line;
 * at a no-break space, which is written as a blank, no line ends. Ends with a newline. */
void options_write_wrapped(FILE *out, const char *text, int column, int indent, int width);

/* How many letters to change, insert, drop or swap with the neighbour to get from a to b. */
int options_distance(const char *a, const char *b);

/* Whether candidate is near enough to what was typed to be worth suggesting. */
bool options_is_near(const char *typed, const char *candidate);

#endif
