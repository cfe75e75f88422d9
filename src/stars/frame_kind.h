/* stars/frame_kind.h: whether a frame shows the sky at all, or is one for calibration, or shows
 * something else. */
#ifndef ALIDADE_STARS_FRAME_KIND_H
#define ALIDADE_STARS_FRAME_KIND_H

#include "image/frame.h"
#include "stars/stars.h"

#include <stdbool.h>
#include <stddef.h>

enum frame_kind {
    KIND_LIGHT = 0, /* or nothing can be told */
    KIND_EMPTY,     /* all pixels alike, or none with data */
    KIND_FULL,      /* nearly all pixels at the end of the scale */
    KIND_BIAS,      /* noise alone, exposed for no time worth speaking of */
    KIND_DARK,      /* noise and hot pixels alone */
    KIND_FLAT,      /* evenly lit, without a star */
    KIND_STARLESS,  /* none of these, but no star is clearly more than noise */
    KIND_SCENE      /* things large and bright: daylight, lamps, a room */
};

/* What the kind was judged by; values of the plane. */
struct frame_look {
    enum frame_kind kind;
    bool clipped; /* values below black are cut to it, 0: sums of light would be wrong */
    double level;      /* median */
    double full;       /* end of the scale; 0: unknown */
    double noise;      /* of a pixel of the plane, from differences of neighbours */
    double relief;     /* how far the levels of 12 x 8 zones spread, 10 to 90 % of them */
    double rough;      /* rms of these levels about a surface of second order */
    double full_share; /* of pixels at the end of the scale */
    int stars;         /* in the list, too bright for noise */
};

/* Looks at some hundred thousand pixels and the star list of the frame (detected plainly). Only
 * frames without stars can be other than KIND_LIGHT, but for KIND_SCENE. That and KIND_STARLESS are
 * guesses: such frames are worth a search. The frame must still have its plane. ERROR_MEMORY only.
 */
int frame_look_at(struct frame_look *look, const struct frame *frame, const struct star_list *list,
                  struct error *err);

/* Writes what it is as a sentence without the file's name: "a dark frame or a lens cap: no star,
 * level 512 of 65535, noise only"; empty for KIND_LIGHT. */
void frame_look_words(char *out, size_t size, const struct frame_look *look);

/* Whether no search can find anything in such a frame. */
bool frame_kind_hopeless(enum frame_kind kind);

/* One word for machines: "light", "empty", "full", "bias", "dark", "flat", "starless", "scene". */
const char *frame_kind_key(enum frame_kind kind);

#endif
