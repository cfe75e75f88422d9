/* plan/group.h: how to hold the camera so that one frame takes in several objects. */
#ifndef ALIDADE_PLAN_GROUP_H
#define ALIDADE_PLAN_GROUP_H

#include "objects/ellipse.h"

enum group_hold { GROUP_LANDSCAPE, GROUP_PORTRAIT, GROUP_TURNED };

struct group_frame {
    double width_deg, height_deg; /* of the lens's field, through the middle; width >= height */
    double margin;                /* share of the shorter side to be kept free along each edge */
    double zenith_ra_deg, zenith_dec_deg; /* ICRS direction of the zenith: picture-up of a level
                                             camera, wherever it looks */
};

struct group_fit {
    bool fits;
    enum group_hold hold;
    double ra_deg, dec_deg; /* where the middle of the picture has to be; ICRS */
    double up_deg;          /* position angle of picture-up there, -180..180 */
    double roll_deg; /* camera turned clockwise, seen from behind, from level landscape, -90..90 */
    double fill;     /* the larger share that the objects take of the free width or height */
    double across_deg, along_deg; /* that they take in width and height */
};

/* The most convenient hold with which all shapes fit: level, upright, else turned by whole degrees,
 * centred so that the free space is even on opposite sides. If none does, the hold that comes
 * nearest. Outlines whose direction is not known count as circles. Gnomonic: a field is that of a
 * lens that draws straight lines straight. count >= 1. */
void group_fit(struct group_fit *fit, const struct sky_ellipse *shapes, int count,
               const struct group_frame *frame);

#endif
