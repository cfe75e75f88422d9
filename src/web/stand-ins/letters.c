/* draw/lettering.h for a page: the browser knows how wide its letters are, and writes them. */
#include "draw/lettering.h"

#include "base/utf8.h"
#include "sheet.h"

#include <stdlib.h>
#include <string.h>

/* browser_letters.js: width of text, and how far its ink reaches left, right, up and down of its
 * beginning, for a type of size 100. */
void measure_letters(const char *text, int strong, double to[5]);

void lettering_free(struct lettering *lettering)
{
    *lettering = (struct lettering){0};
}

/* Without what would break the line; NULL if memory is short. */
static char *clean_copy(const char *text)
{
    char *copy = strdup(text);
    for (unsigned char *at = (unsigned char *)copy; at && *at; at++) {
        *at = *at < 0x20 || *at == 0x7f ? ' ' : *at;
    }
    return copy;
}

void lettering_measure(struct lettering_extents *extents, struct lettering *lettering,
                       const struct lettering_line *line)
{
    double box[5] = {0};
    char *text = clean_copy(line->text);
    (void)lettering;
    measure_letters(text ? text : "", line->strong, box);
    double size = line->size / 100, spaces = text ? (double)utf8_count(text, strlen(text)) : 0;
    double extra = line->spacing * spaces;
    free(text);
    *extents = (struct lettering_extents){
        .width = size * box[0] + extra,
        .ascent = 0.93 * line->size,
        .descent = 0.24 * line->size,
        .ink_x = -size * box[1],
        .ink_y = -size * box[3],
        .ink_width = size * (box[1] + box[2]) + extra,
        .ink_height = size * (box[3] + box[4]),
    };
}

static struct sheet_colour colour_of(const struct colour *colour)
{
    return (struct sheet_colour){colour->red, colour->green, colour->blue, colour->alpha};
}

void lettering_write(struct lettering *lettering, const struct lettering_line *line, double x,
                     double y, const struct lettering_ink *ink)
{
    char *text = clean_copy(line->text);
    const struct sheet_text letters = {
        .text = text ? text : "",
        .x = x,
        .y = y,
        .size = line->size,
        .spacing = line->spacing,
        .strong = line->strong,
        .fill = colour_of(&ink->fill),
        .rim = colour_of(&ink->rim),
        .rim_width = ink->rim_width,
    };
    sheet_write_text(lettering->cairo, &letters);
    free(text);
    cairo_new_path(lettering->cairo);
}

/* Bytes of the longest beginning of text, up to a blank, that is no wider than width; all of a
 * single word that is. */
static size_t fitting(struct lettering *lettering, const struct lettering_line *line,
                      const char *text, double width)
{
    size_t best = 0;
    for (size_t at = 0;; at++) {
        if (text[at] != ' ' && text[at] != '\0') {
            continue;
        }
        char *piece = strndup(text, at);
        struct lettering_line part = *line;
        struct lettering_extents extents;
        part.text = piece ? piece : "";
        lettering_measure(&extents, lettering, &part);
        free(piece);
        if (extents.width <= width || best == 0) {
            best = at;
        }
        if (extents.width > width || text[at] == '\0') {
            return best;
        }
    }
}

int lettering_write_wrapped(struct lettering *lettering, const struct lettering_line *line,
                            double x, double y, double width, double leading,
                            const struct lettering_ink *ink)
{
    int lines = 0;
    const char *text = line->text;
    do {
        size_t length = fitting(lettering, line, text, width);
        char *piece = strndup(text, length);
        struct lettering_line part = *line;
        part.text = piece ? piece : "";
        lettering_write(lettering, &part, x, y + lines * leading, ink);
        free(piece);
        lines++;
        text += length;
        while (*text == ' ') {
            text++;
        }
    } while (*text);
    return lines;
}

int lettering_check(const struct lettering *lettering, const char *name, struct error *err)
{
    (void)lettering;
    (void)name;
    (void)err;
    return 0;
}
