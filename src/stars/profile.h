/* stars/profile.h: the blur that all stars of a frame share. */
#ifndef ALIDADE_STARS_PROFILE_H
#define ALIDADE_STARS_PROFILE_H

/* Second moments of a star's light about its centroid, plane pixels squared; a streak has its
 * length in them too. xx, yy > 0 and xx * yy > xy * xy. */
struct profile {
    double xx, xy, yy;
};

/* What is assumed where a frame shows no star to measure: round, FWHM 2.6 pixels. */
struct profile profile_usual(void);

/* Keeps the widths within what stars of single exposures and stacks have, 0.65 to 5 pixels rms, so
 * that a wrong measurement can't make the filter slow or blind. */
struct profile profile_clamp(struct profile p);

/* rms widths along the long and the short axis, plane pixels. */
void profile_widths(const struct profile *p, double *longer, double *shorter);

/* Geometric mean of the two widths. */
double profile_width(const struct profile *p);

/* Direction of the long axis, from +x towards +y (down), -90..90 degrees. */
double profile_angle_deg(const struct profile *p);

/* The same as a unit vector with x >= 0. */
void profile_axis(double *x, double *y, const struct profile *p);

/* Light of a unit star at (dx, dy) from its centroid, as if it were Gaussian: sums to 1. */
double profile_value(const struct profile *p, double dx, double dy);

#endif
