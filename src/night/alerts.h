/* night/alerts.h: when to speak up during a session, and when not.
 *
 * Fed with one frame after the other, it tells what has begun or ended with each. Nothing is told
 * of a single bad frame. What nobody acts on is told again after 25 frames (read errors after 5),
 * then after three times as many each, with what it has cost by then; a silence after three times
 * as long; a disk when half of the room is gone. It depends on the frames alone: the same ones from
 * a log bring it to the same state. */
#ifndef ALIDADE_NIGHT_ALERTS_H
#define ALIDADE_NIGHT_ALERTS_H

#include "night/night_frame.h"
#include "tripod/batch_length.h"
#include "tripod/clock_doubt.h"
#include "tripod/drift.h"
#include "tripod/hiding.h"

#include <stdbool.h>

enum alert_kind {
    ALERT_NEAR_EDGE = 0, /* re-centre soon */
    ALERT_RECENTRE,      /* now */
    ALERT_CENTRED,       /* the camera was moved, and the target is where it should be */
    ALERT_STILL_OFF,     /* it was moved, and it is not */
    ALERT_KNOCKED,       /* it moved though nothing was due */
    ALERT_SKYLINE,       /* the target goes behind a roof, or is there */
    ALERT_CLOUD,
    ALERT_DEW,
    ALERT_FOCUS,
    ALERT_TRAILS,
    ALERT_SKY,      /* has become brighter */
    ALERT_NO_SKY,   /* dark frames, cap on, lamps on */
    ALERT_UNSOLVED, /* stars show, but nothing fits */
    ALERT_EXPOSURE, /* or ISO or aperture: changed */
    ALERT_FOCAL,
    ALERT_CLOCK,
    ALERT_SILENCE, /* no frame comes */
    ALERT_DISK,    /* nearly full */
    ALERT_CARD,    /* or the disk or network: reads fail */
    ALERT_SLOW,    /* likewise: frames come late */
    ALERT_CLEAR,   /* the cloud is gone; so for those that follow */
    ALERT_SHARP,
    ALERT_STEADY,
    ALERT_LIGHT,
    ALERT_PROMPT,
    ALERT_KINDS
};

enum { ALERT_TEXT_SIZE = 300, ALERTS_MOST = 8 };

struct alert {
    enum alert_kind kind;
    int again;                  /* how often it was told before, without being followed */
    char text[ALERT_TEXT_SIZE]; /* a sentence without a full stop; UTF-8 */
};

/* "RE-CENTRE NOW" */
const char *alert_title(enum alert_kind kind);
/* For machines: "recentre". */
const char *alert_key(enum alert_kind kind);
/* Whether somebody has to do something; the rest is good news or to be known. */
bool alert_is_loud(enum alert_kind kind);
/* Whether it is about where the camera points, so that a move is part of the message. */
bool alert_wants_move(enum alert_kind kind);

/* What a frame says beside the one before it. All zeros: nothing. */
struct night_step {
    bool late;           /* taken before one that was already fed: nothing new is told by it */
    double time_s;       /* of the frame, on any clock that runs on; NAN: unknown */
    bool is_utc;         /* which is that of the place */
    double cadence_s;    /* from frame to frame; 0: unknown */
    double late_s;       /* frames come so much later after their exposure than they did at best */
    double reading_s;    /* that reading this one took */
    double clock_jump_s; /* the camera's clock was set ahead by this */
    struct clock_doubt clock_doubt;
    bool compared; /* with an earlier solved frame: the next two are known */
    bool touched;  /* the camera moved otherwise than the sky */
    double moved_deg;
    bool on_target; /* there is a target, and drift is known */
    struct drift drift;
    struct hiding hiding; /* of the target by the skyline */
    int longest;    /* frames for which a better aim would keep the target in the safe part; 0:
                       unknown; needed for frames after one that was touched */
    double left;    /* frames before the camera is to be turned, as alerts_frames_left; set by
                       whoever feeds the alerts, and not read by them; infinite: not for hours */
    bool has_batch; /* how many frames a batch is to have is known: */
    struct batch_length batch;
};

