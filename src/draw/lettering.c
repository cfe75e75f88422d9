#include "draw/lettering.h"

#include "draw/style.h"

#include <pango/pangocairo.h>
#include <string.h>

/* Nothing is rounded to pixels, and cairo's scale does not matter, so that names stand in the same
 * places at any size and on any surface; letters have no coloured edges, which a drawing in red
 * must not have. */
static void use_plain_letters(PangoContext *context)
{
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(context, options);
    cairo_font_options_destroy(options);
    pango_context_set_round_glyph_positions(context, FALSE);
}

static bool has_font(PangoContext *context)
{
    PangoFontDescription *any = pango_font_description_from_string(STYLE_FONT);
    PangoFont *font = pango_context_load_font(context, any);
    pango_font_description_free(any);
    if (font) {
        g_object_unref(font);
    }
    return font != NULL;
}

/* The map of fonts is the drawing's own: Pango's common one belongs to a thread and is never freed.
 * The language, which chooses between forms of a letter, must not depend on the locale. */
static void open_fonts(struct lettering *lettering)
{
    PangoFontMap *map = pango_cairo_font_map_new();
    PangoContext *context = pango_font_map_create_context(map);
    pango_context_set_language(context, pango_language_from_string("en"));
    use_plain_letters(context);
    lettering->fontless = !has_font(context);
    lettering->layout = pango_layout_new(context);
    pango_layout_set_single_paragraph_mode(lettering->layout, TRUE);
    g_object_unref(context);
    g_object_unref(map);
}

void lettering_free(struct lettering *lettering)
{
    if (lettering->layout) {
        g_object_unref(lettering->layout);
    }
    *lettering = (struct lettering){0};
}

static void choose_font(PangoLayout *layout, const struct lettering_line *line)
{
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, STYLE_FONT);
    pango_font_description_set_weight(font, line->strong ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font, line->size * PANGO_SCALE);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
}

static void space_letters(PangoLayout *layout, double spacing)
{
    PangoAttrList *list = NULL;
    if (spacing > 0) {
        list = pango_attr_list_new();
        pango_attr_list_insert(list, pango_attr_letter_spacing_new((int)(spacing * PANGO_SCALE)));
    }
    pango_layout_set_attributes(layout, list);
    if (list) {
        pango_attr_list_unref(list);
    }
}

/* A copy without what would break the line or be drawn as its number. */
static char *clean_copy(const char *text)
{
    char *valid = g_utf8_make_valid(text, -1);
    GString *clean = g_string_sized_new(strlen(valid));
    for (const char *at = valid; *at; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        GUnicodeType type = g_unichar_type(letter);
        bool control = type == G_UNICODE_CONTROL || type == G_UNICODE_LINE_SEPARATOR ||
                       type == G_UNICODE_PARAGRAPH_SEPARATOR;
        g_string_append_unichar(clean, control ? ' ' : letter);
    }
    g_free(valid);
    return g_string_free(clean, FALSE);
}

/* Wraps to a width, if that is not negative. */
static PangoLayout *lay_out(struct lettering *lettering, const struct lettering_line *line,
                            double width)
{
    if (!lettering->layout) {
        open_fonts(lettering);
    }
    PangoLayout *layout = lettering->layout;
    char *text = clean_copy(line->text);
    choose_font(layout, line);
    space_letters(layout, line->spacing);
    pango_layout_set_width(layout, width < 0 ? -1 : (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(layout, text, -1);
    g_free(text);
    return layout;
}

void lettering_measure(struct lettering_extents *extents, struct lettering *lettering,
                       const struct lettering_line *line)
{
    PangoLayout *layout = lay_out(lettering, line, -1);
    PangoRectangle ink, logical;
    pango_layout_line_get_extents(pango_layout_get_line_readonly(layout, 0), &ink, &logical);
    *extents = (struct lettering_extents){
        .width = logical.width / (double)PANGO_SCALE,
        .ascent = PANGO_ASCENT(logical) / (double)PANGO_SCALE,
        .descent = PANGO_DESCENT(logical) / (double)PANGO_SCALE,
        .ink_x = ink.x / (double)PANGO_SCALE,
        .ink_y = ink.y / (double)PANGO_SCALE,
        .ink_width = ink.width / (double)PANGO_SCALE,
        .ink_height = ink.height / (double)PANGO_SCALE,
        .missing = pango_layout_get_unknown_glyphs_count(layout),
    };
}

static void set_colour(cairo_t *cairo, const struct colour *colour)
{
    cairo_set_source_rgba(cairo, colour->red, colour->green, colour->blue, colour->alpha);
}

/* On pixels outlines stand where they should, while glyphs would be moved to whole pixels. */
static void write_line(cairo_t *cairo, PangoLayoutLine *line, double x, double y,
                       const struct lettering_ink *ink)
{
    bool text = cairo_surface_get_type(cairo_get_target(cairo)) == CAIRO_SURFACE_TYPE_PDF;
    cairo_new_path(cairo);
    if (ink->rim_width > 0 || !text) {
        cairo_move_to(cairo, x, y);
        pango_cairo_layout_line_path(cairo, line);
    }
    if (ink->rim_width > 0) {
        cairo_set_line_width(cairo, 2 * ink->rim_width);
        set_colour(cairo, &ink->rim);
        cairo_stroke_preserve(cairo);
    }
    set_colour(cairo, &ink->fill);
    if (text) {
        cairo_move_to(cairo, x, y);
        pango_cairo_show_layout_line(cairo, line);
    } else {
        cairo_fill_preserve(cairo);
    }
    cairo_new_path(cairo);
}

void lettering_write(struct lettering *lettering, const struct lettering_line *line, double x,
                     double y, const struct lettering_ink *ink)
{
    PangoLayout *layout = lay_out(lettering, line, -1);
    write_line(lettering->cairo, pango_layout_get_line_readonly(layout, 0), x, y, ink);
}

int lettering_write_wrapped(struct lettering *lettering, const struct lettering_line *line,
                            double x, double y, double width, double leading,
                            const struct lettering_ink *ink)
{
    PangoLayout *layout = lay_out(lettering, line, width);
    int lines = pango_layout_get_line_count(layout);
    for (int i = 0; i < lines; i++) {
        write_line(lettering->cairo, pango_layout_get_line_readonly(layout, i), x, y + i * leading,
                   ink);
    }
    return lines;
}

int lettering_check(const struct lettering *lettering, const char *name, struct error *err)
{
    return lettering->fontless ? error_set(err, ERROR_OUTPUT,
                                           "%s: cannot be drawn, since there is no font on this "
                                           "system; expected " STYLE_FONT " or another",
                                           name)
                               : 0;
}
