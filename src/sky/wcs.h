/* sky/wcs.h: pixel <-> sky for a solved frame, with optional polynomial distortion.
 *
 * Projection: TAN, or what fisheyes and panoramas draw (sky/projection.h). Distortion: SIP (Shupe
 * et al. 2005, ASP Conf. Ser. 347, 491), in this project's pixel axes, whatever the projection.
 * Pixels: x right, y down, centre of the top-left pixel (0, 0). Sky: ICRS degrees. */
#ifndef ALIDADE_SKY_WCS_H
#define ALIDADE_SKY_WCS_H

#include "sky/projection.h"

#include <stdbool.h>

enum { WCS_MAX_ORDER = 7 };

struct wcs {
    double ra_deg, dec_deg; /* reference direction, the tangent point */
    double x, y;            /* pixel of the tangent point */
    double cd[2][2];        /* (xi, eta) = cd * (u, v): degrees east and north per pixel */
    enum projection_kind projection;
    double turn_deg;  /* position angle of the plane's eta axis at the reference: of a cylinder's
                         axis */
    double reach_deg; /* nothing is farther from the reference, or from a cylinder's horizon; 0: no
                         end */
    int order;              /* of the SIP polynomials; 0: none (pure TAN) */
    /* u' = u + sum a[p][q] u^p v^q, v' = v + sum b[p][q] u^p v^q, 2 <= p+q <= order,
     * where u = px - x, v = py - y. */
    double a[WCS_MAX_ORDER + 1][WCS_MAX_ORDER + 1];
    double b[WCS_MAX_ORDER + 1][WCS_MAX_ORDER + 1];
    int width, height; /* of the picture it belongs to */
};

/* Direction of a pixel; any finite pixel has one. Inverse: wcs_pixel. */
void wcs_direction(double v[3], const struct wcs *wcs, double px, double py);
void wcs_radec(double *ra_deg, double *dec_deg, const struct wcs *wcs, double px, double py);

/* Pixel of a direction. False, with px and py untouched, if it is 90 degrees or more from the
 * tangent point of TAN, outside of another projection (projection_plane) or beyond the reach, or
 * the distortion cannot be inverted there (fixed point to 1e-6 px). */
bool wcs_pixel(double *px, double *py, const struct wcs *wcs, const double v[3]);
bool wcs_pixel_radec(double *px, double *py, const struct wcs *wcs, double ra_deg, double dec_deg);

/* Middle of the picture: sky position, mean scale there (arcsec per px), position angle of
 * picture-up (degrees east of north, 0..360), true if the picture is mirrored: seen from inside
 * the sphere, north up has east to the right. */
void wcs_centre(const struct wcs *wcs, double *ra_deg, double *dec_deg);
double wcs_scale_arcsec(const struct wcs *wcs);
double wcs_up_angle_deg(const struct wcs *wcs);
bool wcs_mirrored(const struct wcs *wcs);

/* Turns the whole picture on the sky about its reference direction: what was at a position angle
 * there comes to lie so many degrees further from north over east. */
void wcs_turn(struct wcs *wcs, double angle_deg);

/* Angular width and height through the middle of the picture, degrees, edge to edge, or as far as
 * the reach. */
void wcs_field(const struct wcs *wcs, double *width_deg, double *height_deg);

/* Largest angle from the picture's middle to a corner, or to where the reach ends, degrees. Of a
 * panorama the largest there is: 180. */
double wcs_radius_deg(const struct wcs *wcs);

/* Whether a pixel lies in the picture: -0.5 <= x < width - 0.5, same for y. */
bool wcs_inside(const struct wcs *wcs, double px, double py);

/* Whether a pixel is within the reach: there is a star there, or might be. */
bool wcs_reaches(const struct wcs *wcs, double px, double py);

/* Largest distortion over the four corners, px: |u' - u|. */
double wcs_corner_distortion_px(const struct wcs *wcs);

/* The same along the line from the tangent point, of all four together, as a share of the
 * distance where they belong: by how much of it they are drawn too far out, barrel < 0 < pincushion. What
 * refraction or a tilt does to opposite corners cancels. */
double wcs_corner_distortion(const struct wcs *wcs);

#endif
