#include "objects/cover.h"

#include <math.h>

enum { FRAME_POINTS = 9 };

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

static double share_inside(const struct wcs *wcs, const struct sky_ellipse *ellipse,
                           double margin_px)
{
    double inner[ELLIPSE_AREA_MOST][3];
    int count = ellipse_area(inner, ellipse), inside = 0;
    for (int i = 0; i < count; i++) {
        inside += is_inside(wcs, inner[i], margin_px);
    }
    return count > 0 ? (double)inside / count : 0;
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

static bool is_point(const struct sky_ellipse *ellipse)
{
    return ellipse->major_deg <= 0 && !ellipse->outline;
}

bool cover_is_whole(const struct wcs *wcs, const struct sky_ellipse *ellipse, double margin_px)
{
    double rim[ELLIPSE_RIM_MOST][3];
    if (is_point(ellipse)) {
        ellipse_direction(rim[0], ellipse, 0, 0);
        return is_inside(wcs, rim[0], margin_px);
    }
    int points = ellipse_rim(rim, ellipse), inside = 0;
    while (inside < points && is_inside(wcs, rim[inside], margin_px)) {
        inside++;
    }
    return inside == points;
}

void cover_measure(struct cover *cover, const struct wcs *wcs, const struct sky_ellipse *ellipse,
                   double margin_px)
{
    if (is_point(ellipse)) {
        measure_point(cover, wcs, ellipse, margin_px);
        return;
    }
    double rim[ELLIPSE_RIM_MOST][3];
    int points = ellipse_rim(rim, ellipse), inside = 0;
    for (int i = 0; i < points; i++) {
        inside += is_inside(wcs, rim[i], margin_px);
    }
    cover->whole = inside == points;
    cover->share = cover->whole ? 1 : share_inside(wcs, ellipse, margin_px);
    cover->touched = inside > 0 || cover->share > 0 || frame_in_ellipse(wcs, ellipse, margin_px);
}

static double proven_share(const struct wcs *wcs, const struct sky_ellipse *ellipse,
                           const struct trust *trust)
{
    double inner[ELLIPSE_AREA_MOST][3], x, y;
    int count = is_point(ellipse) ? 0 : ellipse_area(inner, ellipse), proven = 0;
    if (count == 0) {
        count = 1;
        ellipse_direction(inner[0], ellipse, 0, 0);
    }
    for (int i = 0; i < count; i++) {
        proven += is_inside(wcs, inner[i], 0) && wcs_pixel(&x, &y, wcs, inner[i]) &&
                  trust_holds(trust, x, y);
    }
    return (double)proven / count;
}

void cover_keep_proven(struct cover *cover, const struct wcs *wcs,
                       const struct sky_ellipse *ellipse, const struct trust *trust)
{
    double v[3], x, y;
    if (!cover->touched || !trust->known || trust->share >= 1) {
        return;
    }
    ellipse_direction(v, ellipse, 0, 0);
    double share = proven_share(wcs, ellipse, trust);
    bool inside = wcs_pixel(&x, &y, wcs, v) && wcs_inside(wcs, x, y);
    if (inside ? !trust_holds(trust, x, y) : share <= 0) {
        *cover = (struct cover){.touched = false};
    } else if (share < cover->share) {
        cover->share = share;
        cover->whole = false;
    }
}
