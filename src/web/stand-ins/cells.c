/* A sheet of pixels, coarse: which cells the lines and areas touch, which is all that a drawing
 * asks before it is made. */
#include "sheet.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_CELLS = 1 << 20, CURVE_PIECES = 12 };

static void mark(cairo_surface_t *sheet, double x, double y, double alpha)
{
    if (x >= 0 && y >= 0 && x < sheet->width && y < sheet->height) {
        uint32_t *cell =
            (uint32_t *)(void *)sheet->pixels + (size_t)y * (size_t)sheet->width + (size_t)x;
        uint32_t level = (uint32_t)lround(255 * alpha);
        *cell = level > *cell >> 24 ? level << 24 : *cell;
    }
}

/* What is done with each straight piece of a path. */
typedef void piece_work(cairo_surface_t *sheet, const double a[2], const double b[2],
                        void *context);

static void along_curve(double to[2], const double a[2], const double *c, double t)
{
    for (int i = 0; i < 2; i++) {
        double s = 1 - t;
        to[i] = s * s * s * a[i] + 3 * s * s * t * c[i] + 3 * s * t * t * c[2 + i] +
                t * t * t * c[4 + i];
    }
}

static void each_piece(cairo_surface_t *sheet, const struct sheet_path *path, piece_work *work,
                       void *context)
{
    double start[2] = {0}, at[2] = {0};
    for (int i = 0; i < path->count; i++) {
        const struct sheet_step *step = &path->step[i];
        const double from[2] = {at[0], at[1]};
        double to[2] = {step->at[0], step->at[1]};
        switch (step->kind) {
        case 'M':
            memcpy(start, to, sizeof start);
            break;
        case 'Z':
            memcpy(to, start, sizeof to); /* fall through */
        case 'L':
            work(sheet, from, to, context);
            break;
        default:
            for (int k = 1; k <= CURVE_PIECES; k++) {
                along_curve(to, from, step->at, k / (double)CURVE_PIECES);
                work(sheet, at, to, context);
                memcpy(at, to, sizeof at);
            }
        }
        memcpy(at, to, sizeof at);
    }
}

static void mark_line(cairo_surface_t *sheet, const double a[2], const double b[2], void *context)
{
    double length = fmin(hypot(b[0] - a[0], b[1] - a[1]), 4 * (sheet->width + sheet->height));
    int steps = (int)(2 * length) + 1;
    for (int i = 0; i <= steps; i++) {
        double t = i / (double)steps;
        mark(sheet, a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), *(const double *)context);
    }
}

/* Where a row crosses the rim of an area. */
struct crossings {
    double y, x[256];
    int count;
};

static void cross(cairo_surface_t *sheet, const double a[2], const double b[2], void *context)
{
    struct crossings *row = context;
    (void)sheet;
    if ((a[1] <= row->y) != (b[1] <= row->y) && row->count < 256) {
        row->x[row->count++] = a[0] + (row->y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
    }
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void mark_area(cairo_surface_t *sheet, const struct sheet_path *path, double alpha)
{
    for (int y = 0; y < sheet->height; y++) {
        struct crossings row = {.y = y + 0.5};
        each_piece(sheet, path, cross, &row);
        qsort(row.x, (size_t)row.count, sizeof *row.x, by_size);
        for (int i = 0; i + 1 < row.count; i += 2) {
            double end = fmin(row.x[i + 1], sheet->width);
            for (double x = fmax(0, floor(row.x[i])); x < end; x++) {
                mark(sheet, x, y, alpha);
            }
        }
    }
}

static void put_path(cairo_surface_t *sheet, const struct sheet_path *path,
                     const struct sheet_style *style, bool stroke)
{
    double alpha = style->colour.alpha;
    if (stroke) {
        each_piece(sheet, path, mark_line, &alpha);
    } else {
        mark_area(sheet, path, alpha);
    }
}

static void ignore_clip(cairo_surface_t *sheet, const struct sheet_path *path)
{
    (void)sheet;
    (void)path;
}

static void ignore(cairo_surface_t *sheet)
{
    (void)sheet;
}

static void ignore_colour(cairo_surface_t *sheet, const struct sheet_colour *colour)
{
    (void)sheet;
    (void)colour;
}

static void ignore_picture(cairo_surface_t *sheet, const cairo_surface_t *picture, double x,
                           double y, double scale)
{
    (void)sheet;
    (void)picture;
    (void)x;
    (void)y;
    (void)scale;
}

static void ignore_text(cairo_surface_t *sheet, const struct sheet_text *text)
{
    (void)sheet;
    (void)text;
}

static void finish(cairo_surface_t *sheet, FILE *out)
{
    (void)sheet;
    (void)out;
}

static const struct sheet_kind cells = {
    CAIRO_SURFACE_TYPE_IMAGE, put_path,    ignore_clip, ignore, ignore_colour,
    ignore_picture,           ignore_text, finish};

cairo_surface_t *cairo_image_surface_create(cairo_format_t format, int width, int height)
{
    bool small = (long long)width * height <= MOST_CELLS;
    cairo_surface_t *sheet = sheet_open(small ? &cells : NULL, NULL, NULL, width, height);
    (void)format;
    if (small && sheet->status == CAIRO_STATUS_SUCCESS) {
        sheet->pixels = calloc((size_t)width * (size_t)height, 4);
        sheet->status = sheet->pixels ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_NO_MEMORY;
    }
    return sheet;
}

unsigned char *cairo_image_surface_get_data(cairo_surface_t *surface)
{
    return surface->pixels;
}

int cairo_image_surface_get_stride(cairo_surface_t *surface)
{
    return 4 * (int)surface->width;
}
