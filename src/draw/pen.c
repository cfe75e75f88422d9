#include "draw/pen.h"

#include <math.h>

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

static struct lettering_line line_of(const struct canvas *canvas, const struct pen_text *text)
{
    return (struct lettering_line){.text = text->text,
                                   .size = fmax(STYLE_LEAST_TEXT_PX, text->size * canvas->unit),
                                   .strong = text->strong,
                                   .spacing = text->spacing * canvas->unit};
}

void pen_measure(struct canvas *canvas, const struct pen_text *text, double *width, double *height)
{
    struct lettering_extents extents;
    const struct lettering_line line = line_of(canvas, text);
    lettering_measure(&extents, &canvas->lettering, &line);
    *width = extents.width;
    *height = extents.ascent + extents.descent;
}

void pen_write(struct canvas *canvas, const struct pen_text *text, double x, double y, enum ink ink)
{
    struct lettering_extents extents;
    const struct lettering_line line = line_of(canvas, text);
    struct lettering_ink colours = {canvas->theme->ink[ink], canvas->theme->text_rim,
                                    STYLE_TEXT_RIM * canvas->unit};
    if (canvas->quiet) {
        return;
    }
    colours.fill.alpha = (1 + colours.fill.alpha) / 2; /* letters of faint lines must be legible */
    lettering_measure(&extents, &canvas->lettering, &line);
    lettering_write(&canvas->lettering, &line, x, y + extents.ascent, &colours);
}
