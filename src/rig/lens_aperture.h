/* rig/lens_aperture.h: how wide a zoom opens at a focal length. */
#ifndef ALIDADE_RIG_LENS_APERTURE_H
#define ALIDADE_RIG_LENS_APERTURE_H

/* A zoom, or a lens of one focal length: both ends are the same then. All zeros: no lens. */
struct lens_range {
    double shortest_mm, longest_mm;
    double f_shortest, f_longest; /* the smallest f-number at each end */
};

/* The smallest f-number at a focal length: between the ends it goes by the logarithms of both, as
 * lenses do, and is shown in thirds of a stop (common practice, no source). Beyond an end it is
 * that end's. */
double lens_aperture(const struct lens_range *range, double focal_mm);

#endif
