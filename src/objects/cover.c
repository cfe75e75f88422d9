#include "objects/cover.h"

#include <math.h>

enum { RIM_POINTS = 72, RINGS = 6, FRAME_POINTS = 9 };

static bool is_inside(const struct wcs *wcs, const double v[3], double margin_px)
{
    double x, y;
    return wcs_pixel(&x, &y, wcs, v) && x >= margin_px - 0.5 && y >= margin_px - 0.5 &&
           x < wcs->width - 0.5 - margin_px && y < wcs->height - 0.5 - margin_px;
}

static void measure_point(struct cover *cover, const struct wcs *wcs,
                          const struct sky_ellipse *ellipse, double margin_px)
{
    double v[3];
    ellipse_direction(v, ellipse, 0, 0);
    bool inside = is_inside(wcs, v, margin_px);
    *cover = (struct cover){inside ? 1 : 0, inside, inside};
}

/* Rings of equal area, each with the same number of points, so that each point counts alike. */
static double share_inside(const struct wcs *wcs, const struct sky_ellipse *ellipse,
                           double margin_px)
{
    int inside = 0;
    for (int ring = 0; ring < RINGS; ring++) {
        double part = sqrt((ring + 0.5) / RINGS);
        for (int i = 0; i < RIM_POINTS; i++) {
            double v[3];
            ellipse_direction(v, ellipse, part, 360 * (i + 0.5) / RIM_POINTS);
            inside += is_inside(wcs, v, margin_px);
        }
    }
    return (double)inside / (RINGS * RIM_POINTS);
}

static int rim_inside(const struct wcs *wcs, const struct sky_ellipse *ellipse, double margin_px)
{
    int inside = 0;
    for (int i = 0; i < RIM_POINTS; i++) {
        double v[3];
        ellipse_direction(v, ellipse, 1, 360.0 * i / RIM_POINTS);
        inside += is_inside(wcs, v, margin_px);
    }
    return inside;
}

/* A frame can lie within an object, between all points that were sampled of it. */
static bool frame_in_ellipse(const struct wcs *wcs, const struct sky_ellipse *ellipse,
                             double margin_px)
{
    for (int i = 0; i < FRAME_POINTS * FRAME_POINTS; i++) {
        double right = (double)(i % FRAME_POINTS) / (FRAME_POINTS - 1);
        double down = (double)(i / FRAME_POINTS) / (FRAME_POINTS - 1);
        double v[3];
        wcs_direction(v, wcs, margin_px - 0.5 + right * (wcs->width - 2 * margin_px),
                      margin_px - 0.5 + down * (wcs->height - 2 * margin_px));
        if (ellipse_contains(ellipse, v)) {
            return true;
        }
    }
    return false;
}

void cover_measure(struct cover *cover, const struct wcs *wcs, const struct sky_ellipse *ellipse,
                   double margin_px)
{
    if (ellipse->major_deg <= 0) {
        measure_point(cover, wcs, ellipse, margin_px);
        return;
    }
    int rim = rim_inside(wcs, ellipse, margin_px);
    cover->whole = rim == RIM_POINTS;
    cover->share = cover->whole ? 1 : share_inside(wcs, ellipse, margin_px);
    cover->touched = rim > 0 || cover->share > 0 || frame_in_ellipse(wcs, ellipse, margin_px);
}
