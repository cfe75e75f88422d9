/* plan/plan.h: what to shoot in a night with a lens: how long, how often, how framed. */
#ifndef ALIDADE_PLAN_PLAN_H
#define ALIDADE_PLAN_PLAN_H

#include "base/error.h"
#include "objects/objects.h"
#include "plan/group.h"
#include "plan/night.h"
#include "plan/signal.h"
#include "tripod/smear.h"

#include <stdbool.h>
#include <stddef.h>

enum { PLAN_MEMBERS = 8, PLAN_REASON_SIZE = 160 };

/* A camera with its lens. */
struct plan_camera {
    double focal_mm, f_number;
    double pixel_um, width_mm, height_mm; /* width >= height */
    double read_noise, efficiency;        /* see plan/signal.h */
    double distortion; /* of the lens, share of the distance at the corner; 0: none or unknown */
};

double plan_scale_arcsec(const struct plan_camera *camera);
void plan_field(double *width_deg, double *height_deg, const struct plan_camera *camera);

struct plan_settings {
    struct plan_camera camera;
    double least_altitude_deg;
    double exposure_s; /* 0: by trail_px, or by the 500 rule if that is 0 too */
    double trail_px;
    double gap_s;         /* between exposures */
    double total_s;       /* of exposure that is wanted */
    double sky_mag;       /* magnitudes a square arcsecond, without the Moon */
    double snr;           /* signal to noise a pixel that is wanted of the mean */
    double smear_px;      /* of stars at the edge that is borne within a batch (0: any) ... */
    enum smear_fit align; /* ... when frames are aligned by this */
};

/* Seconds by the rule of 500 over the focal length in mm (common practice, no source), and seconds
 * until stars at that declination trail by so many pixels on a fixed tripod (the sidereal rate
 * times the cosine; at the poles no limit but an hour). */
double plan_rule_of_500(double focal_mm);
double plan_trail_seconds(double trail_px, double scale_arcsec, double dec_deg);
/* Inverse of plan_trail_seconds. */
double plan_trail_px(double seconds, double scale_arcsec, double dec_deg);

/* What ends a batch: the drift has taken its share of the picture, stars smear, or an hour. */
enum plan_limit { PLAN_BY_ROOM, PLAN_BY_SMEAR, PLAN_BY_HOUR };

struct plan_shots {
    double exposure_s, trail_px;  /* what is advised */
    double rule_s, rule_trail_px; /* by the 500 rule */
    double fine_s;                /* that trails PLAN_FINE_TRAIL_PX */
    long frames;                  /* for the wanted total */
    double batch_s;               /* between two re-centrings, exposures and gaps */
    long batch_frames;
    enum plan_limit limit;
    bool has_smear; /* of a batch, or of all frames if these are less; only by plan_target */
    double smear_px[SMEAR_FITS];
    long recentrings; /* after the first aim */
    double clock_s;   /* for all frames with their gaps */
};

#define PLAN_FINE_TRAIL_PX 3.0

struct plan_member {
    const struct object *object;
    struct sky_ellipse shape;
};

/* One way to use the night: an object, and what else comes into the same frame. */
struct plan_item {
    struct plan_member member[PLAN_MEMBERS]; /* the first is what it is about */
    int members;
    struct night_window window; /* of the first */
    struct utc begin;           /* so that all frames lie best in the window */
    struct group_fit fit;       /* of all, with the camera held as it is level when they begin */
    double size_share;          /* of the first: its length over the frame's shorter side */
    double area_share;          /* of the first: its area over the frame's */

    /* While the frames are taken. */
    double highest_deg;
    struct utc highest;
    double turn_deg; /* by which the zenith turns about it, from north to east positive */

    double moon_altitude_deg, moon_separation_deg; /* at the best time */
    double sky_mag;                                /* there and then, with the Moon */

    struct plan_shots shots;
    bool has_signal;               /* the rest is known: the first is a patch of light */
    struct signal_outlook outlook; /* for settings->snr */
    double snr;                    /* a pixel of the wanted total */

    double score;                  /* the unit has no meaning */
    char reason[PLAN_REASON_SIZE]; /* "bright, high, fills 44 % of the height" */
};

/* Everything about one target, at its best time; also if it never rises or does not fit.
 * ERROR_USAGE for a night that ERFA refuses. object may be a star. objects: where to look for what
 * else comes into the frame. */
int plan_target(struct plan_item *item, const struct object *object, const struct objects *objects,
                const struct night *night, const struct plan_settings *settings, struct error *err);

/* Starts as all zeros; free with plan_free. */
struct plan {
    struct plan_item *item; /* best first */
    int count;
};

/* At most so many frames to take in that night; nothing comes twice. ERROR_MEMORY, ERROR_USAGE. */
int plan_make(struct plan *plan, const struct objects *objects, const struct night *night,
              const struct plan_settings *settings, int most, struct error *err);
void plan_free(struct plan *plan);

#endif
