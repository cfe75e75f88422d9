#include "base/schema.h"

#include <limits.h>
#include <string.h>

static double within(const struct schema_row *row, double value)
{
    bool any = row->low == row->high && value == value;
    return any || (value >= row->low && value <= row->high) ? value : row->missing;
}

static void take_number(void *to, const struct schema_row *row, const struct json_node *object)
{
    double value = within(row, json_read_number(object, row->key));
    memcpy(to, &value, sizeof value);
}

static void take_float(void *to, const struct schema_row *row, const struct json_node *object)
{
    float value = (float)within(row, json_read_number(object, row->key));
    memcpy(to, &value, sizeof value);
}

static void take_numbers(void *to, const struct schema_row *row, const struct json_node *object)
{
    const struct json_node *array = json_read_member(object, row->key);
    for (int i = 0; i < row->count; i++) {
        double value = within(row, json_node_number(json_read_element(array, i)));
        memcpy((char *)to + (size_t)i * sizeof value, &value, sizeof value);
    }
}

/* Also of a number that another program wrote with a point. */
static void take_integer(void *to, const struct schema_row *row, const struct json_node *object)
{
    double number = within(row, json_read_number(object, row->key));
    int value = number >= INT_MIN && number <= INT_MAX ? (int)number : 0;
    memcpy(to, &value, sizeof value);
}

static void take_large(void *to, const struct schema_row *row, const struct json_node *object)
{
    long long value = json_read_integer(object, row->key, 0);
    memcpy(to, &value, sizeof value);
}

static void take_bool(void *to, const struct schema_row *row, const struct json_node *object)
{
    bool value = json_read_bool(object, row->key, false);
    memcpy(to, &value, sizeof value);
}

/* The number of a word; -1 if it is none. */
static int number_of(const struct schema_row *row, const struct json_node *node)
{
    const char *text = json_node_string(node);
    for (int i = 0; text && i < row->count; i++) {
        if (strcmp(text, row->word(i)) == 0) {
            return i;
        }
    }
    return -1;
}

static void take_word(void *to, const struct schema_row *row, const struct json_node *object)
{
    int value = number_of(row, json_read_member(object, row->key));
    value = value < 0 ? 0 : value;
    memcpy(to, &value, sizeof value);
}

static void take_words(void *to, const struct schema_row *row, const struct json_node *object)
{
    const struct json_node *array = json_read_member(object, row->key), *element;
    unsigned set = 0;
    for (int i = 0; (element = json_read_element(array, i)); i++) {
        int value = number_of(row, element);
        set |= value < 0 ? 0 : 1U << value;
    }
    memcpy(to, &set, sizeof set);
}

static bool take_rows(void *structure, const struct schema *schema, const struct json_node *object);

/* Elements that make no sense are passed over. */
static void take_objects(void *structure, const struct schema_row *row,
                         const struct json_node *object)
{
    const struct json_node *array = json_read_member(object, row->key), *element;
    int number = 0;
    for (int i = 0; number < row->count && (element = json_read_element(array, i)); i++) {
        char *to = (char *)structure + row->at + (size_t)number * row->size;
        bool good = take_rows(to, row->of, element);
        number += good;
        if (!good) {
            memset(to, 0, row->size);
        }
    }
    memcpy((char *)structure + row->number_at, &number, sizeof number);
}

static void take_object(void *structure, const struct schema_row *row,
                        const struct json_node *object)
{
    char *to = (char *)structure + row->at;
    if (!take_rows(to, row->of, json_read_member(object, row->key))) {
        memset(to, 0, row->size);
    }
}

static void take_row(void *structure, const struct schema_row *row, const struct json_node *object)
{
    void *to = (char *)structure + row->at;
    switch (row->kind) {
    case SCHEMA_NUMBER:
        take_number(to, row, object);
        break;
    case SCHEMA_FLOAT:
        take_float(to, row, object);
        break;
    case SCHEMA_NUMBERS:
        take_numbers(to, row, object);
        break;
    case SCHEMA_INTEGER:
        take_integer(to, row, object);
        break;
    case SCHEMA_LARGE:
        take_large(to, row, object);
        break;
    case SCHEMA_BOOL:
        take_bool(to, row, object);
        break;
    case SCHEMA_TEXT:
        json_read_text(to, row->size, object, row->key);
        break;
    case SCHEMA_WORD:
        take_word(to, row, object);
        break;
    case SCHEMA_WORDS:
        take_words(to, row, object);
        break;
    case SCHEMA_OBJECT:
        take_object(structure, row, object);
        break;
    case SCHEMA_OBJECTS:
        take_objects(structure, row, object);
        break;
    case SCHEMA_INCLUDE:
        take_rows(structure, row->of, object);
        break;
    case SCHEMA_TEXTS:
    case SCHEMA_VERSION:
        break;
    }
}

static bool take_rows(void *structure, const struct schema *schema, const struct json_node *object)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->take) {
            row->take(structure, object, row->key);
        } else if (!row->put) {
            take_row(structure, row, object);
        }
    }
    return !schema->accept || schema->accept(structure);
}

void schema_read(void *structure, const struct schema *schema, const struct json_node *object)
{
    take_rows(structure, schema, object);
}

int schema_read_format(const struct json_node *object)
{
    long long format = json_read_integer(object, "format", 1);
    return format > 0 && format < INT_MAX ? (int)format : 1;
}
