/* web/stand-ins/cairo.h: as much of cairo's interface as src/draw uses, for a page, where cairo
 * with its libraries would weigh more than all the rest. It draws on SVG and PDF alone: lines,
 * areas, letters and pictures that are files already; a sheet of pixels is the browser's own
 * business, and asking for one gives CAIRO_STATUS_INVALID_FORMAT. The functions do what cairo's
 * manual says. */
#ifndef ALIDADE_WEB_STAND_INS_CAIRO_H
#define ALIDADE_WEB_STAND_INS_CAIRO_H

typedef struct sheet cairo_surface_t;
typedef struct sheet_pen cairo_t;
typedef enum {
    CAIRO_STATUS_SUCCESS,
    CAIRO_STATUS_NO_MEMORY,
    CAIRO_STATUS_WRITE_ERROR = 11,
    CAIRO_STATUS_INVALID_FORMAT = 16
} cairo_status_t;
typedef enum {
    CAIRO_SURFACE_TYPE_IMAGE,
    CAIRO_SURFACE_TYPE_PDF,
    CAIRO_SURFACE_TYPE_SVG = 4
} cairo_surface_type_t;
typedef enum { CAIRO_FORMAT_ARGB32, CAIRO_FORMAT_RGB24 } cairo_format_t;
typedef enum { CAIRO_LINE_JOIN_MITER, CAIRO_LINE_JOIN_ROUND } cairo_line_join_t;
typedef enum { CAIRO_FILL_RULE_WINDING, CAIRO_FILL_RULE_EVEN_ODD } cairo_fill_rule_t;
typedef cairo_status_t (*cairo_write_func_t)(void *context, const unsigned char *bytes,
                                             unsigned int length);
typedef void (*cairo_destroy_func_t)(void *data);

#define CAIRO_MIME_TYPE_JPEG "image/jpeg"
#define CAIRO_MIME_TYPE_PNG "image/png"

cairo_t *cairo_create(cairo_surface_t *surface);
void cairo_destroy(cairo_t *pen);
cairo_status_t cairo_status(cairo_t *pen);
const char *cairo_status_to_string(cairo_status_t status);
cairo_surface_t *cairo_get_target(cairo_t *pen);

void cairo_save(cairo_t *pen);
void cairo_restore(cairo_t *pen);
void cairo_identity_matrix(cairo_t *pen);
void cairo_translate(cairo_t *pen, double x, double y);
void cairo_scale(cairo_t *pen, double x, double y); /* the same both ways */

void cairo_set_source_rgb(cairo_t *pen, double red, double green, double blue);
void cairo_set_source_rgba(cairo_t *pen, double red, double green, double blue, double alpha);
void cairo_set_source_surface(cairo_t *pen, cairo_surface_t *surface, double x, double y);
void cairo_set_line_width(cairo_t *pen, double width);
void cairo_set_line_join(cairo_t *pen, cairo_line_join_t join);
void cairo_set_fill_rule(cairo_t *pen, cairo_fill_rule_t rule);
void cairo_set_dash(cairo_t *pen, const double *dash, int count, double offset);

void cairo_new_path(cairo_t *pen);
void cairo_new_sub_path(cairo_t *pen);
void cairo_move_to(cairo_t *pen, double x, double y);
void cairo_line_to(cairo_t *pen, double x, double y);
void cairo_curve_to(cairo_t *pen, double x1, double y1, double x2, double y2, double x3, double y3);
void cairo_arc(cairo_t *pen, double x, double y, double radius, double from, double to);
void cairo_rectangle(cairo_t *pen, double x, double y, double width, double height);
void cairo_close_path(cairo_t *pen);

void cairo_stroke(cairo_t *pen);
void cairo_stroke_preserve(cairo_t *pen);
void cairo_fill(cairo_t *pen);
void cairo_fill_preserve(cairo_t *pen);
void cairo_paint(cairo_t *pen);
void cairo_clip(cairo_t *pen);
void cairo_show_page(cairo_t *pen);

cairo_surface_t *cairo_image_surface_create(cairo_format_t format, int width, int height);
unsigned char *cairo_image_surface_get_data(cairo_surface_t *surface);
int cairo_image_surface_get_stride(cairo_surface_t *surface);
cairo_surface_type_t cairo_surface_get_type(cairo_surface_t *surface);
cairo_status_t cairo_surface_status(cairo_surface_t *surface);
cairo_status_t cairo_surface_set_mime_data(cairo_surface_t *surface, const char *type,
                                           const unsigned char *bytes, unsigned long length,
                                           cairo_destroy_func_t destroy, void *closure);
cairo_status_t cairo_surface_write_to_png_stream(cairo_surface_t *surface, cairo_write_func_t write,
                                                 void *context);
void cairo_surface_flush(cairo_surface_t *surface);
void cairo_surface_mark_dirty(cairo_surface_t *surface);
void cairo_surface_finish(cairo_surface_t *surface);
void cairo_surface_destroy(cairo_surface_t *surface);

#endif
