#include "manual/roff.h"

#include "base/text.h"
#include "base/utf8.h"

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

enum { LINE_WIDTH = 78, LONGEST_WORD = 400, NO_BREAK_SPACE = 0xa0, DEGREE = 0xb0 };

/* Appends one character, which may be ASCII, as groff and mandoc both read it. */
static void add_character(char *word, size_t size, uint32_t code)
{
    if (code == NO_BREAK_SPACE) {
        text_append(word, size, "\\ ");
    } else if (code == DEGREE) {
        text_append(word, size, "\\(de"); /* short: sources have many */
    } else if (code >= 0x80) {
        text_append(word, size, "\\[u%04X]", (unsigned)code);
    } else {
        text_append(word, size, "%c", (char)code);
    }
}

/* The next character; a byte that is none stands for itself. */
static uint32_t take_character(const char **text)
{
    size_t length = utf8_length(*text);
    uint32_t code = length ? utf8_code(*text, length) : '?';
    *text += length ? length : 1;
    return code;
}

static void escape(char *word, size_t size, const char *text, size_t bytes)
{
    word[0] = '\0';
    if (bytes && strchr(".'", text[0])) {
        text_append(word, size, "\\&");
    }
    for (const char *end = text + bytes; text < end;) {
        uint32_t code = take_character(&text);
        if (code == '\\') {
            text_append(word, size, "\\e");
        } else if (code == '-') {
            text_append(word, size, "\\-");
        } else if (code == '"') {
            text_append(word, size, "\\(dq");
        } else {
            add_character(word, size, code);
        }
    }
}

static bool ends_sentence(const char *text, size_t bytes)
{
    while (bytes && strchr(")\"", text[bytes - 1])) {
        bytes--;
    }
    return bytes > 1 && strchr(".!?", text[bytes - 1]) && text[bytes - 2] != '.';
}

void roff_write_text(FILE *out, const char *text)
{
    char word[LONGEST_WORD];
    size_t column = 0;
    bool fresh = true;
    while (*text) {
        if (*text == ' ' || *text == '\n') {
            if (strncmp(text, "\n\n", 2) == 0) {
                fputs(column ? "\n.Pp\n" : ".Pp\n", out);
                column = 0;
                fresh = true;
                text++;
            }
            text++;
            continue;
        }
        size_t bytes = strcspn(text, " \n");
        escape(word, sizeof word, text, bytes);
        size_t length = strlen(word);
        if (column && (fresh || column + 1 + length > LINE_WIDTH)) {
            fputc('\n', out);
            column = 0;
        }
        column += (size_t)fprintf(out, "%s%s", column ? " " : "", word);
        fresh = ends_sentence(text, bytes);
        text += bytes;
    }
    fputs(column ? "\n" : "", out);
}

void roff_write_words(FILE *out, const char *text, size_t bytes)
{
    char word[LONGEST_WORD];
    escape(word, sizeof word, text, bytes);
    fputs(word, out);
}

void roff_write_source(FILE *out, const char *line)
{
    while (*line) {
        char character[16] = "";
        add_character(character, sizeof character, take_character(&line));
        fputs(character, out);
    }
    fputc('\n', out);
}
