/* match/lens_fit.h: what stars tell of a lens, and where a camera with a known lens points.
 *
 * Stars tell by where they are drawn. Directions may be on any axes, the same for all stars of a
 * view: those of the ground, as seen there, keep refraction out of the lens. */
#ifndef ALIDADE_MATCH_LENS_FIT_H
#define ALIDADE_MATCH_LENS_FIT_H

#include "base/error.h"
#include "match/pose.h"
#include "sky/horizon.h"
#include "sky/lens_profile.h"
#include "stars/stars.h"

#include <stdint.h>

/* One star in one frame. */
struct lens_sighting {
    double x, y;   /* px from the middle of the picture, as poses count */
    double v[3];   /* where it stands, unit vector */
    double error;  /* of x and of y, px, in a measure of its own: how exact stars are is measured
                      among those of like error; > 0 */
    uint32_t star; /* the same number in all frames */
};

/* One frame. */
struct lens_view {
    struct pose pose; /* attitude and focal length; distortion and axis are the lens's */
    /* Where directions are those of the catalogue, refraction presses the picture together: what is
     * to the right grows by stretch[0] and what is below shrinks by it; stretch[1] draws both along
     * the diagonal. It is found where it is free, else left as it is. */
    double stretch[2];
    bool stretches;
    struct lens_sighting *sighting;
    int count;
};

struct lens_lesson {
    struct lens_profile profile; /* radius: of half_px */
    int terms;                   /* that the stars justify, 0 to LENS_TERMS */
    bool has_axis;               /* likewise; else in the middle of the picture */
    int frames, stars, left_out; /* stars: sightings used; left_out: too far off */
    double farthest;             /* sighting from the axis, share of half_px */
    double rms_px;               /* of what is left in x and y together */
    double focal_px;             /* mean of the frames */
};

/* For the error of a sighting: brighter stars are placed better; a core that is full says less. */
double lens_expected_error(const struct star *star);

/* From directions of the catalogue to those that are seen through the air, the attitude with the
 * stars. */
void lens_view_see(struct lens_view *view, const struct horizon *horizon);

/* Moves the view to the robust least squares fit (Cauchy's weights, scale_px) of its stars under a
 * known lens, of which R is half_px. False, the view as it was, if they do not determine it. */
bool lens_fit_view(struct lens_view *view, const struct lens_profile *profile, double half_px,
                   double scale_px);

/* Finds the lens that drew all views: one least squares for it together with attitude and focal
 * length of each view, weighted by how exact stars of like error turn out to be, those more than 4
 * deviations off left out. Views begin near the truth (a degree); those of fewer than 8 stars are
 * not used. Residuals of the same star in many frames count as the one error that they may be (the
 * sandwich of White 1982, Econometrica 50, 1, by stars). Beforehand lenses are expected to bend by
 * 3, 1 and 0.3 % in the three terms, with the axis within 2 % of the half diagonal (assumed). Of
 * terms and axis those are kept for which the evidence is largest, the likelihood averaged over
 * what is expected (Kass & Raftery 1995, JASA 90, 773; the Bayesian information criterion is its
 * limit for many stars). The stated error is the mean over all candidates about the one that is
 * kept, by their evidence (Buckland, Burnham & Augustin 1997, Biometrics 53, 603), so that it
 * covers what the stars do not decide. ERROR_NO, without a sentence, if the stars do not determine
 * it; ERROR_MEMORY. */
int lens_fit(struct lens_lesson *lesson, struct lens_view *view, int views, double half_px,
             struct error *err);

/* A place in a picture, x and y as of sightings, and where a fit says that it points. */
struct lens_place {
    double x, y;
    double v[3];
    double error_px; /* how far off that may be, one sigma of x and of y; NAN: not known */
};

/* Four places right and left of, below and above one place, each as far: how much larger than the
 * fit says things are drawn there, and by how much they are turned. */
struct lens_cross {
    struct lens_place arm[4];
    double scale_error; /* share, one sigma; NAN: not known */
    double turn_error;  /* radians, one sigma */
};

/* Fills in error_px, and of cross (NULL: none) the errors, by the stars of one view, which is moved
 * to its best fit: what they leave open of attitude, scale, stretch and lens, terms that they do
 * not decide included, and by how much the fit in question differs from the best of these. known: a
 * lens that counts as known, to its error; NULL: none. ERROR_NO, without a sentence, if there are
 * too few stars; ERROR_MEMORY. */
int lens_fit_doubt(struct lens_place *place, int places, struct lens_cross *cross,
                   struct lens_view *view, const struct lens_profile *known, double half_px,
                   struct error *err);

#endif
