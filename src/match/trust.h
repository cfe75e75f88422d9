/* match/trust.h: where in its picture a solution is proven, zone by zone.
 *
 * A solution is as good as the stars that are found where it says. Where the catalogue has stars
 * that ought to show and they do not (a roof, a second picture, a border), or are elsewhere (what a
 * fisheye or a panorama draws beyond its middle), nothing that is told of the sky can be believed.
 */
#ifndef ALIDADE_MATCH_TRUST_H
#define ALIDADE_MATCH_TRUST_H

#include "base/error.h"
#include "match/index.h"
#include "sky/wcs.h"
#include "stars/stars.h"

#include <stdbool.h>
#include <stddef.h>

enum { TRUST_COLUMNS = 24, TRUST_ROWS = 16, TRUST_ZONES = TRUST_COLUMNS * TRUST_ROWS };

enum trust_zone {
    TRUST_UNPROVEN, /* stars that ought to be there are not */
    TRUST_UNTOLD,   /* too few ought to be there to tell, and nothing around it tells either */
    TRUST_BESIDE,   /* too few, but what is around it is proven, and the fit is exact enough here */
    TRUST_PROVEN
};

/* All zeros: nobody looked, and all of the picture counts as proven. */
struct trust {
    bool known;
    double width, height;            /* of the picture, px */
    unsigned char zone[TRUST_ZONES]; /* enum trust_zone, row by row from the upper left */
    double share;                    /* of the picture that counts as proven, 0..1 */
    double sky_share; /* the same of what is sky: where a third as many detections are certain as in
                         proven zones, or it counts as proven; 0..1 */
};

/* From how many errors of the fit on a detection is another star; 0.5 px are added for pixels. */
#define TRUST_REACH_ERRORS 4

/* How well a solution fits, as far as its zones need it. */
struct trust_fit {
    const struct wcs *wcs;
    double error_px; /* of a detection about its predicted place, one sigma of x and of y */
    const int *catalogue, *star; /* pairs: which star of the index, which of the list */
    int pairs;
    /* How far off the fit itself may be at the middles of a grid of cells, rows from the top, px;
     * NAN: not known. */
    const double *doubt_px;
    int doubt_columns, doubt_rows;
};

/* Finds the zones. Catalogue stars that ought to show are those that outshine the magnitude to
 * which this picture shows them, as its own pairs tell, less probable the nearer they come to it;
 * those that blend with another, and those by the edge, are left out. Each speaks for or
 * against the place that it stands at by how much likelier it is found there, within
 * TRUST_REACH_ERRORS, if the solution holds than if detections lie there by chance. A zone hears
 * the stars around it, only as many as it needs. Islands that could be chance are given up; holes
 * within proven zones of a tenth of the picture or less (the Moon's glare, a nebula) are closed,
 * and where few stars ought to show in all, the hull of those that do is. ERROR_MEMORY. */
int trust_find(struct trust *trust, const struct trust_fit *fit, const struct star_list *list,
               const struct index *index, struct error *err);

/* Whether a place counts as proven; px. False outside the picture, unless nobody looked. */
bool trust_holds(const struct trust *trust, double x, double y);

/* Left and right, upper and lower bound of a zone, px: halfway between pixels of both. */
void trust_zone_bounds(double x[2], double y[2], const struct trust *trust, int zone);

/* Nearly all of it counts as proven. */
bool trust_is_whole(const struct trust *trust);

/* Less than half of the sky in the picture counts as proven. */
bool trust_is_partial(const struct trust *trust);

/* The zones as one text, a letter each ('p', 'b', 'u' for untold, '-' for unproven), TRUST_ZONES
 * and an end; and back, with the shares that are told. False, trust untouched, if it is no such
 * text. */
void trust_write(char out[TRUST_ZONES + 1], const struct trust *trust);
bool trust_read(struct trust *trust, const char *text, double width, double height);

#endif
