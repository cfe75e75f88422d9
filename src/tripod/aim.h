/* tripod/aim.h: is the target in the frame, and which way to turn the camera. */
#ifndef ALIDADE_TRIPOD_AIM_H
#define ALIDADE_TRIPOD_AIM_H

#include "match/trust.h"
#include "objects/ellipse.h"
#include "objects/objects.h"
#include "objects/wanderer.h"
#include "sky/wcs.h"

#include <stdbool.h>
#include <stddef.h>

enum { AIM_MOST_NOTES = 4, AIM_NOTE_SIZE = 200 };

/* What is wanted in the middle. */
struct aim_target {
    char name[80]; /* as sentences call it; UTF-8 */
    struct sky_ellipse shape;
    const struct object *object; /* borrowed; NULL: a point */
    enum wanderer moves;         /* shape is to be found for each frame: see aim_target_follow */
};

void aim_target_object(struct aim_target *target, const struct object *object);
/* A point, called by its position. ICRS degrees. */
void aim_target_radec(struct aim_target *target, double ra_deg, double dec_deg);
/* The Moon or a planet, without a shape as yet. */
void aim_target_wanderer(struct aim_target *target, enum wanderer which);
/* Puts what moves where it stands at that time, seen from a place, NULL for the Earth's centre;
 * nothing is to be done for what does not. False if ERFA refuses the time. */
bool aim_target_follow(struct aim_target *target, const struct place *place, struct utc utc);

enum aim_verdict { AIM_OUTSIDE, AIM_PARTLY, AIM_WHOLE };
/* "no", "partly", "wholly": for machines. */
const char *aim_verdict_key(enum aim_verdict verdict);

enum aim_room { AIM_TOO_LARGE, AIM_MAY_FIT, AIM_FITS };

/* Right and up are those of the picture as displayed, also when it is mirrored. */
struct aim {
    enum aim_verdict verdict;
    double share;     /* of the target's area that lies in the frame, 0..1 */
    bool unproven;    /* it would be in the frame, but nothing proves that the sky is seen there */
    bool margin_kept; /* wholly in the frame even without the margin along its edges */
    bool round_guess; /* taken as round, since the table has two axes but not how they lie */
    enum aim_room
        room; /* whether it would fit if it were centred; MAY: it depends on how it lies */

    bool has_pixel; /* x, y, right_part and up_part are known: not so if 90 degrees away */
    double x, y;    /* px, where its centre is, inside or outside the picture */
    double right_part, up_part; /* from the middle, as parts of the picture's width and height */

    /* What brings its centre to the picture's middle: turn the camera about its own vertical axis,
     * then about its own horizontal axis. Degrees, to the right -180..180, up -90..90. Not
     * the azimuth and altitude of a tripod's head, unless the camera is level. */
    double right_deg, up_deg;
    double right_fields, up_fields; /* the same over the width and height of the field */
    double separation_deg;          /* from the picture's middle, 0..180 */
    double position_angle_deg;      /* there, degrees east of north, 0..360 */

    double margin; /* as asked for */
    bool mirrored;
    double field_width_deg, field_height_deg;
};

/* margin: part of the picture's shorter side to be kept free along each edge, 0 <= margin < 0.5. */
void aim_measure(struct aim *aim, const struct aim_target *target, const struct wcs *wcs,
                 double margin);

/* Takes back what was measured of a target that lies where the solution of its picture is not
 * proven: of one whose middle is there, or all of it, that it is in the frame, of another the
 * share. */
void aim_prove(struct aim *aim, const struct aim_target *target, const struct wcs *wcs,
               const struct trust *trust);

/* Sentences without a full stop, UTF-8, cut to size.
 * "M 31 is wholly in the frame, to the right of the middle" */
void aim_write_verdict(char *out, size_t size, const struct aim *aim,
                       const struct aim_target *target);
/* What centres it: "1.2° right and 24' up (0.14 of the width, 0.07 of the height)", "centred".
 * Right is the camera's: of a mirrored picture, what is on its left. */
void aim_write_move(char *out, size_t size, const struct aim *aim);
/* What else to know: that the picture is mirrored, that the target cannot fit, that it is only
 * taken as round, that the margin is not kept. Returns how many notes there are. */
int aim_write_notes(char note[AIM_MOST_NOTES][AIM_NOTE_SIZE], const struct aim *aim,
                    const struct aim_target *target);

#endif
