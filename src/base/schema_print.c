#include "base/schema_print.h"

#include <string.h>

static bool is_always_there(const struct schema_row *row)
{
    return row->when == SCHEMA_ALWAYS;
}

static const char *type_of(const struct schema_row *row)
{
    switch (row->kind) {
    case SCHEMA_NUMBER:
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

static void add_properties(struct json *json, const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind == SCHEMA_INCLUDE) {
            add_properties(json, row->of);
        } else {
            add_row(json, row);
        }
    }
}

/* A table that may be left out as a whole demands nothing. */
static void add_required(struct json *json, const struct schema *schema)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        if (row->kind == SCHEMA_INCLUDE && is_always_there(row)) {
            add_required(json, row->of);
        } else if (row->kind != SCHEMA_INCLUDE && is_always_there(row)) {
            json_string(json, NULL, row->key);
        }
    }
}

static void add_members(struct json *json, const struct schema *schema)
{
    json_string(json, "type", "object");
    json_open(json, "properties", '{');
    add_properties(json, schema);
    json_close(json, '}');
    json_open(json, "required", '[');
    add_required(json, schema);
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

/* "number", "number or null", "array of strings", "one of: keep, drop" */
static void print_type(FILE *out, const struct schema_row *row)
{
    bool words = row->kind == SCHEMA_WORD || row->kind == SCHEMA_WORDS;
    if (row->kind == SCHEMA_WORDS) {
        fputs("array of: ", out);
    } else if (row->kind == SCHEMA_WORD) {
        fputs("one of: ", out);
    } else if (row->kind == SCHEMA_NUMBERS) {
        fprintf(out, "array of %d numbers", row->count);
    } else if (row->kind == SCHEMA_TEXTS) {
        fputs("array of strings", out);
    } else if (row->kind == SCHEMA_OBJECTS) {
        fputs("array of objects", out);
    } else {
        fputs(type_of(row), out);
    }
    for (int i = 0; words && i < row->count; i++) {
        fprintf(out, "%s%s", i ? ", " : "", row->word(i));
    }
    fputs(row->nullable ? " or null" : "", out);
}

/* path: the keys around, each with its point. */
static void print_rows(FILE *out, const struct schema *schema, const char *table, const char *path,
                       bool surely)
{
    for (const struct schema_row *row = schema->row; row->key || row->of; row++) {
        bool always = surely && is_always_there(row);
        if (row->kind == SCHEMA_INCLUDE) {
            print_rows(out, row->of, table, path, always);
            continue;
        }
        fprintf(out, "%s\t%s%s\t", table, path, row->key);
        print_type(out, row);
        fprintf(out, "\t%s\t%s\t%s\n", row->unit ? row->unit : "",
                always ? "always" : "where it applies", row->text);
        if (row->of) {
            char inner[200];
            snprintf(inner, sizeof inner, "%s%s%s.", path, row->key,
                     row->kind == SCHEMA_OBJECTS ? "[]" : "");
            print_rows(out, row->of, table, inner, true);
        }
    }
}

void schema_print_keys(FILE *out, const struct schema *const *tables)
{
    fputs("object\tkey\ttype\tunit\twhen\tmeaning\n", out);
    for (const struct schema *const *table = tables; *table; table++) {
        fprintf(out, "%s\t\t\t\t\t%s\n", (*table)->name, (*table)->text);
        print_rows(out, *(table), (*table)->name, "", true);
    }
}
