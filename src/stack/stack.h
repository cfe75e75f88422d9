/* stack/stack.h: frames of a night laid over each other on one sheet, so that the target emerges.
 *
 * A glimpse, made while the frames arrive and in bounded memory; the stack that counts is made
 * elsewhere, from all frames at once. Frames are laid by their solutions, distortion included.
 *
 * Each pixel of the sheet keeps a running weighted mean and one other candidate: values that do not
 * fit the mean (by the frame's noise) gather in that, and the heavier one of both is what shows, of
 * two equal ones the darker. A satellite, an aeroplane or a hot pixel that walks through, since the
 * sky drifts, is so left out even if it came first, which clipping about a running mean and its
 * variance cannot do: the first outliers make both. No frame need be kept for it. */
#ifndef ALIDADE_STACK_STACK_H
#define ALIDADE_STACK_STACK_H

#include "base/error.h"
#include "image/frame.h"
#include "objects/ellipse.h"
#include "sky/wcs.h"
#include "stars/streak.h"

#include <stdbool.h>

/* More than usual only where the target would not fit. */
enum { STACK_USUAL_PIXELS = 2400000, STACK_MOST_PIXELS = 4000000 };

/* Where the sheet lies. */
struct stack_place {
    struct sky_ellipse target; /* in the middle; its outline is kept out of the sky's level. ICRS */
    double scale_arcsec;       /* a pixel of the sheet */
    double up_angle_deg;       /* of the sheet's upright, degrees east of north */
    int width, height;         /* at most STACK_MOST_PIXELS together */
};

/* A sheet for frames like this one, of planes with that bin: upright as the frame is, with the
 * plane's pixels, or whole multiples of them where the target would not fit; no larger than the
 * frame. */
void stack_place_for(struct stack_place *place, const struct sky_ellipse *target,
                     const struct wcs *wcs, int bin);

struct stack_cell; /* sums of 16 x 16 pixels; see stack_parts.h */

/* Starts as all zeros; free with stack_free. To be looked at by one thread at a time, and not while
 * a frame is added. */
struct stack {
    struct stack_place place;
    struct wcs wcs; /* of the sheet: TAN; mirrored where the first frame is */
    /* Of each pixel, in the scale of the first frame, above the sky; weight 0: nothing yet. */
    float *mean, *mean_weight, *other, *other_weight;
    /* Red and blue less the luminance (r + 2 g + b) / 4, of 2 x 2 pixels; NULL: no frame had
     * colour. */
    float *red, *blue, *tint_weight;
    int tint_width, tint_height;
    struct stack_cell *cell;
    int cell_columns, cell_rows;
    unsigned char *region; /* of 4 x 4 pixels each: see stack_parts.h */
    int region_columns, region_rows;
    float *spare; /* room for a frame's plane with fewer pixels */
    size_t spare_values;
    double sky_looks; /* pixels by which the sky of the latest frame is known */
    double evenest;   /* least that the sky of a frame was off its smooth surface, in its noise */
    double noise;     /* of a pixel of the first frame's plane; what weights are relative to */
    bool has_target_area;
    double pixel_arcsec; /* a side of a pixel of the frames as taken; of the latest */

    int frames;        /* added */
    double weight;     /* of these, a frame like the first one counts 1 */
    double exposure_s; /* of these; where known */
};

/* ERROR_MEMORY only. mirrored: frames show the sky as in a mirror. */
int stack_start(struct stack *stack, const struct stack_place *place, bool mirrored,
                struct error *err);
void stack_free(struct stack *stack);

/* All borrowed. */
struct stack_frame {
    const struct plane *plane;
    struct colours *colours; /* their values are changed; NULL or without values: grey */
    const struct wcs *wcs;   /* of the picture, not the plane */
    /* Light that a star leaves in it, as a share of what it leaves in the first frame: values are
     * divided by it; 0: not known, as 1. */
    double light;
    /* Lines that are left out, with what lies within so many px of the picture beside them and
     * beyond their ends: their faint wings fit the mean and would brighten it. NULL: none. */
    const struct streak_list *crossed;
    double crossed_px;
    double exposure_s; /* 0: unknown */
    int threads;       /* 0: one */
};

enum stack_outcome {
    STACK_ADDED,
    STACK_ELSEWHERE, /* it does not show any of the sheet */
    STACK_NOISELESS  /* its sky has no noise: nothing to weigh it by */
};

/* Lays a frame on the sheet: its sky is flattened by a smooth surface that is fitted to the levels
 * of the sky (stars/background.h) outside the target, and it counts by its noise; the less, the
 * more uneven its sky is than the evenest before, as by lights of others. The same bits on any
 * number of threads. ERROR_MEMORY only. */
int stack_add(enum stack_outcome *outcome, struct stack *stack, const struct stack_frame *frame,
              struct error *err);

/* Value of the luminance at a pixel of the sheet; NaN where no frame was. */
float stack_value(const struct stack *stack, int x, int y);

struct stack_look {
    int largest; /* the longer side of the picture at most, px; 0: the sheet as it is */
    bool red;    /* black and red, for dark-adapted eyes */
};

/* The sheet as a picture of 8 bits, which is empty before: stretched so that what rises above the
 * noise by little can be seen, the sky dark but not black, with colour where the frames had it.
 * Freed by free(out->rgb). ERROR_MEMORY only. */
int stack_picture(struct picture *out, const struct stack *stack, const struct stack_look *look,
                  struct error *err);

/* The target in the stack. Values are the first frame's. */
struct stack_signal {
    bool known;
    const char *unknown; /* why not; static */
    double level;        /* mean of its outline above the sky around, without stars */
    double level_error;  /* one sigma, from the noise */
    double noise;        /* of one pixel of the frames, as taken, in the stack */
    double once;         /* level / noise: signal to noise a pixel */
    double once_error;   /* one sigma */
};

/* Measures how the target stands out: the mean of what lies in its outline against that of the sky
 * around, by the noise of a pixel as plan/signal.h counts it. The noise is that by which two stacks
 * of every other frame differ in cells of 16 x 16 pixels, so that neither stars nor resampling
 * matter; of one frame it is the scatter of its cells. */
void stack_signal(struct stack_signal *signal, const struct stack *stack);

#endif
