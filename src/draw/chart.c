#include "draw/chart.h"

#include "base/units.h"
#include "sky/vector.h"

#include <math.h>
#include <string.h>

/* So many stars fill a chart without crowding it. */
enum { CHART_STARS = 900 };

/* Radius of the faintest disc, more for each magnitude that a star is brighter, and the most; in
 * units. */
static const double least_disc = 0.75, disc_step = 0.85, most_disc = 8.5;

void chart_make_wcs(struct wcs *wcs, double ra_deg, double dec_deg, double field_deg, int width,
                    int height)
{
    double scale = tan(field_deg / 2 * RAD_PER_DEG) * DEG_PER_RAD / (width / 2.0);
    memset(wcs, 0, sizeof *wcs);
    wcs->ra_deg = ra_deg;
    wcs->dec_deg = dec_deg;
    wcs->x = (width - 1) / 2.0;
    wcs->y = (height - 1) / 2.0;
    wcs->cd[0][0] = -scale;
    wcs->cd[1][1] = -scale;
    wcs->width = width;
    wcs->height = height;
}

static void fill_ground(struct canvas *canvas)
{
    const struct colour *sky = &canvas->theme->sky;
    cairo_set_source_rgb(canvas->cairo, sky->red, sky->green, sky->blue);
    cairo_paint(canvas->cairo);
}

static void draw_disc(struct canvas *canvas, double x, double y, double magnitude, double faintest)
{
    double size = least_disc + disc_step * fmax(0, faintest - magnitude);
    double radius = fmin(size, most_disc) * canvas->unit;
    cairo_arc(canvas->cairo, x, y, radius, 0, 2 * PI);
    cairo_fill(canvas->cairo);
}

static void draw_stars(struct canvas *canvas, const struct wcs *wcs, const struct index *index)
{
    uint32_t star[CHART_STARS];
    const struct colour *disc = &canvas->theme->disc;
    double ra, dec, centre[3];
    wcs_centre(wcs, &ra, &dec);
    vector_from_radec(centre, ra, dec);
    int count = index_brightest(star, CHART_STARS, index, centre, wcs_radius_deg(wcs) * RAD_PER_DEG,
                                INT16_MAX);
    double faintest = count ? fmin(index->star[star[count - 1]].mag / 1000.0, 9.5) : 0;
    cairo_set_source_rgb(canvas->cairo, disc->red, disc->green, disc->blue);
    for (int i = 0; i < count; i++) {
        double v[3], x, y;
        index_star_vector(v, &index->star[star[i]]);
        if (wcs_pixel(&x, &y, wcs, v)) {
            draw_disc(canvas, x, y, index->star[star[i]].mag / 1000.0, faintest);
        }
    }
}

int chart_draw(struct overlay_report *report, struct canvas *canvas, const struct index *index,
               const struct overlay_request *request, struct error *err)
{
    fill_ground(canvas);
    draw_stars(canvas, request->wcs, index);
    return overlay_draw(report, canvas, request, err);
}
