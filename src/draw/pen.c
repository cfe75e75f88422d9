#include "draw/pen.h"

#include <math.h>
#include <string.h>

static void set_colour(struct canvas *canvas, const struct colour *colour)
{
    cairo_set_source_rgba(canvas->cairo, colour->red, colour->green, colour->blue, colour->alpha);
}

static void stroke_with(struct canvas *canvas, const struct colour *colour, double width)
{
    double least = canvas->scaled ? 0 : STYLE_LEAST_LINE_PX;
    cairo_set_line_width(canvas->cairo, fmax(least, width * canvas->unit));
    set_colour(canvas, colour);
    cairo_stroke_preserve(canvas->cairo);
}

void pen_stroke(struct canvas *canvas, enum ink ink, double width)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->rim, width + 2 * STYLE_RIM);
        stroke_with(canvas, &canvas->theme->ink[ink], width);
    }
    cairo_new_path(canvas->cairo);
}

void pen_stroke_faint(struct canvas *canvas, enum ink ink, double width)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->ink[ink], width);
    }
    cairo_new_path(canvas->cairo);
}

void pen_fill(struct canvas *canvas, enum ink ink)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->rim, 2 * STYLE_RIM);
    }
    pen_fill_faint(canvas, ink);
}

void pen_fill_faint(struct canvas *canvas, enum ink ink)
{
    if (!canvas->quiet) {
        set_colour(canvas, &canvas->theme->ink[ink]);
        cairo_fill_preserve(canvas->cairo);
    }
    cairo_new_path(canvas->cairo);
}

void pen_dash(struct canvas *canvas, double stroke, double gap)
{
    double dash[2] = {stroke * canvas->unit, gap * canvas->unit};
    cairo_set_dash(canvas->cairo, dash, stroke > 0 ? 2 : 0, 0);
}

static void choose_font(struct canvas *canvas, const struct pen_text *text)
{
    cairo_select_font_face(canvas->cairo, "sans", CAIRO_FONT_SLANT_NORMAL,
                           text->strong ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(canvas->cairo, fmax(STYLE_LEAST_TEXT_PX, text->size * canvas->unit));
}

/* Bytes of the UTF-8 character at text, at least 1 unless it is the end. */
static size_t character_bytes(const char *text)
{
    size_t bytes = *text != '\0';
    while (bytes && ((unsigned char)text[bytes] & 0xc0) == 0x80) {
        bytes++;
    }
    return bytes;
}

/* Adds the letters to the path one by one, or only counts how far they reach. */
static double spread_letters(struct canvas *canvas, const struct pen_text *text, double x, double y,
                             bool add)
{
    const char *next = text->text;
    for (size_t bytes; (bytes = character_bytes(next)) > 0; next += bytes) {
        char letter[8] = "";
        cairo_text_extents_t extents = {0};
        memcpy(letter, next, bytes < sizeof letter ? bytes : 0);
        cairo_text_extents(canvas->cairo, letter, &extents);
        if (add) {
            cairo_move_to(canvas->cairo, x, y);
            cairo_text_path(canvas->cairo, letter);
        }
        x += extents.x_advance + text->spacing * canvas->unit;
    }
    return x;
}

void pen_measure(struct canvas *canvas, const struct pen_text *text, double *width, double *height)
{
    cairo_text_extents_t line = {0};
    cairo_font_extents_t font = {0};
    choose_font(canvas, text);
    cairo_text_extents(canvas->cairo, text->text, &line);
    cairo_font_extents(canvas->cairo, &font);
    *width = text->spacing > 0 ? spread_letters(canvas, text, 0, 0, false) : line.x_advance;
    *height = font.ascent + font.descent;
}

void pen_write(struct canvas *canvas, const struct pen_text *text, double x, double y, enum ink ink)
{
    cairo_font_extents_t font = {0};
    if (canvas->quiet) {
        return;
    }
    choose_font(canvas, text);
    cairo_font_extents(canvas->cairo, &font);
    cairo_new_path(canvas->cairo);
    if (text->spacing > 0) {
        spread_letters(canvas, text, x, y + font.ascent, true);
    } else {
        cairo_move_to(canvas->cairo, x, y + font.ascent);
        cairo_text_path(canvas->cairo, text->text);
    }
    struct colour colour = canvas->theme->ink[ink];
    colour.alpha = (1 + colour.alpha) / 2; /* letters of faint lines must be legible */
    stroke_with(canvas, &canvas->theme->text_rim, 2 * STYLE_TEXT_RIM);
    set_colour(canvas, &colour);
    cairo_fill(canvas->cairo);
}
