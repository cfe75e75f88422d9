/* match/lens_fit_parts.h: what the two fits of match/lens_fit.h share. */
#ifndef ALIDADE_MATCH_LENS_FIT_PARTS_H
#define ALIDADE_MATCH_LENS_FIT_PARTS_H

#include "base/least_squares.h"
#include "match/lens_fit.h"

/* Unknowns of a view: its turns about right, down and out, the logarithm of its focal length, and
 * its stretch; of the lens: its terms, and the place of its axis. */
enum {
    LENS_TURNS = 4,
    LENS_OWN = LENS_TURNS + 2,
    LENS_COMMON = LENS_TERMS + 2,
    LENS_ALL = LENS_OWN + LENS_COMMON
};

/* Two equations, of x and y: sum row[i] * step[i] = miss, px. */
struct lens_rows {
    double row[2][LENS_ALL];
    double miss[2]; /* where the star belongs by its place in the picture, less where it stands */
};

/* False if the star is 84 degrees or more from the axis. */
bool lens_rows(struct lens_rows *rows, const struct lens_view *view,
               const struct lens_profile *profile, double half_px,
               const struct lens_sighting *sighting);

/* Adds what is known of a view's stretch beforehand to its equations, of which it is the unknowns
 * LENS_TURNS and the next. */
void lens_expect_stretch(struct least_squares *ls, const struct lens_view *view);

/* Adds a step to what is a view's own. */
void lens_move_view(struct lens_view *view, const double step[LENS_OWN]);

#endif
