/* web/stand-ins/cairo-pdf.h: as cairo.h. */
#ifndef ALIDADE_WEB_STAND_INS_CAIRO_PDF_H
#define ALIDADE_WEB_STAND_INS_CAIRO_PDF_H

#include <cairo.h>

typedef enum { CAIRO_PDF_METADATA_TITLE, CAIRO_PDF_METADATA_CREATE_DATE } cairo_pdf_metadata_t;

cairo_surface_t *cairo_pdf_surface_create_for_stream(cairo_write_func_t write, void *context,
                                                     double width, double height);
/* The title is kept; the date is not. */
void cairo_pdf_surface_set_metadata(cairo_surface_t *surface, cairo_pdf_metadata_t kind,
                                    const char *text);

#endif
