#include "base/json.h"

#include "base/utf8.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void json_free(struct json *json)
{
    free(json->text);
    memset(json, 0, sizeof *json);
}

/* The text stays terminated; after the first failure nothing is added any more. */
static void append(struct json *json, const char *bytes, size_t length)
{
    if (json->failed || length > SIZE_MAX / 4 || json->length > SIZE_MAX / 4) {
        json->failed = true;
        return;
    }
    size_t need = json->length + length + 1;
    if (need > json->capacity) {
        size_t capacity = need < 256 ? 256 : need * 2;
        char *text = realloc(json->text, capacity);
        if (!text) {
            json->failed = true;
            return;
        }
        json->text = text;
        json->capacity = capacity;
    }
    memcpy(json->text + json->length, bytes, length);
    json->length += length;
    json->text[json->length] = '\0';
}

static void append_escaped(struct json *json, unsigned char byte)
{
    char escape[8] = {'\\', (char)byte, '\0'};
    static const char from[] = "\b\f\n\r\t", to[] = "bfnrt";
    const char *short_form = strchr(from, byte);
    if (short_form) {
        escape[1] = to[short_form - from];
    } else if (byte < 0x20) {
        snprintf(escape, sizeof escape, "\\u%04x", byte);
    }
    append(json, escape, strlen(escape));
}

static void append_quoted(struct json *json, const char *value)
{
    append(json, "\"", 1);
    for (const char *s = value; *s;) {
        size_t length = utf8_length(s);
        if (length == 0) {
            append(json, "\uFFFD", 3);
            length = 1;
        } else if ((unsigned char)*s < 0x20 || *s == '"' || *s == '\\') {
            append_escaped(json, (unsigned char)*s);
        } else {
            append(json, s, length);
        }
        s += length;
    }
    append(json, "\"", 1);
}

/* FNV-1a (draft-eastlake-fnv-17, from memory). */
static uint64_t hash_of(const char *key)
{
    uint64_t hash = UINT64_C(14695981039346656037);
    for (const char *c = key; *c; c++) {
        hash = (hash ^ (unsigned char)*c) * UINT64_C(1099511628211);
    }
    return hash;
}

static bool is_new_key(struct json *json, const char *key)
{
    uint64_t hash = hash_of(key);
    int level = json->depth - 1,
        first = level >= 0 && level < JSON_DEPTH ? json->first_key[level] : 0;
    for (int i = first; level < JSON_DEPTH && i < json->keys; i++) {
        if (json->key[i] == hash) {
            return false;
        }
    }
    if (level < JSON_DEPTH && json->keys < JSON_KEYS) {
        json->key[json->keys++] = hash;
    }
    return true;
}

/* What stands before each value. */
static void begin_value(struct json *json, const char *key)
{
    if (json->comma) {
        append(json, ", ", 2);
    }
    if (key) {
        bool is_new = is_new_key(json, key);
        assert(is_new);
        (void)is_new;
        append_quoted(json, key);
        append(json, ": ", 2);
    }
    json->comma = true;
}

static void append_value(struct json *json, const char *key, const char *text)
{
    begin_value(json, key);
    append(json, text, strlen(text));
}

void json_open(struct json *json, const char *key, char bracket)
{
    begin_value(json, key);
    append(json, &bracket, 1);
    json->comma = false;
    if (json->depth < JSON_DEPTH) {
        json->first_key[json->depth] = json->keys;
        json->level[json->depth] = (struct json_level){NULL, NULL};
    }
    json->depth++;
}

void json_close(struct json *json, char bracket)
{
    append(json, &bracket, 1);
    json->comma = true;
    json->depth -= json->depth > 0;
    if (json->depth < JSON_DEPTH) {
        json->keys = json->first_key[json->depth];
    }
}

void json_string(struct json *json, const char *key, const char *value)
{
    if (!value) {
        append_value(json, key, "null");
        return;
    }
    begin_value(json, key);
    append_quoted(json, value);
}

/* Whatever the locale puts between the digits becomes a point; a zero loses its minus. */
static void tidy_number(char *text)
{
    char *out = text;
    bool point = false;
    const char *p = text;
    if (*p == '-') {
        p++;
        out += strpbrk(text, "123456789") ? 1 : 0;
    }
    for (; *p; p++) {
        if (*p >= '0' && *p <= '9') {
            *out++ = *p;
        } else if (!point) {
            *out++ = '.';
            point = true;
        }
    }
    *out = '\0';
}

void json_number(struct json *json, const char *key, double value, int decimals)
{
    char text[400]; /* the longest double has 309 digits before the point */
    if (!isfinite(value)) {
        append_value(json, key, "null");
        return;
    }
    /* Without a point it would be read as a whole number, which this is too large for. */
    int least = fabs(value) >= 1e15 ? 1 : 0;
    decimals = decimals < least ? least : decimals > 17 ? 17 : decimals;
    snprintf(text, sizeof text, "%.*f", decimals, value);
    tidy_number(text);
    append_value(json, key, text);
}

void json_integer(struct json *json, const char *key, long long value)
{
    char text[32];
    snprintf(text, sizeof text, "%lld", value);
    append_value(json, key, text);
}

void json_bool(struct json *json, const char *key, bool value)
{
    append_value(json, key, value ? "true" : "false");
}

int json_end_line(struct json *json, FILE *out, struct error *err)
{
    json_close(json, '}');
    int code = json->failed ? error_memory(err) : 0;
    if (!code) {
        fprintf(out, "%s\n", json->text);
    }
    json_free(json);
    return code;
}
