/* night/judge.h: which frames of a night to keep, and why not the others.
 *
 * A frame is held against the median of the night's own solved frames: what is usual for a camera,
 * a lens and a sky is known from nowhere else. */
#ifndef ALIDADE_NIGHT_JUDGE_H
#define ALIDADE_NIGHT_JUDGE_H

#include "base/error.h"
#include "night/night_frame.h"

#include <stdbool.h>
#include <stddef.h>

enum judge_verdict {
    JUDGE_KEEP = 0,
    JUDGE_DOUBTFUL,
    JUDGE_DROP,
    JUDGE_APART, /* a calibration frame, or no picture of the sky */
    JUDGE_VERDICTS
};

/* "keep", "doubtful", "drop", "apart" */
const char *judge_word(enum judge_verdict verdict);

/* What a verdict rests on, the gravest first. */
enum judge_cause {
    JUDGE_NOTHING = 0,
    JUDGE_UNREAD,
    JUDGE_KIND, /* it is apart */
    JUDGE_UNSOLVED,
    JUDGE_BLUR,   /* the camera moved during the exposure */
    JUDGE_STARS,  /* too few: cloud, haze, dew */
    JUDGE_WIDTH,  /* wide stars: focus, dew */
    JUDGE_LENGTH, /* trails */
    JUDGE_SKY,    /* bright */
    JUDGE_PLACE,  /* the target is not in the frame */
    JUDGE_PARTS,  /* some of the picture is hidden or dim */
    JUDGE_CAUSES
};

/* "stars", for machines. */
const char *judge_cause_key(enum judge_cause cause);

/* A frame is doubtful, or dropped, from this share of the median on; 0: the usual share. */
struct judge_limit {
    double doubtful, drop;
};

struct judge_rules {
    struct judge_limit stars;  /* below: the number of stars found */
    struct judge_limit width;  /* above: their width across the trail */
    struct judge_limit length; /* above: length of the trail and width together */
    struct judge_limit sky;    /* above: its brightness, by the second if exposures are known */
    struct judge_limit target; /* below: share of the target that is in the frame, 0..1 */
};

/* The table of README.md, "Which frames are kept". */
struct judge_rules judge_usual(void);

/* The night's medians over solved light frames; NaN: unknown. */
struct judge_usual_frame {
    int frames;
    double stars, width_px, length_px, sky;
};

/* frame: count of them. ERROR_MEMORY. */
int judge_find_usual(struct judge_usual_frame *usual, const struct night_frame *frame, int count,
                     struct error *err);

struct judgement {
    enum judge_verdict verdict;
    enum judge_cause cause;
    char reason[240]; /* a sentence without a full stop; "" for frames that are kept */
};

/* The target counts if frame->target is filled. */
void judge_frame(struct judgement *judgement, const struct night_frame *frame,
                 const struct judge_usual_frame *usual, const struct judge_rules *rules);

/* Brightness of the sky as judged: level, of one second where the black level and the exposure are
 * known; NaN if it is not. */
double judge_sky(const struct night_frame *frame);
/* Length of a star with its trail, px. */
double judge_length(const struct night_frame *frame);

#endif
