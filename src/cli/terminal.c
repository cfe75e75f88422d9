#include "cli/terminal.h"

#include "base/options.h"
#include "base/utf8.h"

#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

int terminal_columns(FILE *out)
{
    enum { LEAST = 24, MOST = 100, USUAL = 78 };
    struct winsize size;
    if (!isatty(fileno(out)) || ioctl(fileno(out), TIOCGWINSZ, &size) != 0 || size.ws_col == 0) {
        return USUAL;
    }
    return size.ws_col < LEAST ? LEAST : size.ws_col > MOST ? MOST : size.ws_col;
}

/* Labels that leave no blank but one. */
static const char *const full_labels[] = {"  next time ", "  your frame "};

/* Where the text of a line begins: behind a label and the blanks that fill its column ("  clock
 * right to"), or behind blanks alone. */
static int indent_of(const char *line)
{
    enum { NARROWEST = 11, WIDEST = 13, PLAIN = 4 };
    size_t blanks = strspn(line, " ");
    for (size_t i = 0; i < sizeof full_labels / sizeof *full_labels; i++) {
        size_t length = strlen(full_labels[i]);
        if (strncmp(line, full_labels[i], length) == 0) {
            return (int)length;
        }
    }
    const char *gap = blanks == 2 ? strstr(line + 2, "  ") : NULL;
    size_t text = gap ? (size_t)(gap - line) + strspn(gap, " ") : 0;
    if (text >= NARROWEST && text <= WIDEST) {
        return (int)text;
    }
    return blanks > PLAIN ? (int)blanks : PLAIN;
}

static void write_line(FILE *out, const char *line, int columns)
{
    bool fits = (int)utf8_count(line, strlen(line)) < columns;
    if (fits || line[0] == '{') {
        fprintf(out, "%s\n", line);
        return;
    }
    int indent = indent_of(line), blanks = (int)strspn(line, " ");
    int begin = blanks == 2 && indent > 2 * blanks ? indent : blanks;
    fprintf(out, "%.*s", begin, line);
    options_write_wrapped(out, line + begin, begin, indent, columns - 1);
}

void terminal_wrap(FILE *out, const char *text, size_t length, int columns)
{
    char *copy = malloc(length + 1);
    if (!copy) {
        fwrite(text, 1, length, out);
        return;
    }
    memcpy(copy, text, length);
    copy[length] = '\0';
    for (char *line = copy; *line;) {
        size_t size = strcspn(line, "\n");
        bool ends = line[size] == '\n';
        line[size] = '\0';
        write_line(out, line, columns);
        line += size + ends;
    }
    free(copy);
}

void terminal_write(FILE *out, const char *text, size_t length)
{
    if (isatty(fileno(out))) {
        terminal_wrap(out, text, length, terminal_columns(out));
    } else {
        fwrite(text, 1, length, out);
    }
}

FILE *terminal_begin(struct terminal_text *text, FILE *out)
{
    *text = (struct terminal_text){.out = out};
    text->stream = isatty(fileno(out)) ? open_memstream(&text->text, &text->length) : NULL;
    return text->stream ? text->stream : out;
}

void terminal_end(struct terminal_text *text)
{
    if (text->stream && fclose(text->stream) == 0) {
        terminal_write(text->out, text->text, text->length);
    }
    free(text->text);
    *text = (struct terminal_text){0};
}

void terminal_red(FILE *out, bool red)
{
    fputs(red ? "\033[31m" : "\033[0m", out);
}
