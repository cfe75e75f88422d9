/* tripod/batch_length.h: how many frames to take before the camera is turned again.
 *
 * The one place where that is decided: a plan asks with the picture that a lens will give, aim,
 * watch and review with one that was solved. */
#ifndef ALIDADE_TRIPOD_BATCH_LENGTH_H
#define ALIDADE_TRIPOD_BATCH_LENGTH_H

#include "objects/ellipse.h"
#include "tripod/smear.h"
#include "tripod/stand.h"

#include <stdbool.h>
#include <stddef.h>

/* What is accepted of stars at the edge of a stack. */
struct batch_accept {
    double widening; /* share by which they may become wider than those of one frame; 0: as usual */
    double smear_px; /* above 0: may miss each other by so much instead */
    double star_px;  /* their full width at half maximum there in one frame, across the trail; 0:
                        as usual */
    enum smear_fit align;
};

/* Widened by a tenth, aligned by a homography. */
struct batch_accept batch_accept_usual(void);

/* Root of the mean variance of a star's light in one frame over both directions, px: what seeing
 * and lens do (star_px of full width at half maximum, as struct batch_accept has it; as usual:
 * common practice, no source: 3 arcsec and 2 px, added in quadrature), and a trail of that length.
 */
double batch_star_sigma_px(double scale_arcsec, double star_px, double trail_px);
/* By which share stars become wider whose places in a stack are spread evenly over smear_px
 * (tripod/smear.h), as Gaussians are fitted to them: what that adds to the variance in one of two
 * directions, a twelfth of its square, and somewhat more for their wings and for its flat top. To
 * an eighth of it for all stars between a Gaussian and what air makes of them (Moffat's profile
 * with beta 4.765: Trujillo et al. 2001), up to 3 deviations of spread. */
double batch_widening(double smear_px, double sigma_px);
/* Inverse of batch_widening. */
double batch_smear_px(double widening, double sigma_px);

/* What ends a batch: the drift has taken its share of the picture, stars smear, an hour; or it
 * lasts a minute though stars smear, since nobody re-centres more often. */
enum batch_limit {
    BATCH_BY_ROOM,
    BATCH_BY_SMEAR,
    BATCH_BY_HOUR,
    BATCH_BY_MINUTE,
    BATCH_BY_SKYLINE, /* the target goes behind it */
    BATCH_LIMITS
};
/* "room", "smear", "hour", "minute", "skyline": for machines. */
const char *batch_limit_key(enum batch_limit limit);

struct batch_length {
    long frames;
    double span_s; /* frames with their gaps */
    enum batch_limit limit;
    enum smear_fit align; /* that was asked for */
    double sigma_px;      /* of a star in one frame: see batch_star_sigma_px */
    double accepted_px;   /* smear that is accepted */
    bool has_smear;       /* of a batch, or of all frames if these are less: the next is known */
    double smear_px[SMEAR_FITS];
    double widening;   /* by the batch's smear, as it is aligned */
    long group_frames; /* to be stacked by themselves first, so that stars are widened by no more
                          than is accepted; 0: all frames of the batch at once */
};

struct batch_wish {
    double exposure_s, cadence_s; /* from frame to frame */
    long frames;                  /* that are wanted in all; 0: not known */
    long decided;                 /* frames of a batch by somebody else: only what becomes of the
                                     stars is to be found; 0: nobody has */
    double
        visible_s; /* until the target goes behind the skyline; 0: it does not, or nobody knows */
    struct batch_accept accept;
};

/* For a target in the middle of a picture of that WCS, taken at utc (good to days), with the tripod
 * untouched and aimed ahead, so that the middle of the batch is in the middle of the picture. */
void batch_length_find(struct batch_length *batch, const struct wcs *wcs, struct utc utc,
                       const struct sky_ellipse *target, const struct batch_wish *wish);

/* Cuts a batch that would go on when the target is behind the skyline; at least one frame stays. */
void batch_length_cut(struct batch_length *batch, double visible_s, double cadence_s);

/* Why no longer, as the end of a sentence: ": beyond that, stars at the edge widen by more than is
 * accepted"; what to do about a lens that asks for more. UTF-8, cut to size. */
void batch_write_reason(char *out, size_t size, const struct batch_length *batch);

#endif
