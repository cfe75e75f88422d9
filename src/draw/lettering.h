/* draw/lettering.h: lines of text in any script, measured and put on a drawing. Pango finds the
 * letters: in STYLE_FONT, and in whatever font of the system has what that lacks. */
#ifndef ALIDADE_DRAW_LETTERING_H
#define ALIDADE_DRAW_LETTERING_H

#include "base/error.h"
#include "draw/theme.h"

#include <cairo.h>
#include <stdbool.h>

struct _PangoLayout;

/* What one drawing's text is laid out with; for one thread at a time. All zeros but for cairo,
 * which is borrowed; fonts are looked for at the first text. Free with lettering_free. */
struct lettering {
    cairo_t *cairo;
    struct _PangoLayout *layout;
    bool fontless; /* there is not a single font */
};

void lettering_free(struct lettering *lettering);

/* One line of text. Bytes that are not UTF-8 show as U+FFFD, the replacement character, and control
 * characters as blanks. */
struct lettering_line {
    const char *text; /* UTF-8 */
    double size;      /* of the type, in cairo's units like all lengths here */
    bool strong;
    double spacing; /* more than usual between letters */
};

/* Of a line whose baseline begins at (0, 0), x right, y down. The room that it takes does not
 * depend on the surface and its scale, and is in proportion to the size to within a thousandth. */
struct lettering_extents {
    double width;           /* from the beginning to where a next line would begin */
    double ascent, descent; /* how far the highest and lowest letters of its fonts reach, both up
                               and down positive */
    double ink_x, ink_y, ink_width, ink_height; /* box of what is black */
    int missing; /* letters that no font of the system has; they show as boxes with their number */
};

void lettering_measure(struct lettering_extents *extents, struct lettering *lettering,
                       const struct lettering_line *line);

struct lettering_ink {
    struct colour fill, rim;
    double rim_width; /* how far the rim reaches beyond the letters; 0: no rim */
};

/* Writes the line with its baseline beginning at (x, y); clears the current path. In a PDF the
 * letters stay text, which can be searched and copied; elsewhere they are outlines. */
void lettering_write(struct lettering *lettering, const struct lettering_line *line, double x,
                     double y, const struct lettering_ink *ink);

/* The same wrapped to a width where the script allows, the first baseline at y and the others each
 * leading below; returns how many lines there are, at least 1. */
int lettering_write_wrapped(struct lettering *lettering, const struct lettering_line *line,
                            double x, double y, double width, double leading,
                            const struct lettering_ink *ink);

/* ERROR_OUTPUT naming what for, if there was text to write but no font to write it in. */
int lettering_check(const struct lettering *lettering, const char *name, struct error *err);

#endif
