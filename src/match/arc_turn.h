/* match/arc_turn.h: the turn of the sky that arcs have in common.
 *
 * While the camera stands, each star moves on a circle about the celestial pole, all by the same
 * angle. Seen through a lens that draws straight lines straight, a chord of such a circle is square
 * to the pole's direction, whichever end is which; so chords tell the pole for a supposed focal
 * length, and the angles about it, which have to be alike, tell the focal length. */
#ifndef ALIDADE_MATCH_ARC_TURN_H
#define ALIDADE_MATCH_ARC_TURN_H

#include "base/error.h"
#include "sky/wcs.h"
#include "stars/arcs.h"
#include "stars/stars.h"

#include <stdbool.h>

struct arc_turn {
    double pole[3];  /* the turn's axis: px right and down of the middle, and the focal length, as a
                        unit vector; either of its ends */
    double focal_px; /* roughly: a narrow field hardly tells it */
    double turn_deg; /* of a whole arc, above 0; 0: hardly one is whole */
    int whole;       /* arcs of that length about that pole */
    int square;      /* arcs square to that pole, whole or not, of those that were asked */
    int asked;       /* the brightest */
};

/* is_whole (one for each arc) receives which arcs are whole; the others are pieces, left the frame,
 * or are no stars'. Few of one length: whole is 0, and the pole is that to which most are square.
 * ERROR_MEMORY only. */
int arc_turn_find(struct arc_turn *turn, bool *is_whole, const struct arc_list *arcs,
                  struct error *err);

/* Most of the lines in the picture are arcs about one pole: whatever else is taken for a star there
 * is a piece of one. */
bool arc_turn_is_plain(const struct arc_turn *turn);

/* Stars in the middle of the whole arcs, where they stood in mid-exposure, brightest first.
 * ERROR_MEMORY only. */
int arc_turn_stars(struct star_list *list, const struct arc_list *arcs, const bool *is_whole,
                   struct error *err);

/* Where stars stood when the exposure began, and when it ended: the ends of arcs about the pole,
 * whole or not, that lie one way round it (side 0 or 1), brightest first, without those at the
 * edge, where stars come and go. Which side is the beginning, arcs do not tell. ERROR_MEMORY only.
 */
int arc_turn_end_stars(struct star_list *list, const struct arc_list *arcs,
                       const struct arc_turn *turn, int side, struct error *err);

/* What a WCS of mid-exposure makes of the whole arcs: the time that they show, by the sidereal
 * rate, and its error (one sigma). False if most of them do not run along circles of declination,
 * or not all by the same angle: then it is no WCS of theirs; also if memory is short. */
bool arc_turn_seconds(double *seconds, double *error_s, const struct arc_list *arcs,
                      const bool *is_whole, const struct wcs *wcs);

#endif
