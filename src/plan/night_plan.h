/* plan/night_plan.h: what was decided for a night, and the small file that carries it from the plan
 * to the tripod: whoever advises later says the same numbers. */
#ifndef ALIDADE_PLAN_NIGHT_PLAN_H
#define ALIDADE_PLAN_NIGHT_PLAN_H

#include "base/error.h"
#include "objects/ellipse.h"
#include "plan/plan.h"
#include "plan/plan_words.h"

#include <stdbool.h>

/* What the file is called where no name is given; it lies in the folder of the frames. */
#define NIGHT_PLAN_NAME "night-plan.json"

enum { NIGHT_PLAN_TEXT = 160 };

struct night_plan {
    char target[NIGHT_PLAN_TEXT]; /* what it is about: a designation, or a position */
    char with[NIGHT_PLAN_TEXT];   /* what else the frame was composed of; "" for none */
    /* The middle of the frame, and what has to stay in it; ICRS. */
    struct sky_ellipse middle;
    double up_deg; /* position angle of picture-up when it begins */

    char camera[NIGHT_PLAN_TEXT];
    double focal_mm, f_number, scale_arcsec;
    double field_width_deg, field_height_deg; /* 0: an older file, which does not say */

    double exposure_s, pause_s;
    double trail_px;  /* of stars at the target in one frame */
    char rule[40];    /* that chose the exposure: "500 rule", "as given" */
    int frames;       /* wanted */
    double snr_once;  /* signal to noise a pixel of the target in one of them; 0: not known */
    int batch_frames; /* before the camera is turned again */
    int limit;        /* enum batch_limit: why no more */
    int group_frames; /* to be stacked by themselves; 0: a batch at once */
    double batch_s;
    double widening; /* 0: not known, since the lens was not */
    struct batch_accept accept;
    /* Where the middle of the target stands when a batch begins, from the middle of the picture, as
     * parts of its width and height: so that the batch is centred on average. */
    double lead_right, lead_up;
    struct time_stamp begin, end;
    /* When the target is up in the dark, in own hours if there were any: as words, with the zone of
     * the clock, "" if it is not or not known; and as times. */
    char hours[80];
    struct time_stamp from, until;
};

/* Of the sheet's item, whose middle is led on a level head. */
void night_plan_make(struct night_plan *night, const struct plan_sheet *sheet);

/* Adds the hours, which the plan says in these words. */
void night_plan_note_hours(struct night_plan *night, const struct plan_sheet *sheet);

/* "this is before them", "this is after them"; "" within them, or if they are not known. */
const char *night_plan_place_in_hours(const struct night_plan *night, struct utc utc);

/* Seconds from frame to frame. */
double night_plan_every_s(const struct night_plan *night);

/* Frames of a batch with frames every cadence_s: as planned where that is about as planned (within
 * 15 %), else as many as fit in its time. At least 1. */
int night_plan_batch(const struct night_plan *night, double cadence_s);

/* Writes the file; ERROR_OUTPUT, ERROR_MEMORY. Inverse: night_plan_read, to the decimals of the
 * file. */
int night_plan_write(const char *name, const struct night_plan *night, struct error *err);

/* ERROR_INPUT naming the file and what is missing in it or out of range. */
int night_plan_read(struct night_plan *night, const char *name, struct error *err);

#endif
