/* PDF 1.4 (ISO 32000-1): one page, letters in the two fonts that every reader has. */
#include "sheet.h"

#include <cairo-pdf.h>
#include <math.h>
#include <string.h>

static int alpha_number(cairo_surface_t *sheet, double alpha)
{
    int i = 0;
    while (i < sheet->alphas && fabs(sheet->alpha[i] - alpha) > 0.002) {
        i++;
    }
    if (i == sheet->alphas && sheet->alphas < SHEET_ALPHAS) {
        sheet->alpha[sheet->alphas++] = alpha;
    }
    return i < SHEET_ALPHAS ? i : SHEET_ALPHAS - 1;
}

static void put_colour(cairo_surface_t *sheet, const struct sheet_colour *colour, bool stroke)
{
    fprintf(sheet->body, "/A%d gs %.3f %.3f %.3f %s\n", alpha_number(sheet, colour->alpha),
            colour->red, colour->green, colour->blue, stroke ? "RG" : "rg");
}

static void put_steps(FILE *out, const struct sheet_path *path)
{
    for (int i = 0; i < path->count; i++) {
        const struct sheet_step *step = &path->step[i];
        const double *at = step->at;
        switch (step->kind) {
        case 'M':
            fprintf(out, "%.3f %.3f m\n", at[0], at[1]);
            break;
        case 'L':
            fprintf(out, "%.3f %.3f l\n", at[0], at[1]);
            break;
        case 'C':
            fprintf(out, "%.3f %.3f %.3f %.3f %.3f %.3f c\n", at[0], at[1], at[2], at[3], at[4],
                    at[5]);
            break;
        default:
            fputs("h\n", out);
        }
    }
}

static void put_path(cairo_surface_t *sheet, const struct sheet_path *path,
                     const struct sheet_style *style, bool stroke)
{
    put_colour(sheet, &style->colour, stroke);
    if (stroke) {
        fprintf(sheet->body, "%.3f w 1 j [", style->scale * style->width);
        for (int i = 0; i < style->dashes; i++) {
            fprintf(sheet->body, "%.3f ", style->scale * style->dash[i]);
        }
        fputs("] 0 d\n", sheet->body);
    }
    put_steps(sheet->body, path);
    fputs(stroke ? "S\n" : style->even_odd ? "f*\n" : "f\n", sheet->body);
}

static void clip(cairo_surface_t *sheet, const struct sheet_path *path)
{
    fputs("q\n", sheet->body);
    put_steps(sheet->body, path);
    fputs("W n\n", sheet->body);
}

static void unclip(cairo_surface_t *sheet)
{
    fputs("Q\n", sheet->body);
}

static void paint(cairo_surface_t *sheet, const struct sheet_colour *colour)
{
    put_colour(sheet, colour, false);
    fprintf(sheet->body, "0 0 %g %g re f\n", sheet->width, sheet->height);
}

/* Pictures are the page's business. */
static void picture(cairo_surface_t *sheet, const cairo_surface_t *image, double x, double y,
                    double scale)
{
    (void)sheet;
    (void)image;
    (void)x;
    (void)y;
    (void)scale;
}

/* Code of a letter in the fonts' WinAnsi encoding, '?' if it has none. */
static int win_ansi(unsigned long letter)
{
    static const struct {
        unsigned long letter;
        int code;
    } others[] = {{0x2013, 0x96}, {0x2014, 0x97}, {0x2018, 0x91}, {0x2019, 0x92}, {0x201c, 0x93},
                  {0x201d, 0x94}, {0x2022, 0x95}, {0x2026, 0x85}, {0x20ac, 0x80}, {0x2032, '\''},
                  {0x2033, '"'},  {0x2212, '-'},  {0x2192, '>'},  {0x2190, '<'},  {0x2264, '<'},
                  {0x2265, '>'},  {0x0160, 0x8a}, {0x0161, 0x9a}, {0x017d, 0x8e}, {0x017e, 0x9e},
                  {0x0152, 0x8c}, {0x0153, 0x9c}, {0x202f, ' '},  {0x2009, ' '}};
    if (letter < 0x7f || (letter > 0x9f && letter < 0x100)) {
        return (int)letter;
    }
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        if (others[i].letter == letter) {
            return others[i].code;
        }
    }
    return '?';
}

static void put_letters(FILE *out, const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    fputc('(', out);
    while (*at) {
        unsigned long letter = *at++;
        int more = letter < 0xc0 ? 0 : letter < 0xe0 ? 1 : letter < 0xf0 ? 2 : 3;
        letter &= more ? 0x3fUL >> more : 0xffUL;
        for (; more > 0 && *at; more--) {
            letter = letter << 6 | (*at++ & 0x3f);
        }
        int code = win_ansi(letter);
        if (code == '(' || code == ')' || code == '\\') {
            fputc('\\', out);
        }
        fputc(code, out);
    }
    fputs(") Tj", out);
}

