/* The help of a table of options, wrapped to the width of the terminal. */
#include "base/options_parts.h"
#include "base/utf8.h"

#include <stdio.h>
#include <string.h>

enum { HELP_COLUMN_LIMIT = 26 };         /* longer entries put their help on the next line */
enum { NARROW = 60, NARROW_COLUMN = 8 }; /* and all do where lines are short */

/* Characters, not bytes, in the first bytes of UTF-8 text. */
static int count_characters(const char *text, size_t bytes)
{
    return (int)utf8_count(text, bytes);
}

/* No-break spaces have done their work then, and would only hinder who searches or copies. */
static void write_word(FILE *out, const char *text, size_t bytes)
{
    static const char no_break[] = "\u00a0";
    const size_t length = sizeof no_break - 1;
    for (size_t i = 0; i < bytes; i++) {
        bool space = bytes - i >= length && memcmp(text + i, no_break, length) == 0;
        fputc(space ? ' ' : text[i], out);
        i += space ? length - 1 : 0;
    }
}

void options_write_wrapped(FILE *out, const char *text, int column, int indent, int width)
{
    bool fresh = true; /* nothing of the text on this line yet */
    while (*text) {
        if (*text == '\n' || *text == ' ') {
            if (*text == '\n') {
                fprintf(out, "\n%*s", text[1] && text[1] != '\n' ? indent : 0, "");
                column = indent;
                fresh = true;
            }
            text++;
            continue;
        }
        size_t bytes = strcspn(text, " \n");
        int length = count_characters(text, bytes);
        if (!fresh && column + 1 + length > width) {
            fprintf(out, "\n%*s", indent, "");
            column = indent;
            fresh = true;
        }
        fputs(fresh ? "" : " ", out);
        write_word(out, text, bytes);
        column += length + !fresh;
        fresh = false;
        text += bytes;
    }
    fputc('\n', out);
}

/* "  -o, --output FILE", cut to size. */
static void format_entry(char *entry, size_t size, const struct option_row *row)
{
    char letter[5] = "    ";
    if (row->letter) {
        snprintf(letter, sizeof letter, "-%c, ", row->letter);
    }
    snprintf(entry, size, "  %s--%s%s%s", letter, row->name, options_takes_value(row) ? " " : "",
             options_takes_value(row) ? row->argument : "");
}

static const struct option_row help_row = {
    .name = "help", .letter = 'h', .help = "print this and exit"};

static void write_entry(FILE *out, const struct option_row *row, int column, int width)
{
    char entry[120];
    format_entry(entry, sizeof entry, row);
    int length = count_characters(entry, strlen(entry));
    fputs(entry, out);
    if (length + 2 > column) {
        fputc('\n', out);
        length = 0;
    }
    fprintf(out, "%*s", column - length, "");
    options_write_wrapped(out, row->help, column, column, width);
}

void options_write_help(FILE *out, const struct option_row *rows, int width)
{
    int column = 0;
    for (const struct option_row *row = rows; !options_is_end(row); row++) {
        char entry[120] = "";
        if (row->kind != OPTION_HEADING) {
            format_entry(entry, sizeof entry, row);
        }
        int length = count_characters(entry, strlen(entry)) + 2;
        if (length > column && length <= HELP_COLUMN_LIMIT) {
            column = length;
        }
    }
    column = width < NARROW ? NARROW_COLUMN : column < 16 ? 16 : column;
    for (const struct option_row *row = rows; !options_is_end(row); row++) {
        if (row->kind == OPTION_HEADING) {
            char heading[200];
            snprintf(heading, sizeof heading, "%s:", row->help);
            fputs(row == rows ? "" : "\n", out);
            options_write_wrapped(out, heading, 0, 0, width);
        } else {
            write_entry(out, row, column, width);
        }
    }
    write_entry(out, &help_row, column, width);
}
