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

/* Where the text of a line begins, behind blanks and a label: "  clock    right to". */
static int indent_of(const char *line)
{
    enum { LABEL = 11, PLAIN = 4 };
    bool labelled = strncmp(line, "  ", 2) == 0 && strlen(line) > LABEL && line[2] != ' ' &&
                    line[LABEL - 1] == ' ' && line[LABEL] != ' ';
    const char *blank = labelled ? strchr(line + 2, ' ') : NULL;
    bool padded =
        blank && blank - line < LABEL && strspn(blank, " ") == (size_t)(line + LABEL - blank);
    return padded ? LABEL : PLAIN;
}

static void write_line(FILE *out, const char *line, int columns)
{
    bool fits = (int)utf8_count(line, strlen(line)) < columns;
    if (fits || line[0] == '{') {
        fprintf(out, "%s\n", line);
        return;
    }
    size_t blanks = strspn(line, " ");
    fprintf(out, "%.*s", (int)blanks, line);
    options_write_wrapped(out, line + blanks, (int)blanks, indent_of(line), columns - 1);
}

void terminal_write(FILE *out, const char *text, size_t length)
{
    int columns = terminal_columns(out);
    char *copy = isatty(fileno(out)) ? malloc(length + 1) : NULL;
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

void terminal_red(FILE *out, bool red)
{
    fputs(red ? "\033[31m" : "\033[0m", out);
}
