/* match/pairs.h: which detected star is which catalogue star, once it is known where to look. */
#ifndef ALIDADE_MATCH_PAIRS_H
#define ALIDADE_MATCH_PAIRS_H

#include "base/error.h"
#include "match/index.h"
#include "match/pose.h"
#include "match/verify.h"
#include "sky/wcs.h"
#include "stars/star_tree.h"
#include "stars/stars.h"

struct pair {
    uint32_t catalogue; /* star of the index */
    int star;           /* of the star list */
    double v[3];        /* direction of the catalogue star */
    double x, y;        /* place of the detected star, px of the picture */
    double dx, dy;      /* detected minus predicted, px of the picture */
};

/* Starts as all zeros; free with pair_finder_free. */
struct pair_finder {
    const struct star_list *list; /* borrowed */
    const struct index *index;    /* borrowed */
    struct star_tree *tree;
    bool mirrored;
    double zero;         /* magnitude of a star of rank magnitude 0 */
    uint32_t *candidate; /* catalogue stars that may be in the picture, brightest first */
    int candidates;
    struct pair *pair; /* found last */
    int pairs;
    bool *used;
    double *length; /* room for one number of each pair */
    long steps; /* taken so far, as match/effort.h counts */
};

/* Gathers the catalogue stars around the verdict's pose that are bright enough to be in the list.
 * ERROR_MEMORY. */
int pair_finder_make(struct pair_finder *finder, const struct star_list *list,
                     const struct index *index, const struct verdict *verdict, bool mirrored,
                     struct error *err);
void pair_finder_free(struct pair_finder *finder);

/* Gathers them anew from a wider circle on the sky, radius in radians: the verdict's pose knows
 * nothing of lenses that see more than a plane can show. */
void pair_finder_widen(struct pair_finder *finder, const double middle[3], double radius);

/* For pairing by a model of one's own: begins; and pairs one candidate, seen in direction v and
 * predicted at (x, y), px of the picture, if one is within reach that has its brightness and fewer
 * strangers lie within it than a search around one place may meet. */
void pairs_start(struct pair_finder *finder);
void pairs_add(struct pair_finder *finder, uint32_t catalogue, const double v[3], double x,
               double y, double reach);

/* Pairs each of the brightest candidates (600 at most) with the detected star nearest to its
 * predicted place, the brightest first, if it is within reach px plus three times the pose's own
 * uncertainty there and of a brightness that can be. Candidates whose place the pose does not know
 * to 1 % of the picture are left out, and so are faint ones among which a reach so long would find
 * strangers. */
void pairs_by_pose(struct pair_finder *finder, const struct pose *pose, double reach);

/* The same with a WCS and reach alone. */
void pairs_by_wcs(struct pair_finder *finder, const struct wcs *wcs, double reach);

/* Of the brightest candidates in the picture, as many as there are detections that cannot be noise
 * (8 at least, 60 at most), how many are paired beyond what chance would pair, as a share: about 1
 * for a right WCS, near 0 for a wrong one. */
double pairs_share(const struct pair_finder *finder, const struct wcs *wcs, double reach);

/* Robust scale of the residuals: the standard deviation in x and y that a normal distribution with
 * their median length would have, px; 0 if there are no pairs. */
double pairs_scale(const struct pair_finder *finder);

/* A place in the picture's pixels as the pose counts them (from the middle, in its hand), and back.
 */
void pair_to_pose(double p[2], const struct pair_finder *finder, double x, double y);
void pair_from_pose(double *x, double *y, const struct pair_finder *finder, const double p[2]);

#endif
