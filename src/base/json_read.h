/* base/json_read.h: takes one JSON text apart (RFC 8259), through json-c. Writing: base/json.h. */
#ifndef ALIDADE_BASE_JSON_READ_H
#define ALIDADE_BASE_JSON_READ_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* A value of the text; what is inside it is borrowed from it. NULL stands for what is not there,
 * and every function accepts it. */
struct json_node;

/* Reads the one value that fills length bytes at text, nested at most 16 deep. ERROR_INPUT with
 * what is wrong, *root NULL; ERROR_MEMORY. Inverse: json_read_free. */
int json_read(struct json_node **root, const char *text, size_t length, struct error *err);
void json_read_free(struct json_node *root);

bool json_read_is_object(const struct json_node *node);

/* A member of an object; NULL if it has none of that name or is no object. Of two the last counts.
 */
const struct json_node *json_read_member(const struct json_node *object, const char *key);

/* An element of an array, counted from 0; NULL beyond its end or if it is no array. */
const struct json_node *json_read_element(const struct json_node *array, int i);

/* Values of members, or what is said here if there is none of that type: NaN for numbers that are
 * not there, null or not finite; the given default for whole numbers (also for those that do not
 * fit) and truths; NULL for texts, also for those that hold a zero byte. */
double json_read_number(const struct json_node *object, const char *key);
long long json_read_integer(const struct json_node *object, const char *key, long long otherwise);
bool json_read_bool(const struct json_node *object, const char *key, bool otherwise);
const char *json_read_string(const struct json_node *object, const char *key);

/* The value itself, of an element: NaN and NULL as above. */
double json_node_number(const struct json_node *node);
const char *json_node_string(const struct json_node *node);

/* Copies a text member, cut to size at the end of a character; "" if there is none. */
void json_read_text(char *out, size_t size, const struct json_node *object, const char *key);

#endif
