/* demo/render_shake.h: what happens to the camera and its lens while it exposes. */
#ifndef ALIDADE_DEMO_RENDER_SHAKE_H
#define ALIDADE_DEMO_RENDER_SHAKE_H

/* Zero means none of each. */
struct render_shake {
    double knock_x, knock_y; /* the picture jumps by so many px ... */
    double knock_at;         /* ... after this share of the exposure */
    double wind_px;          /* rms of a fast swing ... */
    double wind_angle_deg;   /* ... in this direction, from +x towards +y (down) */
    double defocus_px;       /* diameter of the disc that a point becomes */
    double dew;              /* 0 to 1: takes half of the light, spreads much of the rest */
};

enum { SHAKE_MOST = 2 * 9 * 37 * 2 };

/* One of the images that a star is made of. */
struct shake_piece {
    double from, to; /* part of the exposure, 0..1 */
    double dx, dy;   /* px */
    double share;    /* of the star's light */
    double width;    /* times the star's */
};

/* Splits a star into pieces, one if nothing happens. Returns how many. */
int shake_pieces(struct shake_piece piece[SHAKE_MOST], const struct render_shake *shake);

#endif
