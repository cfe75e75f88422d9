/* web/stand-ins/cairo-svg.h: as cairo.h. */
#ifndef ALIDADE_WEB_STAND_INS_CAIRO_SVG_H
#define ALIDADE_WEB_STAND_INS_CAIRO_SVG_H

#include <cairo.h>

typedef enum { CAIRO_SVG_UNIT_PX } cairo_svg_unit_t;

cairo_surface_t *cairo_svg_surface_create_for_stream(cairo_write_func_t write, void *context,
                                                     double width, double height);
void cairo_svg_surface_set_document_unit(cairo_surface_t *surface, cairo_svg_unit_t unit);

#endif
