/* plan/plan.h: what to shoot in a night with a lens: how long, how often, how framed. */
#ifndef ALIDADE_PLAN_PLAN_H
#define ALIDADE_PLAN_PLAN_H

#include "base/error.h"
#include "objects/milky_way.h"
#include "objects/objects.h"
#include "plan/darkness.h"
#include "plan/group.h"
#include "plan/signal.h"
#include "plan/zoom.h"
#include "rig/lens_aperture.h"
#include "rig/rig.h"
#include "rig/trail_choice.h"
#include "sky/lens_profile.h"
#include "tripod/batch_length.h"

#include <stdbool.h>
#include <stddef.h>

enum { PLAN_MEMBERS = 8, PLAN_REASON_SIZE = 160 };

/* A camera with its lens. */
struct plan_camera {
    double focal_mm, f_number;
    double pixel_um, width_mm, height_mm; /* width >= height */
    double read_noise, efficiency;        /* see plan/signal.h */
    /* Of the lens, share of the distance where the corner belongs, barrel < 0; 0: none or unknown.
     */
    double distortion;
    struct lens_profile lens; /* which goes before it; radius 0: not known */
};

/* Share by which the corner is drawn too far out, barrel < 0: as the profile says, or distortion.
 */
double plan_corner_distortion(const struct plan_camera *camera);

double plan_scale_arcsec(const struct plan_camera *camera);
void plan_field(double *width_deg, double *height_deg, const struct plan_camera *camera);

/* A lens of which frames have taught how it bends, at some focal lengths; all NULL: none. Borrowed.
 */
struct plan_lesson {
    const struct rig_file *file;
    const struct rig_lens *lens;
};

struct plan_settings {
    struct plan_camera camera; /* of a zoom, at its longest */
    struct lens_range zoom; /* of which the focal length is chosen for each target; all zeros: it is
                               that of the camera */
    struct plan_lesson learned; /* of the zoom, for each focal length: see rig_lens_profile */
    double least_altitude_deg;
    double exposure_s; /* 0: by trail */
    struct trail_choice trail;
    struct shutter shutter;     /* what the camera has */
    double pause_s;             /* between exposures */
    double total_s;             /* of exposure that is wanted */
    double sky_mag;             /* magnitudes a square arcsecond, without the Moon */
    double snr;                 /* signal to noise a pixel that is wanted of the mean */
    struct batch_accept accept; /* of smear at the edge */

    /* What else is to be in the frame. Without: the target is in the middle, and what happens to be
     * in the frame beside it is named. */
    bool compose; /* whatever is worth it, and the camera is held so that it fits */
    const struct object *const *with; /* these; borrowed, with_count of them */
    int with_count;
};

/* False if stars at the edge of a stack widen by nothing but what the lens distorts, and that is
 * not known. */
bool plan_knows_smear(const struct plan_settings *settings);

/* An exposure that the camera has, and how long stars trail in it at the target. */
struct plan_exposure {
    double exposure_s, trail_px;
};

/* Ways to choose an exposure, side by side. */
enum plan_rule { PLAN_RULE_500, PLAN_RULE_300, PLAN_RULE_FINE, PLAN_RULES };

struct plan_shots {
    double exposure_s, trail_px; /* what is advised */
    struct plan_exposure rule[PLAN_RULES];
    long frames;               /* for the wanted total */
    struct batch_length batch; /* between two re-centrings, exposures and gaps */
    long recentrings;          /* after the first aim */
    double clock_s;            /* for all frames with their gaps */
};

struct plan_member {
    const struct object *object;
    struct sky_ellipse shape;
};

/* One way to use the night: an object, and what else comes into the same frame. */
struct plan_item {
    struct plan_camera camera;               /* at the focal length that was chosen, */
    enum zoom_reason zoom;                   /* and why */
    struct plan_member member[PLAN_MEMBERS]; /* the first is what it is about */
    int members;
    bool composed;             /* the middle of the frame is that of all members */
    struct dark_window window; /* of the first */
    struct utc begin;          /* so that all frames lie best in the window */
    struct group_fit fit;      /* of the first, or of all if composed, with the camera held as it is
                                  level when they begin */
    double size_share;         /* of the first: its length over the frame's shorter side */
    double area_share;         /* of the first: its area over the frame's */

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
                const struct darkness *night, const struct plan_settings *settings,
                struct error *err);

/* The Milky Way over a night, for fields wider than 40 degrees. */
struct plan_arch {
    bool any;                          /* such a field, and it gets dark */
    struct dark_window centre;         /* when its centre is 10 degrees high or more */
    double apex_deg, apex_azimuth_deg; /* the highest point of its plane when the centre is best */
    bool moon_up;                      /* then */
};

/* Starts as all zeros; free with plan_free. Points into itself: must not be moved. */
struct plan {
    struct plan_arch arch;
    struct object milky_way[MILKY_WAY_PARTS];
    struct plan_item *item; /* best first */
    int count;
};

/* At most so many frames to take in that night; nothing comes twice. ERROR_MEMORY, ERROR_USAGE. */
int plan_make(struct plan *plan, const struct objects *objects, const struct darkness *night,
              const struct plan_settings *settings, int most, struct error *err);
void plan_free(struct plan *plan);

#endif