static void put_text(cairo_surface_t *sheet, const struct sheet_text *text)
{
    for (int rim = text->rim_width > 0; rim >= 0; rim--) {
        put_colour(sheet, rim ? &text->rim : &text->fill, rim);
        fprintf(sheet->body,
                "BT /%s %.3f Tf %.3f Tc %d Tr %.3f w 1 j [] 0 d 1 0 0 -1 %.3f %.3f Tm ",
                text->strong ? "FB" : "FR", text->size, text->spacing, rim, 2 * text->rim_width,
                text->x, text->y);
        put_letters(sheet->body, text->text);
        fputs(" ET\n", sheet->body);
    }
}

/* Number of the object that begins here; its place goes into the table at the end. */
static void begin_object(FILE *out, long *place, int number)
{
    place[number] = ftell(out);
    fprintf(out, "%d 0 obj\n", number);
}

static void put_states(FILE *out, const cairo_surface_t *sheet)
{
    fputs("/ExtGState <<", out);
    for (int i = 0; i < sheet->alphas; i++) {
        fprintf(out, "/A%d <</ca %.3f /CA %.3f>> ", i, sheet->alpha[i], sheet->alpha[i]);
    }
    fputs(">>", out);
}

static void put_fonts(FILE *out)
{
    fputs("/Font <<", out);
    for (int strong = 0; strong < 2; strong++) {
        fprintf(out,
                "/%s <</Type /Font /Subtype /Type1 /BaseFont /Helvetica%s /Encoding "
                "/WinAnsiEncoding>> ",
                strong ? "FB" : "FR", strong ? "-Bold" : "");
    }
    fputs(">>", out);
}

static void finish(cairo_surface_t *sheet, FILE *out)
{
    enum { CATALOG = 1, PAGES, PAGE, CONTENT, INFO, OBJECTS };
    long place[OBJECTS] = {0};
    char turn[80];
    snprintf(turn, sizeof turn, "1 0 0 -1 0 %g cm\n", sheet->height);
    fputs("%PDF-1.4\n%\xe2\xe3\xcf\xd3\n", out);
    begin_object(out, place, CATALOG);
    fprintf(out, "<</Type /Catalog /Pages %d 0 R>>\nendobj\n", PAGES);
    begin_object(out, place, PAGES);
    fprintf(out, "<</Type /Pages /Count 1 /Kids [%d 0 R]>>\nendobj\n", PAGE);
    begin_object(out, place, PAGE);
    fprintf(out,
            "<</Type /Page /Parent %d 0 R /MediaBox [0 0 %g %g] /Contents %d 0 R /Resources <<",
            PAGES, sheet->width, sheet->height, CONTENT);
    put_fonts(out);
    put_states(out, sheet);
    fputs(">> >>\nendobj\n", out);
    begin_object(out, place, CONTENT);
    fprintf(out, "<</Length %zu>>\nstream\n%s", strlen(turn) + sheet->size, turn);
    fwrite(sheet->bytes, 1, sheet->size, out);
    fputs("\nendstream\nendobj\n", out);
    begin_object(out, place, INFO);
    fputs("<</Title ", out);
    put_letters(out, sheet->title);
    fseek(out, -3, SEEK_CUR); /* the operator belongs to a page's text alone */
    fputs(">>\nendobj\n", out);
    long table = ftell(out);
    fprintf(out, "xref\n0 %d\n0000000000 65535 f \n", OBJECTS);
    for (int i = CATALOG; i < OBJECTS; i++) {
        fprintf(out, "%010ld 00000 n \n", place[i]);
    }
    fprintf(out, "trailer\n<</Size %d /Root %d 0 R /Info %d 0 R>>\nstartxref\n%ld\n%%%%EOF\n",
            OBJECTS, CATALOG, INFO, table);
}

static const struct sheet_kind pdf = {
    CAIRO_SURFACE_TYPE_PDF, put_path, clip, unclip, paint, picture, put_text, finish};

cairo_surface_t *cairo_pdf_surface_create_for_stream(cairo_write_func_t write, void *context,
                                                     double width, double height)
{
    return sheet_open(&pdf, write, context, width, height);
}

void cairo_pdf_surface_set_metadata(cairo_surface_t *surface, cairo_pdf_metadata_t kind,
                                    const char *text)
{
    if (kind == CAIRO_PDF_METADATA_TITLE) {
        snprintf(surface->title, sizeof surface->title, "%s", text);
    }
}
