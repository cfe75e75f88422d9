#include "ini.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum { LINE_SIZE = 200, NAME_SIZE = 50 };

struct ini {
    ini_handler handler;
    void *user;
    char section[NAME_SIZE];
    char last_name[NAME_SIZE]; /* which an indented line goes on with; "": there is none */
};

static bool is_blank(char letter)
{
    return isspace((unsigned char)letter) != 0;
}

/* Cuts what is blank off both ends of a text; where it begins then. */
static char *trim(char *text)
{
    size_t length = strlen(text);
    while (length && is_blank(text[length - 1])) {
        text[--length] = '\0';
    }
    while (is_blank(*text)) {
        text++;
    }
    return text;
}

/* Where the first of some letters stands, or a comment begins (a semicolon behind a blank), or the
 * text ends. */
static char *find(char *text, const char *letters)
{
    for (char *at = text; *at; at++) {
        if (strchr(letters, *at) || (*at == ';' && at > text && is_blank(at[-1]))) {
            return at;
        }
    }
    return text + strlen(text);
}

static bool take_section(struct ini *ini, char *text)
{
    char *end = find(text, "]");
    if (*end != ']') {
        return false;
    }
    *end = '\0';
    snprintf(ini->section, sizeof ini->section, "%s", text);
    ini->last_name[0] = '\0';
    return true;
}

static bool take_pair(struct ini *ini, char *text)
{
    char *end = find(text, "=:");
    if (*end != '=' && *end != ':') {
        return false;
    }
    *end = '\0';
    char *value = end + 1;
    *find(value, "") = '\0';
    const char *name = trim(text);
    snprintf(ini->last_name, sizeof ini->last_name, "%s", name);
    return ini->handler(ini->user, ini->section, name, trim(value)) != 0;
}

static bool take_line(struct ini *ini, char *line)
{
    char *text = trim(line);
    if (!*text || strchr(";#", *text)) {
        return true;
    }
    if (ini->last_name[0] && text > line) {
        return ini->handler(ini->user, ini->section, ini->last_name, text) != 0;
    }
    return *text == '[' ? take_section(ini, text + 1) : take_pair(ini, text);
}

int ini_parse_stream(ini_reader reader, void *stream, ini_handler handler, void *user)
{
    struct ini ini = {.handler = handler, .user = user};
    char line[LINE_SIZE];
    int wrong = 0;
    for (int number = 1; reader(line, sizeof line, stream); number++) {
        bool marked = number == 1 && strncmp(line, "\xef\xbb\xbf", 3) == 0; /* as UTF-8 */
        if (!take_line(&ini, line + (marked ? 3 : 0)) && !wrong) {
            wrong = number;
        }
    }
    return wrong;
}
