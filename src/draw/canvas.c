#include "draw/canvas.h"

#include <math.h>
#include <string.h>

/* Letters take the same room on every kind of surface, so that names stand in the same places. */
static void use_plain_letters(cairo_t *cairo)
{
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(cairo, options);
    cairo_font_options_destroy(options);
}

int canvas_open_on(struct canvas *canvas, cairo_surface_t *surface, int width, int height,
                   const struct theme *theme, struct error *err)
{
    *canvas = (struct canvas){
        .surface = surface,
        .cairo = cairo_create(surface),
        .theme = theme,
        .width = width,
        .height = height,
        .unit = sqrt((double)width * height) / 1000,
    };
    if (cairo_status(canvas->cairo) != CAIRO_STATUS_SUCCESS) {
        canvas_free(canvas);
        return error_memory(err);
    }
    cairo_translate(canvas->cairo, 0.5, 0.5);
    cairo_set_line_join(canvas->cairo, CAIRO_LINE_JOIN_ROUND);
    use_plain_letters(canvas->cairo);
    return 0;
}

int canvas_open(struct canvas *canvas, int width, int height, const struct theme *theme,
                struct error *err)
{
    memset(canvas, 0, sizeof *canvas);
    if (width > CANVAS_LARGEST_SIDE || height > CANVAS_LARGEST_SIDE) {
        return error_set(err, ERROR_INPUT,
                         "a picture of %d x %d px is too large to draw on: at most %d px a side",
                         width, height, CANVAS_LARGEST_SIDE);
    }
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width, height);
    return canvas_open_on(canvas, surface, width, height, theme, err);
}

void canvas_scale(struct canvas *canvas, double units)
{
    canvas->scaled = true;
    cairo_identity_matrix(canvas->cairo);
    cairo_scale(canvas->cairo, units, units);
    cairo_translate(canvas->cairo, 0.5, 0.5);
}

void canvas_free(struct canvas *canvas)
{
    if (canvas->cairo) {
        cairo_destroy(canvas->cairo);
    }
    if (canvas->surface) {
        cairo_surface_destroy(canvas->surface);
    }
    memset(canvas, 0, sizeof *canvas);
}

const uint32_t *canvas_row(struct canvas *canvas, int y)
{
    if (cairo_surface_get_type(canvas->surface) != CAIRO_SURFACE_TYPE_IMAGE) {
        return NULL;
    }
    cairo_surface_flush(canvas->surface);
    const unsigned char *data = cairo_image_surface_get_data(canvas->surface);
    size_t stride = (size_t)cairo_image_surface_get_stride(canvas->surface);
    return (const uint32_t *)(const void *)(data + (size_t)y * stride);
}

int canvas_check(const struct canvas *canvas, const char *name, struct error *err)
{
    cairo_status_t status = cairo_status(canvas->cairo);
    if (status == CAIRO_STATUS_NO_MEMORY) {
        return error_memory(err);
    }
    if (status != CAIRO_STATUS_SUCCESS) {
        return error_set(err, ERROR_INPUT, "%s: cannot be drawn: %s", name,
                         cairo_status_to_string(status));
    }
    return 0;
}

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

void canvas_stroke(struct canvas *canvas, enum ink ink, double width)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->rim, width + 2 * STYLE_RIM);
        stroke_with(canvas, &canvas->theme->ink[ink], width);
    }
    cairo_new_path(canvas->cairo);
}

void canvas_stroke_faint(struct canvas *canvas, enum ink ink, double width)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->ink[ink], width);
    }
    cairo_new_path(canvas->cairo);
}

void canvas_fill(struct canvas *canvas, enum ink ink)
{
    if (!canvas->quiet) {
        stroke_with(canvas, &canvas->theme->rim, 2 * STYLE_RIM);
    }
    canvas_fill_faint(canvas, ink);
}

void canvas_fill_faint(struct canvas *canvas, enum ink ink)
{
    if (!canvas->quiet) {
        set_colour(canvas, &canvas->theme->ink[ink]);
        cairo_fill_preserve(canvas->cairo);
    }
    cairo_new_path(canvas->cairo);
}

void canvas_dash(struct canvas *canvas, double stroke, double gap)
{
    double dash[2] = {stroke * canvas->unit, gap * canvas->unit};
    cairo_set_dash(canvas->cairo, dash, stroke > 0 ? 2 : 0, 0);
}

static void choose_font(struct canvas *canvas, const struct canvas_text *text)
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
static double spread_letters(struct canvas *canvas, const struct canvas_text *text, double x,
                             double y, bool add)
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

void canvas_measure(struct canvas *canvas, const struct canvas_text *text, double *width,
                    double *height)
{
    cairo_text_extents_t line = {0};
    cairo_font_extents_t font = {0};
    choose_font(canvas, text);
    cairo_text_extents(canvas->cairo, text->text, &line);
    cairo_font_extents(canvas->cairo, &font);
    *width = text->spacing > 0 ? spread_letters(canvas, text, 0, 0, false) : line.x_advance;
    *height = font.ascent + font.descent;
}

void canvas_write(struct canvas *canvas, const struct canvas_text *text, double x, double y,
                  enum ink ink)
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
