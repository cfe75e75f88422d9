#include "base/schema_print.h"

#include "base/text.h"

#include <string.h>

static bool is_always_there(const struct schema_row *row)
{
    return row->when == SCHEMA_ALWAYS;
}

static const char *type_of(const struct schema_row *row)
{
    switch (row->kind) {
    case SCHEMA_NUMBER:
    case SCHEMA_FLOAT:
        return "number";
    case SCHEMA_INTEGER:
    case SCHEMA_LARGE:
    case SCHEMA_VERSION:
        return "integer";
    case SCHEMA_BOOL:
        return "boolean";
    case SCHEMA_TEXT:
    case SCHEMA_WORD:
        return "string";
    case SCHEMA_OBJECT:
    case SCHEMA_INCLUDE:
        return "object";
    case SCHEMA_NUMBERS:
    case SCHEMA_TEXTS:
    case SCHEMA_WORDS:
    case SCHEMA_OBJECTS:
        break;
    }
    return "array";
}

/* "type": "number", or also null. */
static void add_type(struct json *json, const char *type, bool nullable)
{
    if (!nullable) {
        json_string(json, "type", type);
        return;
    }
    json_open(json, "type", '[');
    json_string(json, NULL, type);
    json_string(json, NULL, "null");
    json_close(json, ']');
}

static void add_words(struct json *json, const struct schema_row *row)
{
    json_open(json, "enum", '[');
    for (int i = 0; i < row->count; i++) {
        json_string(json, NULL, row->word(i));
    }
    json_close(json, ']');
}

static void add_members(struct json *json, const struct schema *schema);

static void add_items(struct json *json, const struct schema_row *row)
{
    if (row->kind == SCHEMA_NUMBERS && row->count) {
        json_integer(json, "minItems", row->count);
        json_integer(json, "maxItems", row->count);
    }
    json_open(json, "items", '{');
    if (row->kind == SCHEMA_OBJECTS) {
        add_members(json, row->of);
    } else if (row->kind == SCHEMA_NUMBERS) {
        add_type(json, "number", row->nullable);
    } else {
        add_type(json, "string", false);
    }
    if (row->kind == SCHEMA_WORDS) {
        add_words(json, row);
    }
    json_close(json, '}');
}

static void add_row(struct json *json, const struct schema_row *row)
{
    bool is_array = strcmp(type_of(row), "array") == 0;
    json_open(json, row->key, '{');
    json_string(json, "description", row->text);
    if (row->unit) {
        json_string(json, "x-unit", row->unit);
    }
    if (row->kind == SCHEMA_OBJECT) {
        add_members(json, row->of);
    } else {
        add_type(json, type_of(row), row->nullable && !is_array);
    }
    if (row->kind == SCHEMA_WORD) {
        add_words(json, row);
    } else if (row->kind == SCHEMA_VERSION) {
        json_integer(json, "const", SCHEMA_FORMAT);
    } else if (is_array) {
        add_items(json, row);
    }
    json_close(json, '}');
}

bool schema_counts(const struct schema *object, const struct schema_row *row)
{
    return row->kind != SCHEMA_INCLUDE && schema_find(object, row->key) == row;
}

/* Of the object or a table that it includes. */
static void add_properties(struct json *json, const struct schema *object,
                           const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind == SCHEMA_INCLUDE) {
            add_properties(json, object, row->of);
        } else if (schema_counts(object, row)) {
            add_row(json, row);
        }
    }
}

/* A table that may be left out as a whole demands nothing. */
static void add_required(struct json *json, const struct schema *object,
                         const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind == SCHEMA_INCLUDE && is_always_there(row)) {
            add_required(json, object, row->of);
        } else if (is_always_there(row) && schema_counts(object, row)) {
            json_string(json, NULL, row->key);
        }
    }
}

static void add_members(struct json *json, const struct schema *schema)
{
    json_string(json, "type", "object");
    json_open(json, "properties", '{');
    add_properties(json, schema, schema);
    json_close(json, '}');
    json_open(json, "required", '[');
    add_required(json, schema, schema);
    json_close(json, ']');
    json_bool(json, "additionalProperties", false);
}

int schema_print_json(FILE *out, const struct schema *const *tables, struct error *err)
{
    struct json json = {0};
    char place[80];
    json_open(&json, NULL, '{');
    json_string(&json, "$schema", "https://json-schema.org/draft/2020-12/schema");
    json_string(&json, "title", "What Alidade prints and keeps as JSON, one object a line");
    json_integer(&json, "x-format", SCHEMA_FORMAT);
    json_open(&json, "anyOf", '[');
    for (const struct schema *const *table = tables; *table; table++) {
        snprintf(place, sizeof place, "#/$defs/%s", (*table)->name);
        json_open(&json, NULL, '{');
        json_string(&json, "$ref", place);
        json_close(&json, '}');
    }
    json_close(&json, ']');
    json_open(&json, "$defs", '{');
    for (const struct schema *const *table = tables; *table; table++) {
        json_open(&json, (*table)->name, '{');
        json_string(&json, "description", (*table)->text);
        add_members(&json, *table);
        json_close(&json, '}');
    }
    json_close(&json, '}');
    return json_end_line(&json, out, err);
}

void schema_write_type(char *out, size_t size, const struct schema_row *row)
{
    bool words = row->kind == SCHEMA_WORD || row->kind == SCHEMA_WORDS;
    out[0] = '\0';
    if (words) {
        text_append(out, size, row->kind == SCHEMA_WORDS ? "array of " : "");
    } else if (row->kind == SCHEMA_NUMBERS) {
        text_append(out, size, "array of %d numbers", row->count);
    } else if (row->kind == SCHEMA_TEXTS) {
        text_append(out, size, "array of strings");
    } else if (row->kind == SCHEMA_OBJECTS) {
        text_append(out, size, "array of objects");
    } else {
        text_append(out, size, "%s", type_of(row));
    }
    for (int i = 0; words && i < row->count; i++) {
        text_append(out, size, "%s%s", i ? ", " : "", row->word(i));
    }
    text_append(out, size, "%s", row->nullable ? " or null" : "");
}
