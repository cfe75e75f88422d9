#include "base/schema.h"

#include <assert.h>
#include <math.h>
#include <string.h>

const struct schema_row *schema_find(const struct schema *schema, const char *key)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind == SCHEMA_INCLUDE) {
            const struct schema_row *inner = schema_find(row->of, key);
            if (inner) {
                return inner;
            }
        } else if (strcmp(row->key, key) == 0) {
            return row;
        }
    }
    return NULL;
}

static struct json_level *open_level(struct json *json)
{
    assert(json->depth > 0 && json->depth <= JSON_DEPTH);
    return &json->level[json->depth - 1];
}

/* The row that a value of that key, or the next element, belongs to. */
static const struct schema_row *row_of(struct json *json, const char *key)
{
    const struct json_level *level = open_level(json);
    const struct schema_row *row = !key            ? level->array
                                   : level->object ? schema_find(level->object, key)
                                                   : NULL;
    assert(row);
    return row;
}

static void open_object(struct json *json, const char *key, const struct schema *schema)
{
    json_open(json, key, '{');
    open_level(json)->object = schema;
}

static void open_array(struct json *json, const char *key, const struct schema_row *row)
{
    json_open(json, key, '[');
    open_level(json)->array = row;
}

void schema_begin(struct json *json, const struct schema *schema)
{
    open_object(json, NULL, schema);
}

void schema_open(struct json *json, const char *key)
{
    const struct schema_row *row = row_of(json, key);
    if (row->kind == SCHEMA_OBJECT || !key) {
        assert(row->of);
        open_object(json, key, row->of);
    } else {
        assert(row->kind == SCHEMA_OBJECTS || row->kind == SCHEMA_TEXTS ||
               row->kind == SCHEMA_NUMBERS);
        open_array(json, key, row);
    }
}

void schema_close(struct json *json)
{
    json_close(json, open_level(json)->array ? ']' : '}');
}

void schema_put_number(struct json *json, const char *key, double value)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->kind == SCHEMA_NUMBER || (!key && row->kind == SCHEMA_NUMBERS));
    json_number(json, key, value, row->decimals);
}

void schema_put_integer(struct json *json, const char *key, long long value)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->kind == SCHEMA_INTEGER || row->kind == SCHEMA_LARGE);
    (void)row;
    json_integer(json, key, value);
}

void schema_put_bool(struct json *json, const char *key, bool value)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->kind == SCHEMA_BOOL);
    (void)row;
    json_bool(json, key, value);
}

void schema_put_text(struct json *json, const char *key, const char *value)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->kind == SCHEMA_TEXT || row->kind == SCHEMA_WORD ||
           (!key && row->kind == SCHEMA_TEXTS));
    (void)row;
    json_string(json, key, value);
}

void schema_put_word(struct json *json, const char *key, int value)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->kind == SCHEMA_WORD && value >= 0 && value < row->count);
    json_string(json, key, row->word(value));
}

void schema_put_format(struct json *json)
{
    const struct schema_row *row = row_of(json, "format");
    assert(row->kind == SCHEMA_VERSION);
    (void)row;
    json_integer(json, "format", SCHEMA_FORMAT);
}

int schema_end_line(struct json *json, FILE *out, struct error *err)
{
    return json_end_line(json, out, err);
}

/* A member of any kind of whole number. */
static int int_at(const void *structure, size_t at)
{
    int value;
    memcpy(&value, (const char *)structure + at, sizeof value);
    return value;
}

static double number_at(const void *structure, size_t at)
{
    double value;
    memcpy(&value, (const char *)structure + at, sizeof value);
    return value;
}

static double float_at(const void *structure, size_t at)
{
    float value;
    memcpy(&value, (const char *)structure + at, sizeof value);
    return (double)value;
}

static long long large_at(const void *structure, size_t at)
{
    long long value;
    memcpy(&value, (const char *)structure + at, sizeof value);
    return value;
}

static bool bool_at(const void *structure, size_t at)
{
    bool value;
    memcpy(&value, (const char *)structure + at, sizeof value);
    return value;
}

static bool is_positive(const struct schema_row *row, const void *structure)
{
    return row->kind == SCHEMA_INTEGER ? int_at(structure, row->at) > 0
           : row->kind == SCHEMA_LARGE ? large_at(structure, row->at) > 0
                                       : number_at(structure, row->at) > 0;
}

static bool is_filled(const struct schema_row *row, const void *structure)
{
    return row->kind == SCHEMA_TEXT      ? *((const char *)structure + row->at) != '\0'
           : row->kind == SCHEMA_OBJECTS ? int_at(structure, row->number_at) > 0
                                         : int_at(structure, row->at) != 0;
}

