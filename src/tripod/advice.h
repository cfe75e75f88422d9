/* tripod/advice.h: all that one solved frame tells the photographer to do. */
#ifndef ALIDADE_TRIPOD_ADVICE_H
#define ALIDADE_TRIPOD_ADVICE_H

#include "tripod/aim.h"
#include "tripod/cue.h"
#include "tripod/drift.h"
#include "tripod/head.h"
#include "tripod/lead.h"
#include "tripod/smear.h"
#include "tripod/sun_guard.h"

#include <stdbool.h>
#include <stddef.h>

/* How long the next frames are, and how many are wanted. */
struct advice_wish {
    double margin;    /* part of the picture's shorter side to be kept free, as for aim_measure */
    double cadence_s; /* from frame to frame; 0: unknown */
    int batch;        /* frames that are to be centred on average; 0: centre it now */
    double settle_s;  /* from this frame to the first one after the move */
    double smear_px;  /* the smear that is borne */
};

struct advice {
    struct aim aim; /* with a place its turns are those of what is seen, refraction included */
    /* Where camera and target stand; only with a place. */
    bool has_horizon;
    double azimuth_deg, altitude_deg, roll_deg; /* of the camera; roll: clockwise from behind */
    double target_azimuth_deg, target_altitude_deg;
    struct head_move move;   /* of the head, if there is a horizon; else the same as camera */
    struct head_move camera; /* about the camera's own axes: what a ball head does */
    double minute_deg;       /* how far off the move lands if the clock is a minute off */
    bool has_sun;
    struct sun_guard sun;

    bool has_drift;
    struct drift now, after; /* if nothing is touched; after the move. change_s counts from now */
    bool has_lead;           /* of the batch wished for */
    struct lead lead;
    struct batch batch; /* its moments */
    int longest;        /* frames of the longest batch that stays in the safe part, led likewise; 0:
                           unknown */
    struct lead longest_lead;
    struct batch longest_batch; /* its moments */
    double smear_s[SMEAR_FITS]; /* until the smear is over the limit, at most smear_most_s */
    double smear_most_s;
};

/* Where the target is after so many frames if nobody touches the tripod, px. */
struct advice_step {
    int frames;
    double x, y;
};

enum { ADVICE_STEPS = 7 };

/* After 0, 10, 25, 50, 100, 200 and 300 frames; those at which it has a pixel, in the picture or
 * not. Returns how many. */
int advice_path(struct advice_step step[ADVICE_STEPS], const struct stand *stand,
                const struct aim_target *target, double cadence_s);

/* How far drift is looked ahead, s. */
#define ADVICE_FARTHEST 14400.0

/* head may be NULL: levelled. */
void advice_find(struct advice *advice, const struct stand *stand, const struct head *head,
                 const struct aim_target *target, const struct advice_wish *wish);

/* The same, but for aim, the angles of camera and target, and the longest batch, which take most of
 * the time: what changes if the stand is a little off. */
void advice_find_acts(struct advice *advice, const struct stand *stand, const struct head *head,
                      const struct aim_target *target, const struct advice_wish *wish);

/* The move that heads the advice: the lead's if a batch is wished for. */
const struct head_move *advice_move(const struct advice *advice);

/* From this altitude on a pan is so much larger than what it moves that it is worth a word. */
#define ADVICE_HIGH_DEG 75.0

/* Degrees of pan for a degree across the picture at that altitude; above 89 as there. */
double advice_pan_growth(double altitude_deg);

/* "pan 2.4° left, tilt 0.9° up"; "turn 2.4° left, then 0.9° up" without a horizon; "leave the
 * camera as it is". UTF-8, cut to size. */
void advice_write_move(char *out, size_t size, const struct advice *advice,
                       const struct head_move *move);
/* Whether a move is too small to be made. */
bool advice_is_still(const struct advice *advice, const struct head_move *move);
/* "south-south-west" */
const char *advice_direction_word(double azimuth_deg);
/* "put Rigel (85 % across, 12 % down) where τ Ori is now (31 % across, 70 % down)" */
void advice_write_cue(char *out, size_t size, const struct cue *cue, const struct wcs *wcs);

#endif