struct alert_wish {
    int warn_frames; /* so many frames before the target reaches the safe edge */
    int batch;       /* frames that a batch is to have; 0: as the steps say */
    bool centre;     /* a batch ends where the target leaves, however long that takes */
};

/* Something that must last before it is told, and must be over for longer before it is taken back.
 */
struct alert_rule {
    int bad, good; /* frames in a row */
    bool raised;
    int frames, again; /* since it was raised; how often it was told again */
};

enum { ALERT_RECENT = 5 };

/* A number of the latest frames, and what it was at its best. */
struct alert_level {
    double recent[ALERT_RECENT];
    int count; /* of frames, ever */
    double best;
};

/* Exposure and the like. */
struct alert_settings {
    double exposure_s, iso, f_number, focal_mm;
};

/* What has been told of where the target is. */
enum alert_aim { PLACE_FINE = 0, PLACE_ENDING, PLACE_WRONG };

/* What has been told of the skyline before the target. */
enum alert_view { VIEW_CLEAR = 0, VIEW_ENDING, VIEW_HIDDEN };

/* Starts as all zeros with wish set. Holds no memory of its own. */
struct alerts {
    struct alert_wish wish;
    int frames; /* fed, those that show no sky apart */

    enum alert_aim aim;
    bool placed;           /* it has been judged since the camera moved */
    double moved_deg;      /* by the latest move; 0: none yet */
    double left;           /* frames that it would have stayed in the safe part, before the move */
    double begun_s;        /* time of the batch's first frame; NAN: unknown */
    double touched_s;      /* of the latest frame before which the camera moved; NAN: none */
    struct alert_rule due; /* a re-centring that is not made */
    int lost;              /* frames since without the whole target */
    enum alert_view view;
    struct alert_rule behind; /* frames are taken though the target is hidden */

    struct alert_rule cloud, dew, focus, trails, motion, no_sky, unsolved, exposure, focal, card,
        slow;
    struct alert_level zero, stars, fwhm, sky;
    double last_s; /* time of the frame before; NAN */
    bool has_settings;
    struct alert_settings settings;
    double scale_arcsec; /* 0: not known yet */

    struct alert_rule silence, disk; /* without frames; disk: raised when it is full */
    bool clock_told;
};

/* What begins or ends with this frame; returns how many. */
int alerts_feed(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct night_frame *frame, const struct night_step *step);

/* There is another target from now on: where the one before was says nothing of it. */
void alerts_forget_aim(struct alerts *alerts);

/* Frames for which the target is to be seen above the skyline: 0 if it is not, infinite if nobody
 * knows. */
double alerts_frames_visible(const struct night_step *step);

/* Whether what was told still holds; true for what nothing shows the end of: a knock, settings or a
 * clock that changed, a bright sky. Good news holds until it is taken for granted: true, too. */
bool alerts_hold(const struct alerts *alerts, enum alert_kind kind);

/* What has been told of and spoils the latest frame too, though by itself it may look good:
 * "cloud", "dew", "focus"; NULL for nothing. */
const char *alerts_lasting(const struct alerts *alerts);

/* What the watcher itself sees: waited_s since the last frame came, quiet_s after which that is
 * told; room for so many more frames on the disk (negative: unknown). */
struct alert_watch {
    double waited_s, quiet_s;
    double free_frames;
    double cadence_s; /* from frame to frame; 0: unknown */
};

/* Frames of the batch that are still to come after this one, before the camera has to be turned;
 * infinite if that is not known. */
double alerts_frames_left(const struct alerts *alerts, const struct night_step *step);

int alerts_tick(struct alert out[ALERTS_MOST], struct alerts *alerts,
                const struct alert_watch *watch);

#endif
