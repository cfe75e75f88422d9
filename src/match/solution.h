/* match/solution.h: the answer to "where does this frame point". */
#ifndef ALIDADE_MATCH_SOLUTION_H
#define ALIDADE_MATCH_SOLUTION_H

#include "match/pose.h"
#include "match/trust.h"
#include "sky/wcs.h"
#include "stars/frame_kind.h"

#include <stdbool.h>

/* One catalogue star paired with one detected star. */
struct match_pair {
    int star;      /* index into the star list */
    int catalogue; /* index into the index's stars */
    double dx, dy; /* detected minus predicted, px */
};

/* Cells of a picture for each of which it is told how exact the fit is in its middle. */
enum { SOLUTION_COLUMNS = 6, SOLUTION_ROWS = 4, SOLUTION_CELLS = SOLUTION_COLUMNS * SOLUTION_ROWS };

/* Starts as all zeros; free with solution_free. */
struct solution {
    bool solved;
    char why[200]; /* when not solved: one short sentence */
    bool looked;   /* when not solved, by solve_frame: what kind of frame it is */
    struct frame_look look;
    struct wcs wcs;
    bool by_lens; /* it bends as the lens that was known beforehand */
    /* How far the middle, and the corner that is known worst, may be off, one sigma of x and of y;
     * NAN: not known. */
    double middle_error_px, corner_error_px;
    double cell_error_px[SOLUTION_CELLS]; /* the same of the middle of each cell, row by row */
    /* Of the scale in the middle, as a share of it, and of the picture's turn there about its
     * middle; one sigma, NAN: not known. */
    double scale_error, turn_error_deg;
    struct trust trust; /* where it is proven */
    int detected;       /* stars in the list that solved it */
    int matched;
    double rms_px, rms_arcsec;
    double
        chance_log10; /* log10 of the probability of a match this good by chance, all tries made */
    struct match_pair *pair; /* matched */
    long hypotheses;         /* candidates tested */
    /* Its stars are arcs: the exposure that they show, and its error, one sigma; 0: they are not.
     */
    double trails_s, trails_error_s;
    double match_ms, fit_ms; /* time spent; filled by solve */
    int stage; /* which stage of the search found it, from 1; 0: where it was expected */
    /* The same as a radial camera model, as seen in a mirror if mirrored: what the next frame of a
     * fixed tripod is expected from (see solve_options). */
    struct pose pose;
    bool mirrored;
};

void solution_free(struct solution *solution);

/* By what is drawn at four places scale_error and turn_error_deg are known: to the right, to the
 * left, below and above the middle, px from it, a tenth of half the diagonal. */
void solution_cross(double off[4][2], const struct wcs *wcs);

#endif
