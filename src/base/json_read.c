#include "base/json_read.h"

#include "base/utf8.h"

#include <json-c/json.h>
#include <limits.h>
#include <math.h>
#include <string.h>

enum { DEEPEST = 16 };

/* json_node is json-c's own object under a name of ours. */
static struct json_object *of(const struct json_node *node)
{
    return (struct json_object *)(void *)(size_t)node;
}

static struct json_node *node_of(struct json_object *object)
{
    return (struct json_node *)(void *)object;
}

static size_t without_blanks(const char *text, size_t length)
{
    while (length > 0 && text[length - 1] && strchr(" \t\r\n", text[length - 1])) {
        length--;
    }
    return length;
}

/* json-c looks no further than the end of an object, and a number may go on until an end is seen.
 */
static struct json_object *parse(struct json_tokener *tokener, const char *text, size_t length)
{
    struct json_object *object = json_tokener_parse_ex(tokener, text, (int)length);
    if (json_tokener_get_error(tokener) == json_tokener_continue) {
        object = json_tokener_parse_ex(tokener, "", 1);
    }
    return object;
}

int json_read(struct json_node **root, const char *text, size_t length, struct error *err)
{
    *root = NULL;
    length = without_blanks(text, length);
    if (length == 0 || length >= INT_MAX) {
        return error_set(err, ERROR_INPUT,
                         length ? "too long for JSON" : "no JSON, nothing at all");
    }
    struct json_tokener *tokener = json_tokener_new_ex(DEEPEST);
    if (!tokener) {
        return error_memory(err);
    }
    json_tokener_set_flags(tokener, JSON_TOKENER_STRICT | JSON_TOKENER_VALIDATE_UTF8);
    struct json_object *object = parse(tokener, text, length);
    enum json_tokener_error state = json_tokener_get_error(tokener);
    if (state != json_tokener_success) {
        json_object_put(object);
        object = NULL;
        error_set(err, ERROR_INPUT, "not JSON: %s", json_tokener_error_desc(state));
    }
    json_tokener_free(tokener);
    *root = node_of(object);
    return state == json_tokener_success ? 0 : ERROR_INPUT;
}

void json_read_free(struct json_node *root)
{
    json_object_put(of(root));
}

bool json_read_is_object(const struct json_node *node)
{
    return json_object_is_type(of(node), json_type_object);
}

const struct json_node *json_read_member(const struct json_node *object, const char *key)
{
    struct json_object *member = NULL;
    bool found = json_object_is_type(of(object), json_type_object) &&
                 json_object_object_get_ex(of(object), key, &member);
    return found ? node_of(member) : NULL;
}

const struct json_node *json_read_element(const struct json_node *array, int i)
{
    bool there = json_object_is_type(of(array), json_type_array) && i >= 0 &&
                 (size_t)i < json_object_array_length(of(array));
    return there ? node_of(json_object_array_get_idx(of(array), (size_t)i)) : NULL;
}

/* The library takes whole numbers beyond its own for the last of these. */
static bool is_whole_number(struct json_object *object)
{
    return json_object_is_type(object, json_type_int) &&
           json_object_get_int64(object) != INT64_MIN &&
           json_object_get_uint64(object) != UINT64_MAX;
}

double json_node_number(const struct json_node *node)
{
    bool number =
        json_object_is_type(of(node), json_type_double) || is_whole_number(of(node));
    double value = number ? json_object_get_double(of(node)) : (double)NAN;
    return isfinite(value) ? value : (double)NAN;
}

const char *json_node_string(const struct json_node *node)
{
    if (!json_object_is_type(of(node), json_type_string)) {
        return NULL;
    }
    const char *text = json_object_get_string(of(node));
    bool whole = text && strlen(text) == (size_t)json_object_get_string_len(of(node));
    return whole ? text : NULL;
}

double json_read_number(const struct json_node *object, const char *key)
{
    return json_node_number(json_read_member(object, key));
}

long long json_read_integer(const struct json_node *object, const char *key, long long otherwise)
{
    const struct json_node *node = json_read_member(object, key);
    if (!json_object_is_type(of(node), json_type_int)) {
        return otherwise;
    }
    long long value = json_object_get_int64(of(node));
    return value == LLONG_MAX || value == LLONG_MIN ? otherwise : value;
}

bool json_read_bool(const struct json_node *object, const char *key, bool otherwise)
{
    const struct json_node *node = json_read_member(object, key);
    bool truth = json_object_is_type(of(node), json_type_boolean);
    return truth ? json_object_get_boolean(of(node)) != 0 : otherwise;
}

const char *json_read_string(const struct json_node *object, const char *key)
{
    return json_node_string(json_read_member(object, key));
}

void json_read_text(char *out, size_t size, const struct json_node *object, const char *key)
{
    const char *text = json_read_string(object, key);
    utf8_copy(out, size, text ? text : "");
}
