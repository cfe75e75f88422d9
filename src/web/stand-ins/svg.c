#include "sheet.h"

#include <cairo-svg.h>
#include <math.h>
#include <string.h>

static void put_colour(FILE *out, const char *what, const struct sheet_colour *colour)
{
    fprintf(out, " %s=\"#%02x%02x%02x\"", what, (int)lround(255 * colour->red),
            (int)lround(255 * colour->green), (int)lround(255 * colour->blue));
    if (colour->alpha < 1) {
        fprintf(out, " %s-opacity=\"%.3g\"", what, colour->alpha);
    }
}

static void put_steps(FILE *out, const struct sheet_path *path)
{
    fputs(" d=\"", out);
    for (int i = 0; i < path->count; i++) {
        const struct sheet_step *step = &path->step[i];
        int numbers = step->kind == 'Z' ? 0 : step->kind == 'C' ? 6 : 2;
        fputc(step->kind, out);
        for (int k = 0; k < numbers; k++) {
            fprintf(out, "%s%.2f", k ? " " : "", step->at[k]);
        }
    }
    fputc('"', out);
}

static void put_path(cairo_surface_t *sheet, const struct sheet_path *path,
                     const struct sheet_style *style, bool stroke)
{
    fputs("<path", sheet->body);
    put_steps(sheet->body, path);
    if (!stroke) {
        put_colour(sheet->body, "fill", &style->colour);
        fputs(style->even_odd ? " fill-rule=\"evenodd\"/>\n" : "/>\n", sheet->body);
        return;
    }
    put_colour(sheet->body, "stroke", &style->colour);
    fprintf(sheet->body, " fill=\"none\" stroke-linejoin=\"round\" stroke-width=\"%.3f\"",
            style->scale * style->width);
    for (int i = 0; i < style->dashes; i++) {
        fprintf(sheet->body, "%s%.2f", i ? " " : " stroke-dasharray=\"",
                style->scale * style->dash[i]);
    }
    fputs(style->dashes ? "\"/>\n" : "/>\n", sheet->body);
}

static void clip(cairo_surface_t *sheet, const struct sheet_path *path)
{
    int number = sheet->clips++;
    fprintf(sheet->body, "<clipPath id=\"clip%d\"><path", number);
    put_steps(sheet->body, path);
    fprintf(sheet->body, "/></clipPath><g clip-path=\"url(#clip%d)\">\n", number);
}

static void unclip(cairo_surface_t *sheet)
{
    fputs("</g>\n", sheet->body);
}

static void paint(cairo_surface_t *sheet, const struct sheet_colour *colour)
{
    fprintf(sheet->body, "<rect width=\"%g\" height=\"%g\"", sheet->width, sheet->height);
    put_colour(sheet->body, "fill", colour);
    fputs("/>\n", sheet->body);
}

static void put_base64(FILE *out, const unsigned char *bytes, unsigned long length)
{
    static const char letter[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (unsigned long i = 0; i < length; i += 3) {
        unsigned long left = length - i;
        unsigned long three = (unsigned long)bytes[i] << 16 |
                              (left > 1 ? (unsigned long)bytes[i + 1] << 8 : 0) |
                              (left > 2 ? bytes[i + 2] : 0);
        fputc(letter[three >> 18], out);
        fputc(letter[three >> 12 & 63], out);
        fputc(left > 1 ? letter[three >> 6 & 63] : '=', out);
        fputc(left > 2 ? letter[three & 63] : '=', out);
    }
}

static void picture(cairo_surface_t *sheet, const cairo_surface_t *image, double x, double y,
                    double scale)
{
    if (image->mime) {
        fprintf(sheet->body,
                "<image x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" href=\"data:%s;base64,", x, y,
                scale * image->width, scale * image->height, image->mime);
        put_base64(sheet->body, image->mime_bytes, image->mime_length);
        fputs("\"/>\n", sheet->body);
    }
}

static void put_escaped(FILE *out, const char *text)
{
    for (; *text; text++) {
        switch (*text) {
        case '<':
            fputs("&lt;", out);
            break;
        case '>':
            fputs("&gt;", out);
            break;
        case '&':
            fputs("&amp;", out);
            break;
        case '"':
            fputs("&quot;", out);
            break;
        default:
            fputc(*text, out);
        }
    }
}

static void put_text(cairo_surface_t *sheet, const struct sheet_text *text)
{
    fprintf(sheet->body, "<text x=\"%.2f\" y=\"%.2f\" font-size=\"%.2f\"", text->x, text->y,
            text->size);
    if (text->strong) {
        fputs(" font-weight=\"bold\"", sheet->body);
    }
    if (text->spacing > 0) {
        fprintf(sheet->body, " letter-spacing=\"%.2f\"", text->spacing);
    }
    put_colour(sheet->body, "fill", &text->fill);
    if (text->rim_width > 0) {
        put_colour(sheet->body, "stroke", &text->rim);
        fprintf(sheet->body,
                " stroke-width=\"%.2f\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
                2 * text->rim_width);
    }
    fputc('>', sheet->body);
    put_escaped(sheet->body, text->text);
    fputs("</text>\n", sheet->body);
}

static void finish(cairo_surface_t *sheet, FILE *out)
{
    fprintf(out,
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
            "width=\"%g\" height=\"%g\" viewBox=\"0 0 %g %g\" font-family=\"DejaVu Sans, Verdana, "
            "Roboto, sans-serif\" xml:space=\"preserve\">\n",
            sheet->width, sheet->height, sheet->width, sheet->height);
    fwrite(sheet->bytes, 1, sheet->size, out);
    fputs("</svg>\n", out);
}

static const struct sheet_kind svg = {
    CAIRO_SURFACE_TYPE_SVG, put_path, clip, unclip, paint, picture, put_text, finish};

cairo_surface_t *cairo_svg_surface_create_for_stream(cairo_write_func_t write, void *context,
                                                     double width, double height)
{
    return sheet_open(&svg, write, context, width, height);
}

void cairo_svg_surface_set_document_unit(cairo_surface_t *surface, cairo_svg_unit_t unit)
{
    (void)surface;
    (void)unit;
}
