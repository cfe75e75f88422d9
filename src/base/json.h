/* base/json.h: writes one JSON value to a growing buffer (RFC 8259). */
#ifndef ALIDADE_BASE_JSON_H
#define ALIDADE_BASE_JSON_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum { JSON_DEPTH = 16, JSON_KEYS = 128 };

/* What an open object or array may hold; kept by base/schema.h. */
struct json_level {
    const struct schema *object;
    const struct schema_row *array;
};

/* Starts as all zeros. Commas and colons are put in by the writer; nesting is the caller's duty. A
 * key that an object has already is the caller's mistake, and asserted against. */
struct json {
    char *text; /* terminated; owned */
    size_t length, capacity;
    bool comma;  /* the next value needs a comma before it */
    bool failed; /* memory was short: text is incomplete */

    /* Of the keys of all open objects, which would be too much to look at above these numbers. */
    uint64_t key[JSON_KEYS];
    int keys, first_key[JSON_DEPTH], depth;

    struct json_level level[JSON_DEPTH];
};

void json_free(struct json *json);

void json_open(struct json *json, const char *key, char bracket); /* '{' or '['; key or NULL */
void json_close(struct json *json, char bracket);                 /* '}' or ']' */

/* Closes the outermost object, prints it as a line and frees it. ERROR_MEMORY: nothing printed. */
int json_end_line(struct json *json, FILE *out, struct error *err);

/* key is NULL inside an array. Bytes that are not valid UTF-8 become U+FFFD. */
void json_string(struct json *json, const char *key, const char *value);
/* decimals: digits after the point, 0..17; NaN and infinities become null. */
void json_number(struct json *json, const char *key, double value, int decimals);
void json_integer(struct json *json, const char *key, long long value);
void json_bool(struct json *json, const char *key, bool value);

#endif
