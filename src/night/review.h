/* night/review.h: what a night was worth: verdicts, batches, what happened, the common area, what
 * to do better. */
#ifndef ALIDADE_NIGHT_REVIEW_H
#define ALIDADE_NIGHT_REVIEW_H

#include "base/error.h"
#include "night/judge.h"
#include "night/night_list.h"
#include "plan/night_plan.h"
#include "sky/time.h"
#include "tripod/aim.h"
#include "tripod/clock_doubt.h"

#include <stdbool.h>

/* One frame in the order of time. */
struct review_frame {
    const struct night_frame *frame; /* borrowed from the list */
    struct judgement judgement;
    double time_s; /* since the night's first frame; NaN: unknown */
    int batch;     /* from 0; -1: not solved before the first batch */
    double x, y;   /* px of the target, or of what stands for it; NaN if it does not show */
    int crossings; /* satellites and aeroplanes; it may be kept all the same */
};

enum review_event_kind {
    REVIEW_RECENTRED = 0, /* the camera was turned, to the target's good */
    REVIEW_KNOCKED,       /* it moved, and not to its good */
    REVIEW_GAP,           /* no frame for a while, the tripod untouched */
    REVIEW_CLOUD,
    REVIEW_FOCUS,
    REVIEW_TRAILS,
    REVIEW_SKY,
    REVIEW_EVENTS
};

struct review_event {
    enum review_event_kind kind;
    int first, last; /* indices of frames; the same for moves and gaps: the first one after */
    double amount;   /* degrees moved; seconds missed; share of the usual at its worst */
};

/* "re-centred by 1.2°", "cloud: down to 20 % of the usual stars". */
void review_write_event(char *out, size_t size, const struct review_event *event);

enum { REVIEW_CELLS = 3, REVIEW_MOST_EVENTS = 200, REVIEW_MOST_NEEDS = 8 };

/* Dark frames that match one sort of lights. */
struct review_need {
    double exposure_s, iso;
    int lights, darks;
};

/* Common practice, no source: so many are enough. */
enum { REVIEW_BIAS = 100, REVIEW_DARKS = 50, REVIEW_FLATS = 100 };

enum { REVIEW_MAP_WIDTH = 96, REVIEW_MAP_HEIGHT = 64 };

/* Which of the kept frames show a place. The map is in px of the reference frame and larger than
 * it. */
struct review_cover {
    double left, top, step_px;
    float share[REVIEW_MAP_HEIGHT][REVIEW_MAP_WIDTH]; /* of the kept frames, 0..1 */
    double common_share; /* area that all kept frames show, of the frame's */
    /* The target's rim (ellipse_rim; of a point itself), px of the reference; NaN where that has
     * none. None without a target, or of one that moves among the stars. */
    int rims;
    double rim[ELLIPSE_RIM_MOST][2];
    /* Of the upright rectangles in what all show, the largest of those that hold most of the rim;
     * px of the reference, from the corner of its first pixel; width 0: none. */
    double crop_left, crop_top, crop_width, crop_height;
    int crop_holds; /* points of the rim */
};

/* Starts as all zeros; free with review_free. */
struct review {
    struct review_frame *frame; /* in the order of time, those without time after them by name */
    int frames;
    enum night_clock clock;
    struct utc start; /* of the night's first frame, on that clock */
    double length_s;  /* from the first start to the last end */
    bool has_target;
    struct aim_target target;      /* as asked for, else the middle of the frames */
    const struct night_plan *plan; /* of the night, for the advice; borrowed, set after review_make;
                                      NULL: none */
    struct clock_doubt clock_doubt; /* likewise set after review_make */
    struct judge_usual_frame usual;
    struct judge_rules rules;

    int count[JUDGE_VERDICTS];
    int by_cause[JUDGE_CAUSES]; /* of doubtful and dropped frames */
    int kind[KIND_SCENE + 1];   /* of those that are apart */
    double light_s, kept_s;     /* exposure of all lights, of the kept ones */
    double target_s[REVIEW_CELLS][REVIEW_CELLS],
        outside_s;     /* of kept ones, by place of the target */
    double cadence_s;  /* usual, from start to start; NaN */
    double drift_px_s; /* usual speed of the sky in the frame; NaN */
    int batches;

    struct review_event event[REVIEW_MOST_EVENTS];
    int events;
    struct review_need need[REVIEW_MOST_NEEDS];
    int needs;
    const struct night_copies *copies; /* borrowed from the list */
    int unread_device;                 /* frames that the disk, card or network failed to read */
    int crossed;                       /* frames that satellites or aeroplanes went through */
    int reference;                     /* index of the best frame; -1: none is kept */
    struct review_cover cover;
};

/* Judges the list, whose frames are changed: they get their target. list must outlive the review;
 * target may be NULL. ERROR_MEMORY. */
int review_make(struct review *review, struct night_list *list, const struct aim_target *target,
                const struct judge_rules *rules, struct error *err);
void review_free(struct review *review);

/* Clock time of a moment of the night: "21:04:05". */
void review_write_time(char *out, size_t size, const struct review *review, double time_s);

enum { REVIEW_MOST_ADVICE = 8, REVIEW_TEXT_SIZE = 300 };

/* What to do better next time, the most useful first; sentences without a full stop. Returns how
 * many there are. */
int review_advise(char advice[REVIEW_MOST_ADVICE][REVIEW_TEXT_SIZE], const struct review *review);

/* "Keep 251 of 300 frames: 8 min 22 s on M 42". */
void review_write_answer(char *out, size_t size, const struct review *review);

/* "M 42 (Orion Nebula) is partly in it": what the crop holds of the target, UTF-8, cut to size.
 * False without a crop or a target's rim. */
bool review_write_crop(char *out, size_t size, const struct review *review);

/* What was found more than once, as night_copies_write. */
void review_write_copies(char *out, size_t size, const struct review *review);

/* Which frames were crossed: "1 frame, by satellites or aeroplanes: night-070.jpg"; "" for none. */
void review_write_crossed(char *out, size_t size, const struct review *review);

/* "1 h 5 min", "8 min 22 s", "12 s". */
void review_write_duration(char *out, size_t size, double seconds);

#endif
