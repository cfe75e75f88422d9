/* draw/chart.h: a chart of the sky: stars as discs, and what overlay.h draws. */
#ifndef ALIDADE_DRAW_CHART_H
#define ALIDADE_DRAW_CHART_H

#include "draw/canvas.h"
#include "draw/overlay.h"
#include "match/index.h"
#include "sky/wcs.h"

/* A gnomonic view centred on an ICRS direction, north up, east to the left; field_deg is its width
 * through the middle, below 150. */
void chart_make_wcs(struct wcs *wcs, double ra_deg, double dec_deg, double field_deg, int width,
                    int height);

/* Fills the ground and draws the brightest stars of the index, the brighter the larger, and the
 * overlay, whose WCS has the canvas's size. ERROR_MEMORY only. */
int chart_draw(struct overlay_report *report, struct canvas *canvas, const struct index *index,
               const struct overlay_request *request, struct error *err);

#endif
