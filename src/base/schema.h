/* base/schema.h: JSON objects described by tables, which write, read and document them.
 *
 * A table is the only place that knows a key: what it is called, what kind of value it has, how
 * many decimals, its unit, what it says, and when it is there. Where a table tells members of a
 * structure, schema_write and schema_read move whole structures. Where values are computed, an
 * object is opened with its table, and each value is put under its key: kind and decimals come from
 * the table, and a key that it does not have is the caller's mistake, and asserted against. The
 * documents made from tables are in base/schema_print.h. */
#ifndef ALIDADE_BASE_SCHEMA_H
#define ALIDADE_BASE_SCHEMA_H

#include "base/json.h"
#include "base/json_read.h"

#include <stdbool.h>
#include <stddef.h>

/* What every object that is printed says of itself: goes up when a key changes its meaning or goes
 * away, not when one is added. Lines without the key are of format 1. */
enum { SCHEMA_FORMAT = 2 };

enum schema_kind {
    SCHEMA_NUMBER,  /* double; not finite: null */
    SCHEMA_FLOAT,   /* the same of a float */
    SCHEMA_INTEGER, /* int */
    SCHEMA_LARGE,   /* long long */
    SCHEMA_BOOL,    /* bool */
    SCHEMA_TEXT,    /* char[size], cut to it when read */
    SCHEMA_WORD,    /* an enum or int below count: word(it) */
    SCHEMA_OBJECT,  /* a structure within the structure, of the table of */
    SCHEMA_NUMBERS, /* double[count] */
    SCHEMA_TEXTS,   /* array; only put one by one */
    SCHEMA_WORDS,   /* unsigned, a bit for each word: array of those that are set */
    SCHEMA_OBJECTS, /* array of structures of size bytes, at most count, of the table of; the number
                       of them is an int at number_at */
    SCHEMA_VERSION, /* SCHEMA_FORMAT; no member */
    SCHEMA_INCLUDE  /* no key of its own: the rows of another table, of the same structure; of two
                       rows with one key the first counts */
};

enum schema_when {
    SCHEMA_ALWAYS,
    SCHEMA_IF,       /* present() says so; without that, when it is put */
    SCHEMA_POSITIVE, /* a number above 0 */
    SCHEMA_KNOWN,    /* a float that is finite */
    SCHEMA_FILLED    /* a text, a set or an array that is not empty */
};

/* One key; a table of them ends with a row of zeros. What does not apply is left out. */
struct schema_row {
    const char *key;
    enum schema_kind kind;
    const char *text; /* what it says, for the documents */
    const char *unit; /* "px"; NULL: none */
    enum schema_when when;
    bool nullable; /* null is written where it is not known */
    int decimals;  /* of numbers */

    size_t at, size, number_at; /* offsetof and sizeof in the structure */
    int count;
    const struct schema *of;
    const char *(*word)(int value);

    /* A number is read only from low to high, unless these are equal; otherwise, as without one, it
     * reads as missing. */
    double low, high, missing;

    bool (*present)(const void *structure);
    /* Puts a value that no member holds as it is written, and takes it back from the object that
     * has the key; without take it is not read. */
    void (*put)(struct json *json, const char *key, const void *structure);
    void (*take)(void *structure, const struct json_node *object, const char *key);
};

struct schema {
    const char *name; /* "frame" */
    const char *text; /* what it is the answer to, for the documents */
    const struct schema_row *row;
    /* Whether what was read makes sense; if not, the structure becomes zeros, or an array goes
     * without it. NULL: it does. */
    bool (*accept)(const void *structure);
};

/* One object under key (NULL in an array or outermost), all of its members from the structure. */
void schema_write(struct json *json, const char *key, const struct schema *schema,
                  const void *structure);

/* Fills all members that the table tells of; object may be NULL. Texts need room for a terminator.
 * What is missing or of another type reads as the row's missing, 0, false, "" or word 0. Inverse:
 * schema_write, to the decimals of the table. */
void schema_read(void *structure, const struct schema *schema, const struct json_node *object);

/* The format that an object says it has; 1 if it says nothing. */
int schema_read_format(const struct json_node *object);

/* Opens the outermost object, of that table. */
void schema_begin(struct json *json, const struct schema *schema);

/* Opens an object or array that the open one has under key; with key NULL the next object of the
 * open array. schema_close closes what was opened last. */
void schema_open(struct json *json, const char *key);
void schema_close(struct json *json);

/* Puts a value under a key of the open object, or into the open array (key NULL). */
void schema_put_number(struct json *json, const char *key, double value);
void schema_put_integer(struct json *json, const char *key, long long value);
void schema_put_bool(struct json *json, const char *key, bool value);
void schema_put_text(struct json *json, const char *key, const char *value); /* NULL: null */
void schema_put_word(struct json *json, const char *key, int value);
void schema_put_format(struct json *json);

/* Puts a structure under a key of the open object whose table is that of the row. */
void schema_put_structure(struct json *json, const char *key, const void *structure);
/* All rows of a table that the open object includes. */
void schema_put_rows(struct json *json, const struct schema *included, const void *structure);

/* Closes the object of schema_begin, prints it as a line and frees it. ERROR_MEMORY: nothing is
 * printed. */
int schema_end_line(struct json *json, FILE *out, struct error *err);

/* The row of a key, in included tables too; NULL if there is none. */
const struct schema_row *schema_find(const struct schema *schema, const char *key);

#endif
