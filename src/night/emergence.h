/* night/emergence.h: how a target rises out of the noise over a night, beside what was promised.
 *
 * Signal to noise is that of a pixel in the mean of frames, as plan/signal.h counts it; it grows
 * with the square root of the number of frames. */
#ifndef ALIDADE_NIGHT_EMERGENCE_H
#define ALIDADE_NIGHT_EMERGENCE_H

#include "base/schema.h"
#include "night/judge.h"
#include "plan/signal.h"

#include <stdbool.h>

enum { EMERGENCE_STEPS = 256, EMERGENCE_TEXT = 300 };

/* How it stood after so many frames. */
struct emergence_step {
    int lights, frames;
    double snr, snr_error; /* NaN: not measured */
    double promised;       /* NaN: nothing was */
};

/* All zeros: nothing was stacked. */
struct emergence {
    int lights;             /* frames of the sky that were taken */
    int frames;             /* of these, those in the stack */
    int lost[JUDGE_CAUSES]; /* the others, by why not */
    int darks, flats;       /* that the stack made use of */
    double exposure_s;      /* of the frames in the stack */
    double cadence_s;       /* from frame to frame; 0: unknown */
    double wanted;          /* signal to noise at which the target is visible */

    bool known;            /* the target's signal was measured, else why not: */
    char unknown[120];     /* "the target has no outline: it is a point" */
    double snr, snr_error; /* in the stack; one sigma */
    bool has_promise;      /* a test frame promised: else why not: */
    char no_promise[120];  /* a sentence without a full stop */
    double once;           /* promised of one frame */
    double planned;        /* of one frame, by the plan of the night; 0: there is none */
    double off_mag;        /* how far the target's brightness may be off, one sigma */

    /* The frames in the stack against the frame that promised, means; NaN: unknown. */
    double sky_ratio, dimming_mag, width_ratio;

    int steps;
    struct emergence_step step[EMERGENCE_STEPS];
};

/* What all lights so far should have given; NaN without a promise. */
double emergence_promised(const struct emergence *emergence);

/* Keeps how it stands as a step; where there is no room every other one goes. */
void emergence_note(struct emergence *emergence);

/* When it will be visible, at the rate of what was measured. */
struct emergence_outlook {
    bool known;   /* it was measured, and is more than its error */
    bool visible; /* already */
    double frame; /* that makes it visible, counted in lights; one sigma: */
    double frame_error;
    double left_s; /* NaN: the cadence is not known */
};
void emergence_foresee(struct emergence_outlook *outlook, const struct emergence *emergence);

/* Shares of the promised signal to noise that are left, each for itself: what lost frames, a
 * brighter sky (of frames whose noise is the sky's) and haze take; 1: nothing, or unknown. */
struct emergence_kept {
    double frames, sky, clear;
};
struct emergence_kept emergence_find_kept(const struct emergence *emergence);

/* Whether less came than was promised: beyond the errors of both, or where a good part of it is
 * known to be lost, beyond that of the measurement. */
bool emergence_is_broken(const struct emergence *emergence);

/* Sentences without a full stop, UTF-8, cut to size.
 * "S/N 0.79 ± 0.03 a pixel, promised 0.85; visible at about frame 340 ± 30; 212 now; 9 more min" */
void emergence_write(char *out, size_t size, const struct emergence *emergence);
/* "212 of 230 frames in the stack (18 left out: 12 for cloud, 6 for focus), 7 min 4 s" */
void emergence_write_frames(char *out, size_t size, const struct emergence *emergence);
/* "less than promised: the sky is 1.8 times as bright as in the frame that promised"; "" where the
 * promise is kept, or nothing was promised. */
void emergence_write_broken(char *out, size_t size, const struct emergence *emergence);

/* What is said wherever the stack is shown: that it is a glimpse. */
extern const char emergence_caution[];

/* The object "stack", and a line of watch that holds one. */
extern const struct schema emergence_schema, emergence_line_schema;
void emergence_put(struct json *json, const char *key, const struct emergence *emergence,
                   bool with_steps);

#endif
