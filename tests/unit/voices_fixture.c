#include "voices_fixture.h"

#include "near.h"
#include "scratch.h"

#include <ctype.h>
#include <json-c/json.h>
#include <math.h>
#include <stdbool.h>

void voice_begin(struct voice *voice)
{
    *voice = (struct voice){0};
    voice->stream = open_memstream(&voice->text, &voice->size);
    ck_assert_ptr_nonnull(voice->stream);
}

static char *flatten(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++) {
        bool blank = isspace((unsigned char)*from);
        if (!blank) {
            *to++ = *from;
        } else if (to > text && to[-1] != ' ') {
            *to++ = ' ';
        }
    }
    *to = '\0';
    return text;
}

char *voice_end(struct voice *voice)
{
    ck_assert_int_eq(fclose(voice->stream), 0);
    return flatten(voice->text);
}

json_object *voice_end_json(struct voice *voice)
{
    ck_assert_int_eq(fclose(voice->stream), 0);
    json_object *object = json_tokener_parse(voice->text);
    ck_assert_msg(object != NULL, "no JSON: %s", voice->text);
    free(voice->text);
    return object;
}

void voice_free_json(json_object *object)
{
    json_object_put(object);
}

char *voice_of_pdf(const char *path)
{
    char command[700], piece[4096];
    struct voice voice;
    size_t length;
    snprintf(command, sizeof command, "pdftotext -raw '%s' - 2>/dev/null", path);
    FILE *reader = popen(command, "r");
    ck_assert_ptr_nonnull(reader);
    voice_begin(&voice);
    while ((length = fread(piece, 1, sizeof piece, reader)) > 0) {
        fwrite(piece, 1, length, voice.stream);
    }
    int code = pclose(reader);
    char *text = voice_end(&voice);
    if (code) {
        free(text);
    }
    return code ? NULL : text;
}

char *voice_of_file(const char *path)
{
    size_t size;
    return flatten((char *)scratch_read(path, &size));
}

/* A number, or a fraction, behind tags; where it ends, NULL for none. */
static const char *read_number(double *value, const char *at)
{
    char *end;
    while (*at == ' ' || *at == '<') {
        at = *at == '<' ? at + strcspn(at, ">") + 1 : at + 1;
    }
    *value = strtod(at, &end);
    if (end == at) {
        return NULL;
    }
    if (*end == '/' && isdigit((unsigned char)end[1])) {
        *value /= strtod(end + 1, &end);
    }
    return end;
}

int voice_may_say(const char *text, const char *words, double wanted, double within)
{
    int places = 0;
    for (const char *at = strstr(text, words); at; at = strstr(at + 1, words)) {
        double value;
        if (read_number(&value, at + strlen(words))) {
            ck_assert_msg(fabs(value - wanted) <= within, "\"%s\" %g instead of %g in: %s", words,
                          value, wanted, text);
            places++;
        }
    }
    return places;
}

void voice_says(const char *text, const char *words, double wanted, double within)
{
    ck_assert_msg(voice_may_say(text, words, wanted, within) > 0, "no \"%s\" %g in: %s", words,
                  wanted, text);
}

static json_object *find(json_object *object, const char *path)
{
    char key[80];
    while (object && *path) {
        size_t length = strcspn(path, ".");
        json_object *member = NULL;
        snprintf(key, sizeof key, "%.*s", (int)length, path);
        object = json_object_object_get_ex(object, key, &member) ? member : NULL;
        path += length + (path[length] == '.');
    }
    return object;
}

double voice_number(json_object *object, const char *path)
{
    json_object *found = find(object, path);
    return found ? json_object_get_double(found) : (double)NAN;
}

const char *voice_word(json_object *object, const char *path)
{
    json_object *found = find(object, path);
    if (found && json_object_is_type(found, json_type_array)) {
        found = json_object_array_get_idx(found, 0);
    }
    return found ? json_object_get_string(found) : "";
}