static bool is_present(const struct schema_row *row, const void *structure)
{
    switch (row->when) {
    case SCHEMA_POSITIVE:
        return is_positive(row, structure);
    case SCHEMA_KNOWN:
        return isfinite(float_at(structure, row->at));
    case SCHEMA_FILLED:
        return is_filled(row, structure);
    case SCHEMA_IF:
        return row->present && row->present(structure);
    case SCHEMA_ALWAYS:
        break;
    }
    return true;
}

static void put_rows(struct json *json, const struct schema *schema, const void *structure);

static void put_objects(struct json *json, const struct schema_row *row, const void *structure)
{
    const char *element = (const char *)structure + row->at;
    int count = int_at(structure, row->number_at);
    open_array(json, row->key, row);
    for (int i = 0; i < count && i < row->count; i++, element += row->size) {
        open_object(json, NULL, row->of);
        put_rows(json, row->of, element);
        schema_close(json);
    }
    schema_close(json);
}

static void put_words(struct json *json, const struct schema_row *row, const void *structure)
{
    unsigned set = (unsigned)int_at(structure, row->at);
    json_open(json, row->key, '[');
    for (int i = 0; i < row->count; i++) {
        if (set & 1U << i) {
            json_string(json, NULL, row->word(i));
        }
    }
    json_close(json, ']');
}

static void put_numbers(struct json *json, const struct schema_row *row, const void *structure)
{
    json_open(json, row->key, '[');
    for (int i = 0; i < row->count; i++) {
        json_number(json, NULL, number_at(structure, row->at + (size_t)i * sizeof(double)),
                    row->decimals);
    }
    json_close(json, ']');
}

static void put_object(struct json *json, const struct schema_row *row, const void *structure)
{
    open_object(json, row->key, row->of);
    put_rows(json, row->of, (const char *)structure + row->at);
    schema_close(json);
}

/* Kinds of one value. */
static void put_value(struct json *json, const struct schema_row *row, const void *structure)
{
    switch (row->kind) {
    case SCHEMA_NUMBER:
        json_number(json, row->key, number_at(structure, row->at), row->decimals);
        break;
    case SCHEMA_FLOAT:
        json_number(json, row->key, float_at(structure, row->at), row->decimals);
        break;
    case SCHEMA_INTEGER:
        json_integer(json, row->key, int_at(structure, row->at));
        break;
    case SCHEMA_LARGE:
        json_integer(json, row->key, (long)large_at(structure, row->at));
        break;
    case SCHEMA_BOOL:
        json_bool(json, row->key, bool_at(structure, row->at));
        break;
    case SCHEMA_TEXT:
        json_string(json, row->key, (const char *)structure + row->at);
        break;
    case SCHEMA_WORD:
        json_string(json, row->key, row->word(int_at(structure, row->at)));
        break;
    case SCHEMA_VERSION:
        json_integer(json, row->key, SCHEMA_FORMAT);
        break;
    default:
        assert(!"a value"); /* SCHEMA_TEXTS has no member */
    }
}

static void put_row(struct json *json, const struct schema_row *row, const void *structure)
{
    if (row->put) {
        row->put(json, row->key, structure);
        return;
    }
    switch (row->kind) {
    case SCHEMA_OBJECT:
        put_object(json, row, structure);
        break;
    case SCHEMA_OBJECTS:
        put_objects(json, row, structure);
        break;
    case SCHEMA_NUMBERS:
        put_numbers(json, row, structure);
        break;
    case SCHEMA_WORDS:
        put_words(json, row, structure);
        break;
    default:
        put_value(json, row, structure);
    }
}

static void put_rows(struct json *json, const struct schema *schema, const void *structure)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (!is_present(row, structure)) {
            continue;
        }
        if (row->kind == SCHEMA_INCLUDE) {
            put_rows(json, row->of, structure);
        } else {
            put_row(json, row, structure);
        }
    }
}

void schema_write(struct json *json, const char *key, const struct schema *schema,
                  const void *structure)
{
    open_object(json, key, schema);
    put_rows(json, schema, structure);
    schema_close(json);
}

void schema_put_structure(struct json *json, const char *key, const void *structure)
{
    const struct schema_row *row = row_of(json, key);
    assert(row->of);
    schema_write(json, key, row->of, structure);
}

static bool includes(const struct schema *schema, const struct schema *part)
{
    bool found = schema == part;
    for (const struct schema_row *row = schema->row; !found && (row->key || row->of); row++) {
        found = row->kind == SCHEMA_INCLUDE && includes(row->of, part);
    }
    return found;
}

void schema_put_rows(struct json *json, const struct schema *included, const void *structure)
{
    assert(includes(open_level(json)->object, included));
    put_rows(json, included, structure);
}
